// The ways to open a tune: a chosen, dropped or pasted file, typed, dropped or pasted text, and the demo tune. Each way
// gives bytes, a name for a tune without a title, and a name for errors.

import {bytes} from "./bytes.js";

const find = id => document.getElementById(id);
// The library's limit. The page reads one byte more of a longer file, so that the library refuses the file.
const MOST = 64 * 2 ** 20;

const bare = name => name.replace(/\.[^.]*$/, "");

export function begin(open) {
  const file = async chosen => {
    if (chosen) open(new Uint8Array(await chosen.slice(0, MOST + 1).arrayBuffer()), bare(chosen.name), chosen.name);
  };
  const text = pasted => open(new TextEncoder().encode(pasted), "Pasted tune", "the text");

  find("file").addEventListener("change", event => {
    file(event.target.files[0]);
    // The reset lets the user choose the same file again.
    event.target.value = "";
  });
  find("demo").addEventListener("click", () => {
    open(bytes(find("demo-tune").textContent), "demo", "the demo tune");
  });
  find("use").addEventListener("click", () => text(find("pasted").value));

  addEventListener("paste", event => {
    if (event.target.closest && event.target.closest("textarea, input")) return;
    const {files} = event.clipboardData;
    if (files.length) file(files[0]);
    else if (event.clipboardData.getData("text").trim()) text(event.clipboardData.getData("text"));
  });

  // A drag enters and leaves many elements on its way. It has left the page when the two counts are equal.
  const dropping = find("dropping");
  let depth = 0;
  const over = step => {
    depth = step ? depth + step : 0;
    dropping.hidden = depth <= 0;
  };
  addEventListener("dragenter", event => { event.preventDefault(); over(1); });
  addEventListener("dragleave", () => over(-1));
  addEventListener("dragover", event => event.preventDefault());
  addEventListener("drop", event => {
    event.preventDefault();
    over(0);
    const {files} = event.dataTransfer;
    if (files.length) file(files[0]);
    else if (event.dataTransfer.getData("text")) text(event.dataTransfer.getData("text"));
  });
}
