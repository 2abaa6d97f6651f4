// SPDX-License-Identifier: GPL-3.0-or-later
// Sorts a table by the header that is pressed and shows the rows that hold what is typed. The page
// is complete without it.
"use strict";
(function () {
  var word = document.body.getAttribute("data-filter") || "Filter";

  function key(row, column) {
    var cell = row.cells[column];
    var text = cell.hasAttribute("data-k") ? cell.getAttribute("data-k") : cell.textContent.trim();
    return text;
  }

  // Numbers as numbers, the rest as words; empty cells last, whichever way.
  function compare(a, b, down) {
    if (a === "" || b === "") return (a === "") - (b === "");
    var x = Number(a), y = Number(b);
    var order = isNaN(x) || isNaN(y)
      ? a.localeCompare(b, document.documentElement.lang, { numeric: true })
      : x - y;
    return down ? -order : order;
  }

  function sort(table, header, column) {
    var down = header.getAttribute("aria-sort") === "ascending";
    var body = table.tBodies[0];
    var rows = Array.from(body.rows, function (row, i) {
      return { row: row, key: key(row, column), i: i };
    });
    rows.sort(function (a, b) { return compare(a.key, b.key, down) || a.i - b.i; });
    table.querySelectorAll("th[aria-sort]").forEach(function (th) { th.removeAttribute("aria-sort"); });
    header.setAttribute("aria-sort", down ? "descending" : "ascending");
    rows.forEach(function (entry) { body.appendChild(entry.row); });
  }

  function filter(table, words) {
    var wanted = words.toLowerCase();
    Array.from(table.tBodies[0].rows).forEach(function (row) {
      row.hidden = row.textContent.toLowerCase().indexOf(wanted) < 0;
    });
  }

  document.querySelectorAll(".table table").forEach(function (table) {
    if (table.tBodies[0].rows.length < 2) return;
    Array.from(table.tHead.rows[0].cells).forEach(function (header, column) {
      // No <button>: Chromium does not repeat a head that holds one on the next printed page.
      var button = document.createElement("span");
      button.setAttribute("role", "button");
      button.tabIndex = 0;
      while (header.firstChild) button.appendChild(header.firstChild);
      header.appendChild(button);
      button.addEventListener("click", function () { sort(table, header, column); });
      button.addEventListener("keydown", function (event) {
        if (event.key !== "Enter" && event.key !== " ") return;
        event.preventDefault();
        sort(table, header, column);
      });
    });
    var label = document.createElement("label"), input = document.createElement("input");
    label.className = "filter";
    label.appendChild(document.createTextNode(word));
    input.type = "search";
    input.addEventListener("input", function () { filter(table, input.value); });
    label.appendChild(input);
    var caption = table.caption || table.createCaption();
    caption.insertBefore(label, caption.firstChild);
  });
})();
