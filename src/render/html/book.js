// Makes the table of a book searchable and sortable, and opens the tab of a tune below its row. Without this script the
// page shows a plain table.
(() => {
  "use strict";
  const table = document.querySelector(".book table");
  const tabs = JSON.parse(document.getElementById("tabs").textContent);
  if (!table) return;
  const body = table.tBodies[0];
  const rows = [...body.rows];
  const search = document.getElementById("search");
  const input = search.querySelector("input");
  const output = search.querySelector("output");
  // Returns text in lower case, without accents.
  const plain = (text) => text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();
  const texts = new Map(rows.map((row) => [row, plain([...row.cells].map((cell) => cell.textContent).join(" "))]));

  const count = () => {
    const wanted = plain(input.value).trim();
    let found = 0;
    for (const row of rows) {
      row.hidden = !texts.get(row).includes(wanted);
      found += row.hidden ? 0 : 1;
    }
    output.textContent = `${found} of ${rows.length}`;
  };

  const close = () => body.querySelectorAll("tr.tab").forEach((opened) => {
    opened.previousElementSibling.querySelector("button").setAttribute("aria-expanded", "false");
    opened.remove();
  });

  const sort = (heading, column) => {
    close();
    const falling = heading.getAttribute("aria-sort") === "ascending";
    for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
    heading.setAttribute("aria-sort", falling ? "descending" : "ascending");
    const numeric = heading.classList.contains("number");
    const value = (row) => {
      const text = row.cells[column].textContent;
      return numeric ? (text === "" || Number.isNaN(Number(text)) ? Infinity : Number(text)) : plain(text);
    };
    const values = new Map(rows.map((row) => [row, value(row)]));
    const order = (a, b) => {
      const [x, y] = [values.get(a), values.get(b)];
      return x === y ? 0 : (x < y ? -1 : 1);
    };
    rows.sort((a, b) => (falling ? order(b, a) : order(a, b)));
    body.append(...rows);
  };

  const open = (row, button, tab) => {
    const opened = row.nextElementSibling;
    if (opened && opened.classList.contains("tab")) {
      opened.remove();
      button.setAttribute("aria-expanded", "false");
      return;
    }
    const below = document.createElement("tr");
    below.className = "tab";
    const cell = below.insertCell();
    cell.colSpan = row.cells.length;
    cell.textContent = tab;
    row.after(below);
    button.setAttribute("aria-expanded", "true");
  };

  const title = [...table.tHead.rows[0].cells].findIndex((heading) => heading.textContent === "title");
  [...table.tHead.rows[0].cells].forEach((heading, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = heading.textContent;
    button.addEventListener("click", () => sort(heading, column));
    heading.replaceChildren(button);
  });
  rows.forEach((row, index) => {
    const cell = row.cells[title];
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = cell.textContent;
    button.setAttribute("aria-expanded", "false");
    button.addEventListener("click", () => open(row, button, tabs[index]));
    cell.replaceChildren(button);
  });
  input.addEventListener("input", () => { close(); count(); });
  search.hidden = false;
  count();
})();
