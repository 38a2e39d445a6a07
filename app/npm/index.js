// For browsers and bundlers. The WebAssembly file is in the folder of this module.

import {library} from "./library.js";

export {BreathlineError} from "./library.js";
export const {analyse, analyseText, check, notes, files} = library(async () => {
  const answer = await fetch(new URL("./breathline.wasm", import.meta.url));
  if (!answer.ok) throw new Error(`breathline.wasm could not be loaded: ${answer.status}`);
  return WebAssembly.compile(await answer.arrayBuffer());
});
