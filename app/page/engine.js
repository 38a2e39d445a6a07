// The connection to the library: a worker answers the questions one after the other, so the page never waits. Of the
// questions whose answers will be shown, only the newest is answered: older questions in the queue are dropped, and so
// is the answer to an older question that the worker is already answering.

import {bytes} from "./bytes.js";

const hold = id => document.getElementById(id).textContent;
const worker = new Worker(URL.createObjectURL(new Blob([hold("worker")], {type: "text/javascript"})));
let queue = [];
let asked = null;

function following() {
  asked = queue.shift() || null;
  if (asked) worker.postMessage({file: asked.file, choices: asked.choices});
}

worker.onmessage = ({data}) => {
  const {resolve, overtaken} = asked;
  following();
  resolve(overtaken ? null : data);
};

worker.onerror = event => {
  event.preventDefault();
  if (asked) worker.onmessage({data: {error: `this browser cannot run the page (${event.message}); try a newer browser`}});
};

// Returns the answer to a question, or null if the answer was to be `shown` and a newer such question came first.
export function ask(file, choices, shown) {
  return new Promise(resolve => {
    if (shown) {
      if (asked && asked.shown) asked.overtaken = true;
      for (const old of queue.filter(old => old.shown)) old.resolve(null);
      queue = queue.filter(old => !old.shown);
    }
    queue.push({file, choices, shown, resolve});
    if (!asked) following();
  });
}

worker.postMessage({
  wasm: {base64: hold("wasm"), size: Number(document.getElementById("wasm").dataset.size)},
  tune: bytes(hold("demo-tune")),
});
