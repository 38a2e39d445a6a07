// The functions of the package. The caller passes a function that loads the WebAssembly.

import {call} from "./call.js";

// The memory of WebAssembly only grows. Past this size the next question gets a new instance, which begins small.
const MOST_MEMORY = 2 ** 28;

// An error in a tune or an option, as a line for a musician. If a file has several tunes, `tunes` lists them.
export class BreathlineError extends Error {
  constructor(message, tunes) {
    super(message);
    this.name = "BreathlineError";
    if (tunes) this.tunes = tunes;
  }
}

// Returns the functions; `load` returns a promise of the compiled module.
export function library(load) {
  let module, instance;

  async function started() {
    module ??= load();
    try {
      return (await WebAssembly.instantiate(await module, {})).exports;
    } catch (problem) {
      module = undefined;
      throw problem;
    }
  }

  async function ask(tune, options, want) {
    const exports = instance ?? await started();
    instance = undefined;
    let answer;
    try {
      answer = JSON.parse(call(exports, bytes(tune), {...options, want}));
    } catch (problem) {
      if (!(problem instanceof WebAssembly.RuntimeError || problem instanceof RangeError)) throw problem;
      throw new BreathlineError("this file needs more memory than this system gives");
    }
    // An instance that has failed or grown too large is not used again.
    if (exports.memory.buffer.byteLength <= MOST_MEMORY) instance = exports;
    if (answer.error !== undefined) throw new BreathlineError(answer.error);
    if (answer.tunes) {
      throw new BreathlineError(`the file has ${answer.tunes.length} tunes; choose one with the option tune`, answer.tunes);
    }
    return answer;
  }

  const analyseText = async (tune, options = {}) => (await ask(tune, options, "suggest")).json;
  return {
    analyseText,
    analyse: async (tune, options) => JSON.parse(await analyseText(tune, options)),
    notes: async (tune, options = {}) => JSON.parse((await ask(tune, options, "notes")).json),
    check: async (tune, tab, harp, options = {}) => JSON.parse((await ask(tune, options, {lesson: {harp, tab}})).json),
    files: async (tune, form, options = {}) => (await ask(tune, options, {file: form})).files.map(file),
  };
}

function bytes(tune) {
  if (typeof tune === "string") return new TextEncoder().encode(tune);
  if (tune instanceof ArrayBuffer) return new Uint8Array(tune);
  if (ArrayBuffer.isView(tune)) return new Uint8Array(tune.buffer, tune.byteOffset, tune.byteLength);
  throw new TypeError("pass the tune as a Uint8Array, an ArrayBuffer or a string");
}

function file({ending, kind, text, bytes}) {
  return {ending, kind, content: text ?? Uint8Array.from(bytes)};
}
