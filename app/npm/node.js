// For Node, which reads the WebAssembly as a file.

import {readFile} from "node:fs/promises";

import {library} from "./library.js";

export {BreathlineError} from "./library.js";
export const {analyse, analyseText, check, notes, files} = library(async () =>
  WebAssembly.compile(await readFile(new URL("./breathline.wasm", import.meta.url))));
