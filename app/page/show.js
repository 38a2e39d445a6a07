// Shows an answer, and starts the player for it. The player itself, `practise`, is shared with the written page.

import {bytes} from "./bytes.js";

const find = id => document.getElementById(id);
let faces = [];
let loaded = "";
let player = null;
let kept;

// The fonts of a sheet come as style rules, which the page's policy forbids. The policy allows the same fonts as data.
async function fonts(rules) {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(rules);
  const coming = [...sheet.cssRules].map(({style}) => {
    const data = style.getPropertyValue("src").match(/base64,([^)"]+)/)[1];
    const family = style.getPropertyValue("font-family").replace(/["']/g, "");
    const look = {style: style.getPropertyValue("font-style") || "normal", weight: style.getPropertyValue("font-weight") || "normal"};
    return new FontFace(family, bytes(data), look).load();
  });
  return (await Promise.allSettled(coming)).filter(({status}) => status === "fulfilled").map(({value}) => value);
}

async function letters(rules) {
  if (rules === loaded) return;
  const fresh = await fonts(rules);
  for (const face of fresh) document.fonts.add(face);
  for (const face of faces) document.fonts.delete(face);
  faces = fresh;
  loaded = rules;
}

// The fonts of a check's sheet, which has other words than the sheet of the answer.
let checkFaces = [];

// Shows a check, whose ways the player can play; null removes the check that is shown.
export async function showCheck(check) {
  const place = find("checked");
  if (!check && !place.firstChild) return;
  if (player) player.place(null);
  for (const face of checkFaces) document.fonts.delete(face);
  checkFaces = [];
  place.replaceChildren();
  if (!check) return;
  checkFaces = await fonts(check.letters);
  for (const face of checkFaces) document.fonts.add(face);
  place.append(made(check.html));
  if (player) player.place(place, JSON.parse(check.rows));
}

find("checked").addEventListener("click", event => {
  const button = event.target.closest("[data-hear]");
  if (button && player) player.hear(Number(button.dataset.hear));
});

// The number of the newest request to show something. Fonts take a moment to load, and a newer request may come first.
let newest = 0;

const narrow = matchMedia("(max-width: 46rem)");
// The lines of music that this screen does not show. They are inserted when the screen needs them.
let later = null;

// Returns markup as elements.
export function made(html) {
  const pieces = document.createElement("template");
  pieces.innerHTML = html;
  return pieces.content;
}

// The lines for this screen that are below its lower edge. They are inserted after the visible lines have been drawn.
let rest = null;

// Returns the sheet for this screen, with at most `first` lines of its music.
function sheet(shown, first) {
  const pieces = made(shown.sheet);
  const [now, then] = narrow.matches ? ["slim", "broad"] : ["broad", "slim"];
  const lines = shown[now].split(/(?<=<\/svg>\n)/);
  pieces.querySelector(`.paper .${now}`).innerHTML = lines.slice(0, first).join("");
  rest = {kind: now, html: lines.slice(first).join("")};
  later = {kind: then, html: shown[then]};
  return pieces;
}

// The number of lines that begin above the lower edge of the screen, and the height of the sheet. They are measured
// while the library works, because measuring later would cost a layout.
let sight = {lines: 0, height: 0};

export function look() {
  const paper = find("approach").querySelector(".paper");
  if (!paper) return;
  const lines = [...paper.querySelectorAll("svg")].map(line => line.getBoundingClientRect());
  sight = {lines: lines.filter(({height, top}) => height && top < innerHeight).length, height: paper.offsetHeight};
}

function fill() {
  if (rest) find("approach").querySelector(`.paper .${rest.kind}`).insertAdjacentHTML("beforeend", rest.html);
  rest = null;
}

function complete() {
  fill();
  if (!later) return;
  find("approach").querySelector(`.paper .${later.kind}`).innerHTML = later.html;
  later = null;
  if (player) player.collect();
}
narrow.addEventListener("change", complete);
addEventListener("beforeprint", complete);

// Adds a button that offers the other holes of the current note, for users who do not tap on the sheet.
function offerHoles(pick) {
  const holes = Object.assign(document.createElement("button"), {type: "button", id: "other-holes", textContent: "Other holes"});
  holes.setAttribute("aria-keyshortcuts", "h");
  holes.addEventListener("click", () => pick(player.at()));
  document.querySelector("#bar .settings").append(holes);
}

// Plays from the current place, or pauses.
export function play() { if (player) player.toggle(); }

// Returns an element of a note in the lines of the sheet that this screen shows.
export function pieceOf(note) {
  const pieces = [...find("approach").querySelectorAll(`.paper [data-note="${note}"]`)];
  return pieces.find(piece => piece.getClientRects().length);
}

// Waits until the page has been drawn. A hidden page is never drawn, so the wait ends after 200 ms.
const drawn = () => new Promise(done => {
  requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done)));
  setTimeout(done, 200);
});

// The least number of lines that are inserted first.
const FEW = 3;

// Shows an answer on the screen that `turn` turns to; `choose` asks for another row of its ranking. The answer and its
// sheet come first, and the rest a moment later. The `first` answer for a tune is played from the beginning, at the
// tune's tempo.
export async function show(shown, {first, turn, choose, pick}) {
  const number = ++newest;
  await letters(shown.letters);
  if (number !== newest) return;
  silence();
  later = rest = null;
  find("title").textContent = shown.title;
  find("headline").innerHTML = shown.headline;
  find("glyphs").innerHTML = shown.glyphs;
  document.body.classList.toggle("nothing", !shown.data);
  const stage = find("approach");
  const before = stage.querySelector(".sheet");
  const {lines, height} = before && !first ? sight : {lines: 0, height: 0};
  if (before) before.remove();
  if (shown.data) stage.prepend(sheet(shown, Math.max(lines, FEW)));
  // With the height of the old sheet, the content below keeps its place.
  const paper = stage.querySelector(".paper");
  if (paper) paper.style.minHeight = `${height}px`;
  turn();
  await drawn();
  if (number !== newest) return;
  fill();
  if (paper) paper.removeAttribute("style");
  for (const [id, html] of [
    ["ways", shown.ranking], ["verdict", shown.verdict], ["facts", shown.facts], ["bar", shown.player], ["foot", shown.foot],
  ]) find(id).innerHTML = html;
  find("checked-harp").textContent = shown.harp;
  stage.querySelectorAll(".where, .about").forEach(piece => piece.remove());
  if (!shown.data) return;
  stage.append(made(shown.strip + shown.about));
  offerHoles(pick);
  if (first && kept) kept = {...kept, tempo: 100, note: 0};
  player = practise({data: JSON.parse(shown.data), stage, choose, pick, row: shown.row, kept});
}

// Shows another row of the ranking.
export async function change(shown, row) {
  const number = ++newest;
  await letters(shown.letters);
  if (number !== newest) return;
  find("glyphs").innerHTML = shown.glyphs;
  find("checked-harp").textContent = shown.harp;
  const pieces = sheet(shown, Infinity);
  pieces.append(made(shown.strip + shown.about));
  player.put(row, pieces);
}

// Ends the player, and keeps its settings for the next player.
export function silence() {
  if (!player) return;
  kept = player.keep();
  player.close();
  player = null;
}
