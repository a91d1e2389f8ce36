// Sorts and narrows the call list; the choice is kept in the address, so that it can be bookmarked.
(function () {
  "use strict";
  const form = document.getElementById("filters");
  if (!form) return;
  const list = document.getElementById("calls");
  const cut = document.getElementById("cut");
  const shown = document.getElementById("shown");
  const sort = document.getElementById("sort");
  const find = document.getElementById("find");
  const selects = Array.from(form.querySelectorAll("select[data-filter]"));
  const inRankOrder = Array.from(list.children);
  const rows = inRankOrder.filter(function (item) { return item.classList.contains("call"); });
  const names = new Map(rows.map(function (row) {
    return [row, row.querySelector(".who").textContent.toLowerCase()];
  }));
  const byName = new Intl.Collator().compare;
  const ORDERS = {
    action: function (a, b) { return a.dataset.urgency - b.dataset.urgency; },
    region: function (a, b) { return byName(a.dataset.region, b.dataset.region); },
    oldest: function (a, b) { return a.dataset.since - b.dataset.since; },
    newest: function (a, b) { return b.dataset.since - a.dataset.since; },
  };
  let order = "";

  function matches(row, select) {
    if (!select.value) return true;
    const held = row.dataset[select.dataset.filter];
    return select.dataset.filter === "kind"
      ? held.split(" ").indexOf(select.value) >= 0
      : held === select.value;
  }

  // Array sort is stable, so equal rows keep the order of their rank.
  function reorder() {
    if (order === sort.value) return;
    order = sort.value;
    const ordered = document.createDocumentFragment();
    (order ? rows.slice().sort(ORDERS[order]) : inRankOrder).forEach(function (item) {
      ordered.appendChild(item);
    });
    list.appendChild(ordered);
  }

  function apply() {
    reorder();
    const chosen = selects.filter(function (select) { return select.value; });
    const text = find.value.trim().toLowerCase();
    let count = 0;
    rows.forEach(function (row) {
      const keep = chosen.every(function (select) { return matches(row, select); })
        && (!text || names.get(row).indexOf(text) >= 0);
      row.hidden = !keep;
      if (keep) count += 1;
    });
    if (cut) cut.hidden = Boolean(order);
    const by = order ? ", sorted by " + sort.selectedOptions[0].textContent : "";
    shown.textContent = "Showing " + count + " of " + rows.length + " sites" + by;
    keepInAddress(chosen);
  }

  function keepInAddress(chosen) {
    const kept = new URLSearchParams();
    if (order) kept.set("sort", order);
    chosen.forEach(function (select) { kept.set(select.dataset.filter, select.value); });
    const hash = kept.toString();
    try {
      history.replaceState(null, "", hash ? "#" + hash : location.pathname);
    } catch (ignored) {
      // some browsers refuse this for files on disk; the list works without it
    }
  }

  function readAddress() {
    new URLSearchParams(location.hash.slice(1)).forEach(function (value, name) {
      const select = name === "sort" ? sort
        : selects.find(function (one) { return one.dataset.filter === name; });
      const isOffered = select && Array.from(select.options).some(function (one) {
        return one.value === value;
      });
      if (isOffered) select.value = value;
    });
  }

  readAddress();
  // On a phone the list comes first; a choice kept in the address shows itself.
  if (window.matchMedia("(max-width: 40rem)").matches && !location.hash) {
    document.getElementById("narrowing").open = false;
  }
  form.addEventListener("input", apply);
  form.addEventListener("reset", function () { setTimeout(apply, 0); });
  form.addEventListener("submit", function (event) { event.preventDefault(); });
  apply();
})();
