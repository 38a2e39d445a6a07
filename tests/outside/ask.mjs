// Asks the library in Node, as the page does: node ask.mjs breathline_app.wasm < questions. Each question is a line of
// JSON with the path of a file and the choices. Each answer is a line of JSON.
import {readFileSync} from "node:fs";
import {createInterface} from "node:readline";

import {call} from "../../app/npm/call.js";

const module = new WebAssembly.Module(readFileSync(process.argv[2]));
const {exports} = new WebAssembly.Instance(module, {});

for await (const line of createInterface({input: process.stdin})) {
  const {file, choices} = JSON.parse(line);
  console.log(call(exports, readFileSync(file), choices));
}
