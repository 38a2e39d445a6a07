// Makes a loop when the user drags over bars of the sheet. With a mouse or a pen, a drag begins after a short distance;
// a finger must first rest on a bar, because a finger that moves at once scrolls the page. During the drag, the notes
// outside the loop fade. `barOf` returns the bar of a note; `chosen` receives the first and the last bar of the loop.
function loopByDragging(stage, barOf, signal, chosen) {
"use strict";

const FAR_PX = 24, STILL_PX = 8, HOLD_MS = 450;
let start = null, hold = 0, from = null, to = null, places = [];
const on = (target, event, act, options = {}) => target.addEventListener(event, act, {signal, ...options});

// Returns the bar of the note nearest to the pointer. A vertical distance counts four times, so a note in the line of
// music at the pointer is preferred.
function barAt(event) {
  const off = (low, high, at) => Math.max(low - at, at - high, 0);
  const y = event.clientY + scrollY;
  const far = ({box, top}) => 4 * off(top, top + box.height, y) + off(box.left, box.right, event.clientX);
  return places.reduce((best, place) => far(place) < far(best) ? place : best).bar;
}

function begin(event) {
  const pieces = [...stage.querySelectorAll(".paper [data-note]")].filter(piece => piece.getClientRects().length);
  places = pieces.map(piece => {
    const box = piece.getBoundingClientRect();
    return {piece, box, top: box.top + scrollY, bar: barOf(Number(piece.dataset.note))};
  });
  if (!places.length) return;
  from = barAt(event);
  getSelection().removeAllRanges();
  extend(event);
}

function extend(event) {
  to = barAt(event);
  const [first, last] = [Math.min(from, to), Math.max(from, to)];
  for (const {piece, bar} of places) piece.classList.toggle("aside", bar < first || bar > last);
}

function end(keep) {
  clearTimeout(hold);
  for (const {piece} of places) piece.classList.remove("aside");
  if (keep && from !== null) {
    chosen(Math.min(from, to), Math.max(from, to));
    // The click that follows a drag does not select a note.
    const swallow = event => { event.stopPropagation(); event.preventDefault(); };
    on(document, "click", swallow, {capture: true, once: true});
    setTimeout(() => document.removeEventListener("click", swallow, {capture: true}));
  }
  start = from = null;
  places = [];
}

on(stage, "pointerdown", event => {
  if (!event.isPrimary || event.button !== 0 || !event.target.closest(".paper")) return;
  start = event;
  if (event.pointerType === "touch") hold = setTimeout(() => begin(start), HOLD_MS);
});
on(document, "pointermove", event => {
  if (!start || !event.isPrimary) return;
  if (from !== null) return extend(event);
  const moved = Math.hypot(event.clientX - start.clientX, event.clientY - start.clientY);
  if (event.pointerType === "touch") {
    if (moved > STILL_PX) end(false);
  } else if (moved > FAR_PX) {
    begin(start);
    if (from !== null) extend(event);
  }
});
on(document, "pointerup", () => end(true));
on(document, "pointercancel", () => end(false));
// A finger that has chosen a bar no longer scrolls the page.
on(document, "touchmove", event => { if (from !== null) event.preventDefault(); }, {passive: false});
on(stage, "contextmenu", event => { if (from !== null) event.preventDefault(); });
}
