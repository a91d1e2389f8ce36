// Draws the figures of a site's page from the JSON it carries, and fits them to print.
(function () {
  "use strict";

  const MODE_BAR = { displaylogo: false, responsive: true, modeBarButtonsToRemove: ["select2d", "lasso2d", "toImage"] };
  const PRINT_WIDTH_PX = 660;
  const PRINT_SHARE = 0.72;

  function start() {
    const holder = document.getElementById("figures");
    if (!holder) return;
    const figures = JSON.parse(holder.textContent);
    const places = Object.keys(figures).map(function (id) {
      return { place: document.getElementById(id), figure: figures[id] };
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
    places.forEach(function (one) {
      if (isTouch) one.figure.layout.dragmode = false;
      Plotly.newPlot(one.place, one.figure.data, one.figure.layout,
        Object.assign({}, MODE_BAR, isTouch ? { displayModeBar: false } : {}));
    });
    window.addEventListener("beforeprint", function () {
      places.forEach(function (one) {
        Plotly.relayout(one.place, {
          autosize: false, width: PRINT_WIDTH_PX, height: Math.round(one.figure.layout.height * PRINT_SHARE),
        });
      });
    });
    window.addEventListener("afterprint", function () {
      places.forEach(function (one) {
        Plotly.relayout(one.place, { autosize: true, width: null, height: one.figure.layout.height });
      });
    });
  }

  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", start);
  else start();
})();
