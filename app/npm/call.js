// Calls an instance of the library's WebAssembly. The page's worker, the package and the tests share this function.

// Asks a question about a file, given its bytes and the choices. Returns the answer as JSON text.
export function call(exports, file, choices) {
  const give = bytes => {
    const at = exports.room(bytes.length);
    new Uint8Array(exports.memory.buffer).set(bytes, at);
    return [at, bytes.length];
  };
  const question = give(file), said = give(new TextEncoder().encode(JSON.stringify(choices)));
  const answer = BigInt.asUintN(64, exports.ask(...question, ...said));
  const found = [Number(answer >> 32n), Number(answer & 0xffffffffn)];
  const text = new TextDecoder().decode(new Uint8Array(exports.memory.buffer, ...found));
  for (const piece of [question, said, found]) exports.release(...piece);
  return text;
}
