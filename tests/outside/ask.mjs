// Asks the library as the page does, in Node: node ask.mjs breathline_app.wasm < questions. A question is a line of JSON with
// the path of a file and the choices; so is an answer.
import {readFileSync} from "node:fs";
import {createInterface} from "node:readline";

const module = new WebAssembly.Module(readFileSync(process.argv[2]));
const {exports} = new WebAssembly.Instance(module, {});

function give(bytes) {
  const at = exports.room(bytes.length);
  new Uint8Array(exports.memory.buffer).set(bytes, at);
  return [at, bytes.length];
}

for await (const line of createInterface({input: process.stdin})) {
  const {file, choices} = JSON.parse(line);
  const question = give(readFileSync(file)), said = give(Buffer.from(JSON.stringify(choices)));
  const answer = BigInt.asUintN(64, exports.ask(...question, ...said));
  const found = [Number(answer >> 32n), Number(answer & 0xffffffffn)];
  console.log(Buffer.from(exports.memory.buffer, ...found).toString());
  for (const piece of [question, said, found]) exports.release(...piece);
}
