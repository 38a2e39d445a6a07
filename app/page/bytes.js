// Decodes bytes that the page contains as base64 text.

export function bytes(base64) {
  if (Uint8Array.fromBase64) return Uint8Array.fromBase64(base64);
  const text = atob(base64);
  const found = new Uint8Array(text.length);
  for (let k = 0; k < text.length; k++) found[k] = text.charCodeAt(k);
  return found;
}
