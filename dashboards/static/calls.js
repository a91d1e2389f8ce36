// Filters of the call list: each select narrows the rows; the choice is kept in the address.
(function () {
  "use strict";
  var form = document.getElementById("filters");
  if (!form) return;
  var selects = Array.prototype.slice.call(form.querySelectorAll("select[data-filter]"));
  var rows = Array.prototype.slice.call(document.querySelectorAll("li.call"));
  var shown = document.getElementById("shown");

  function matches(row, select) {
    var value = select.value;
    if (!value) return true;
    var name = select.dataset.filter;
    var held = row.dataset[name];
    return name === "kind" ? held.split(" ").indexOf(value) >= 0 : held === value;
  }

  function apply() {
    var count = 0;
    rows.forEach(function (row) {
      var keep = selects.every(function (select) { return matches(row, select); });
      row.hidden = !keep;
      if (keep) count += 1;
    });
    shown.textContent = "Showing " + count + " of " + rows.length + " sites";
    var chosen = selects.filter(function (select) { return select.value; });
    var hash = chosen.map(function (select) {
      return select.dataset.filter + "=" + encodeURIComponent(select.value);
    }).join("&");
    try { history.replaceState(null, "", hash ? "#" + hash : location.pathname); } catch (ignored) {
      // some browsers refuse this for files on disk; the filter works without it
    }
  }

  location.hash.slice(1).split("&").forEach(function (part) {
    var pair = part.split("=");
    selects.forEach(function (select) {
      if (select.dataset.filter === pair[0]) select.value = decodeURIComponent(pair[1] || "");
    });
  });
  selects.forEach(function (select) {
    if (select.selectedIndex < 0) select.value = "";
    select.addEventListener("change", apply);
  });
  form.addEventListener("reset", function () { setTimeout(apply, 0); });
  form.addEventListener("submit", function (event) { event.preventDefault(); });
  apply();
})();
