// The approaches of the page: one is on the stage, and the others wait in templates. A template contains deflated
// markup in base64. The script unpacks it when the reader first chooses its row.
(() => {
"use strict";

const stage = document.getElementById("approach");
const packed = new Map([...document.querySelectorAll("template[data-row]")]
  .map(template => [Number(template.dataset.row), template.content.textContent]));
const waiting = new Map();
let chosen = 0;
// The row that the reader chose last. `chosen` follows when the row is unpacked, which takes a moment.
let asked = 0;

async function unpacked(text) {
  const bytes = Uint8Array.from(atob(text), sign => sign.charCodeAt(0));
  const markup = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  const pieces = document.createElement("template");
  pieces.innerHTML = await new Response(markup).text();
  return pieces.content;
}

async function unpack(row) {
  waiting.set(row, await unpacked(packed.get(row)));
  packed.delete(row);
}

async function choose(row) {
  if (row === asked || !(row === chosen || packed.has(row) || waiting.has(row))) return;
  asked = row;
  try {
    if (packed.has(row)) await unpack(row);
  } catch {
    document.getElementById("said").textContent = "This browser is too old to unpack another row; a newer browser shows it.";
    return;
  }
  if (row !== asked || row === chosen) return;
  const before = player.put(row, waiting.get(row));
  waiting.delete(row);
  waiting.set(chosen, before);
  chosen = row;
}

const data = JSON.parse(document.getElementById("data").textContent);
const player = practise({data, stage, choose});

// Unpacks the short lines of the first row, which a narrow screen shows. Until then, and in a browser that cannot
// unpack them, a narrow screen shows the long lines.
const slim = stage.querySelector(".slim > template");
unpacked(slim.content.textContent).then(lines => {
  slim.replaceWith(lines);
  player.redraw();
}).catch(() => { /* see above */ });
})();
