// Draws the figures of a site's page from the JSON it carries, and fits them to print.
(function () {
  "use strict";

  const MODE_BAR = { displaylogo: false, responsive: true, modeBarButtonsToRemove: ["select2d", "lasso2d", "toImage"] };
  const PRINT_WIDTH_PX = 700;
  const PRINT_SHARE = 0.5;
  const PRINT_FONT_PX = 9;
  const SCREEN_FONT_PX = 12;

  function start() {
    const holder = document.getElementById("figures");
    if (!holder) return;
    const figures = JSON.parse(holder.textContent);
    const places = Object.keys(figures).map(function (id) {
      return { place: document.getElementById(id), figure: figures[id], screenHeight: figures[id].layout.height };
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
      Plotly.newPlot(one.place, one.figure.data, one.figure.layout,
        Object.assign({}, MODE_BAR, isTouch || isNarrow ? { displayModeBar: false } : {}));
    });
    window.addEventListener("beforeprint", function () {
      places.forEach(function (one) {
        Plotly.relayout(one.place, Object.assign(fonts(one.figure.layout, PRINT_FONT_PX), {
          autosize: false, width: PRINT_WIDTH_PX, height: Math.round(one.screenHeight * PRINT_SHARE),
        }));
      });
    });
    window.addEventListener("afterprint", function () {
      places.forEach(function (one) {
        Plotly.relayout(one.place, Object.assign(fonts(one.figure.layout, SCREEN_FONT_PX), {
          autosize: true, width: null, height: one.screenHeight,
        }));
      });
    });
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
