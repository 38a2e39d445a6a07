// The library in its own thread, which answers one question after the other.
"use strict";

let module, exports;
const start = async () => { exports = (await WebAssembly.instantiate(module, {})).exports; };

async function load({base64, size}) {
  module = await WebAssembly.compile(unpack(bytes(base64), size));
  await start();
}

const ask = (file, choices) => JSON.parse(call(exports, file, choices));

// A browser compiles code well only after it has run a few times, so the worker asks about the demo tune beforehand.
let runs = 4;
function practise(file) {
  if (!exports || runs-- <= 0) return;
  ask(file, {});
  setTimeout(practise, 40, file);
}

let ready;
onmessage = async ({data}) => {
  if (data.wasm) {
    ready = load(data.wasm);
    ready.then(() => setTimeout(practise, 250, data.tune)).catch(() => {});
    return;
  }
  let answer;
  try {
    await ready;
    answer = ask(data.file, data.choices);
    // The memory of an instance only grows, so a new instance, which begins small, replaces it after a large file.
    if (exports.memory.buffer.byteLength > 2 ** 28) await start();
  } catch (problem) {
    const known = problem instanceof WebAssembly.RuntimeError || problem instanceof RangeError;
    answer = {error: known ? "this file needs more memory than the browser gives to a page; save only the tune's part and try that file" : `this browser cannot run the page (${problem.message}); try a newer browser`};
    if (module) await start();
  }
  postMessage(answer);
};
