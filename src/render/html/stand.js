// The music stand: the sheet alone on the whole screen, page by page. A page has as many lines of music as fit, but at
// least one.
function musicStand(stage) {
"use strict";

const body = document.body;
const bar = document.querySelector(".player");
const closing = new AbortController();
const on = (target, event, act) => target.addEventListener(event, act, {signal: closing.signal});
let isOpen = false, first = 0, last = 0, lines = [], awake = null, aside = [];

const paper = () => stage.querySelector(".paper");
const shown = () => [...paper().children].find(kind => getComputedStyle(kind).display !== "none");

// Shows the page that begins with the given line.
function page(from) {
  first = Math.max(0, Math.min(from, lines.length - 1));
  const [count, part] = fitting(lines.slice(first));
  last = first + count;
  shown().style.width = `${part * 100}%`;
  lines.forEach((line, index) => line.toggleAttribute("hidden", index < first || index >= last));
}

// Returns the number of the given lines that fit on a page, and the share of the page's width that the lines get.
// Slightly smaller lines are better than a half-empty page.
const LEAST = 0.88;
function fitting(some) {
  const style = getComputedStyle(paper());
  const width = paper().clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
  const room = paper().clientHeight - parseFloat(style.paddingTop) - parseFloat(style.paddingBottom);
  let used = 0, count = 0;
  for (const line of some) {
    const {width: wide, height} = line.viewBox.baseVal;
    const more = used + height / wide * width;
    if (count && more * LEAST > room) break;
    used = more;
    count++;
  }
  return [count, Math.min(1, room / used)];
}

function turn(way) {
  if (way > 0) {
    if (last < lines.length) page(last);
  } else if (first > 0) {
    page(first - fitting(lines.slice(0, first).reverse())[0]);
  }
}

// Turns the page if the line of the lit note is not on it: the new page begins with this line. While the tune plays,
// the page also turns when its last line is reached, so that the musician can read ahead. The page stays if that line
// is its only line, or if no notes follow.
function follow(pieces, plays) {
  if (!isOpen) return;
  const line = lines.findIndex(line => pieces.some(piece => line.contains(piece)));
  if (line < 0) return;
  const goesOn = lines[line + 1] && lines[line + 1].querySelector("[data-note]");
  if (line < first || line >= last || plays && goesOn && line === last - 1 && line > first) page(line);
}

function layOut() {
  if (!isOpen) return;
  for (const line of lines) line.removeAttribute("hidden");
  for (const kind of paper().children) kind.style.width = "";
  lines = [...shown().children];
  page(first);
}

// Keeps the screen awake if the browser allows it. The browser ends the lock whenever the page is hidden.
async function stayAwake() {
  if (!isOpen || document.hidden || !navigator.wakeLock) return;
  try {
    awake = await navigator.wakeLock.request("screen");
    if (!isOpen) awake.release();
  } catch { /* the browser may refuse, for instance to save its battery */ }
}

function open() {
  if (isOpen) return;
  isOpen = true;
  body.classList.add("stand");
  // Everything except the sheet, the player and dialogs is inactive, for the keyboard as well.
  for (const kept of [paper(), bar]) for (let at = kept; at !== body; at = at.parentElement) {
    aside.push(...[...at.parentElement.children].filter(other =>
      !other.contains(paper()) && !other.contains(bar) && !other.inert && other.localName !== "dialog"));
  }
  aside = aside.filter(other => !bar.contains(other));
  for (const other of aside) other.inert = true;
  first = 0;
  layOut();
  const whole = document.documentElement;
  if (whole.requestFullscreen) whole.requestFullscreen().catch(() => { /* the page fills its window instead */ });
  stayAwake();
  document.getElementById("leave").focus();
}

function close() {
  if (!isOpen) return;
  isOpen = false;
  body.classList.remove("stand");
  for (const other of aside) other.inert = false;
  aside = [];
  lines.forEach(line => line.removeAttribute("hidden"));
  lines = [];
  shown().style.width = "";
  if (document.fullscreenElement) document.exitFullscreen().catch(() => { /* the full screen has ended already */ });
  if (awake) awake.release().catch(() => { /* the lock has ended already */ });
  awake = null;
  const back = ["full", "more"].map(id => document.getElementById(id)).find(button => button.getClientRects().length);
  if (back) back.focus({preventScroll: true});
}

on(document.getElementById("full"), "click", open);
on(document.getElementById("leave"), "click", close);
on(document.getElementById("page-back"), "click", () => turn(-1));
on(document.getElementById("page-on"), "click", () => turn(1));
on(document, "fullscreenchange", () => { if (!document.fullscreenElement) close(); });
on(document, "visibilitychange", stayAwake);
on(window, "resize", layOut);
on(window, "beforeprint", close);

return {open, close, turn, follow, layOut, isOpen: () => isOpen, end: () => { close(); closing.abort(); }};
}
