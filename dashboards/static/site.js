// Draws the figures of a site's page from the JSON it carries, and fits them to print.
(function () {
  "use strict";

  // Named one by one: the library's own choice has a button that would send the chart away.
  const MODE_BAR = {
    displaylogo: false,
    responsive: true,
    modeBarButtons: [["zoom2d", "pan2d", "zoomIn2d", "zoomOut2d", "resetScale2d", "toImage"]],
    toImageButtonOptions: { format: "png", scale: 2 },
  };
  // A4 and Letter less the margins of the print style are 733 and 755 px wide.
  const PRINT_WIDTH_PX = 730;
  // Of its height on the screen; where more findings share the side, the first plot gets less.
  const PRINT_ONE = { share: 0.6, mostPx: 290 };
  const PRINT_FIRST = { share: 0.5, mostPx: 215 };
  const PRINT_MARGINS_PX = 70;  // legend above, times and their title below
  const LETTER_WIDTH = 0.6;  // of its height, on average
  const PRINT_FONT_PX = 9;
  const SCREEN_FONT_PX = 12;

  function start() {
    const holder = document.getElementById("figures");
    if (!holder) return;
    const figures = JSON.parse(holder.textContent);
    const places = Object.keys(figures).map(function (id) {
      const layout = figures[id].layout;  // Plotly writes into it, so its screen look is kept apart
      return { place: document.getElementById(id), figure: figures[id], height: layout.height, rows: rowsOf(layout) };
    });
    if (typeof Plotly === "undefined") {
      places.forEach(function (one) {
        one.place.textContent = "No plot: the file assets/plotly.min.js is not beside this page.";
        one.place.classList.add("plot-missing");
      });
      return;
    }
    // A finger that scrolls past a plot must move the page, not the plot.
    const isTouch = window.matchMedia("(pointer: coarse)").matches;
    const isNarrow = window.matchMedia("(max-width: 40rem)").matches;
    places.forEach(function (one) {
      if (isTouch) one.figure.layout.dragmode = false;
      if (isNarrow) breakTitles(one.figure.layout);
      Plotly.newPlot(one.place, one.figure.data, one.figure.layout,
        Object.assign({}, MODE_BAR, isTouch || isNarrow ? { displayModeBar: false } : {}));
    });
    window.addEventListener("beforeprint", function () {
      const isOnlyOne = document.querySelectorAll(".evidence .plot").length < 2;
      places.forEach(function (one) {
        Plotly.relayout(one.place, forPaper(one, isOnlyOne ? PRINT_ONE : PRINT_FIRST));
      });
    });
    window.addEventListener("afterprint", function () {
      places.forEach(function (one) {
        Plotly.relayout(one.place, forScreen(one));
      });
    });
  }

  // The zone's name gets a line of its own where it would run past the edge.
  function breakTitles(layout) {
    Object.keys(layout).forEach(function (key) {
      if (/^xaxis\d*$/.test(key)) layout[key].title.text = layout[key].title.text.replace(" (", "<br>(");
    });
  }

  // Value axes with their titles and the share of the height that each has.
  function rowsOf(layout) {
    return Object.keys(layout).filter(function (key) { return /^yaxis\d*$/.test(key); }).map(function (key) {
      const domain = layout[key].domain || [0, 1];
      return { title: key + ".title.text", text: layout[key].title.text, share: domain[1] - domain[0] };
    });
  }

  // A row too low for its title keeps the unit of it.
  function forPaper(one, size) {
    const height = Math.min(size.mostPx, Math.round(one.height * size.share));
    const change = fonts(one.figure.layout, PRINT_FONT_PX);
    one.rows.forEach(function (row) {
      const unit = /\(([^()]+)\)$/.exec(row.text);
      const isTooLow = row.text.length * PRINT_FONT_PX * LETTER_WIDTH > row.share * (height - PRINT_MARGINS_PX);
      if (unit && isTooLow) change[row.title] = unit[1];
    });
    return Object.assign(change, { autosize: false, width: PRINT_WIDTH_PX, height: height });
  }

  function forScreen(one) {
    const change = fonts(one.figure.layout, SCREEN_FONT_PX);
    one.rows.forEach(function (row) { change[row.title] = row.text; });
    return Object.assign(change, { autosize: true, width: null, height: one.height });
  }

  // Sizes of all letters on a figure, axis titles included.
  function fonts(layout, size) {
    const change = { "font.size": size };
    (layout.annotations || []).forEach(function (_, n) {
      change["annotations[" + n + "].font.size"] = size - 1;
    });
    (layout.shapes || []).forEach(function (shape, n) {
      if (shape.label) change["shapes[" + n + "].label.font.size"] = size - 1;
    });
    Object.keys(layout).forEach(function (key) {
      if (/^[xy]axis\d*$/.test(key)) change[key + ".title.font.size"] = size;
    });
    return change;
  }

  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", start);
  else start();
})();
