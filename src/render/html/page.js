// The page's approaches: one is on the stage, the others wait in templates.
(() => {
"use strict";

const stage = document.getElementById("approach");
const waiting = new Map([...document.querySelectorAll("template[data-row]")]
  .map(template => [Number(template.dataset.row), template.content]));
let chosen = 0;

function choose(row) {
  if (!waiting.has(row)) return;
  const before = player.put(row, waiting.get(row));
  waiting.delete(row);
  waiting.set(chosen, before);
  chosen = row;
}

const data = JSON.parse(document.getElementById("data").textContent);
const player = practise({data, stage, choose});
})();
