// Hands a file to the browser, which saves it under a name made from the tune's title.
export function save(title, {ending, kind, text, bytes}) {
  const name = title.replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-+|-+$/g, "").toLowerCase() || "tune";
  const data = new Blob([text === undefined ? new Uint8Array(bytes) : text], {type: kind});
  const link = Object.assign(document.createElement("a"), {href: URL.createObjectURL(data), download: `${name}.${ending}`});
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
