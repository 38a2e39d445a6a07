// Shows an answer, and puts the player to work on it. The player itself is that of the written page: `practise`.

import {bytes} from "./bytes.js";

const find = id => document.getElementById(id);
let faces = [];
let loaded = "";
let player = null;

// The fonts of the sheet come as style rules, which the page's policy forbids; as data they are welcome.
async function letters(rules) {
  if (rules === loaded) return;
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(rules);
  const coming = [...sheet.cssRules].map(({style}) => {
    const data = style.getPropertyValue("src").match(/base64,([^)"]+)/)[1];
    const family = style.getPropertyValue("font-family").replace(/["']/g, "");
    const look = {style: style.getPropertyValue("font-style") || "normal", weight: style.getPropertyValue("font-weight") || "normal"};
    return new FontFace(family, bytes(data), look).load();
  });
  const fresh = (await Promise.allSettled(coming)).filter(({status}) => status === "fulfilled").map(({value}) => value);
  for (const face of fresh) document.fonts.add(face);
  for (const face of faces) document.fonts.delete(face);
  faces = fresh;
  loaded = rules;
}

// What was asked to be shown last; fonts take a moment, and something newer may come first.
let newest = 0;

const narrow = matchMedia("(max-width: 46rem)");
// The lines of music that this screen does not show: they are put in place a little later, or when they are needed.
let later = null;

// Returns what stands on the stage, with the lines of music for this screen.
function stage(shown) {
  const pieces = document.createElement("template");
  pieces.innerHTML = shown.sheet + shown.strip + shown.about;
  const [now, then] = narrow.matches ? ["slim", "broad"] : ["broad", "slim"];
  pieces.content.querySelector(`.paper .${now}`).innerHTML = shown[now];
  clearTimeout(later && later.timer);
  later = {kind: then, html: shown[then], timer: setTimeout(complete, 400)};
  return pieces.content;
}

function complete() {
  if (!later) return;
  clearTimeout(later.timer);
  find("approach").querySelector(`.paper .${later.kind}`).innerHTML = later.html;
  later = null;
  if (player) player.collect();
}
narrow.addEventListener("change", complete);
addEventListener("beforeprint", complete);

// On a phone the rest of the player waits behind a button.
function fold() {
  const more = Object.assign(document.createElement("button"), {type: "button", id: "more", textContent: "More"});
  const turn = open => {
    document.body.classList.toggle("more", open);
    more.setAttribute("aria-expanded", open);
  };
  turn(document.body.classList.contains("more"));
  more.addEventListener("click", () => turn(!document.body.classList.contains("more")));
  find("stop").after(more);
}

// Shows an answer on the screen that `turn` turns to; `choose` asks for another row of its ranking.
export async function show(shown, turn, choose) {
  const number = ++newest;
  await letters(shown.letters);
  if (number !== newest) return;
  const kept = player ? player.keep() : undefined;
  if (player) player.close();
  player = null;
  find("title").textContent = shown.title;
  for (const [id, html] of [
    ["headline", shown.headline], ["glyphs", shown.glyphs], ["ways", shown.ranking], ["verdict", shown.verdict],
    ["facts", shown.facts], ["bar", shown.player], ["foot", shown.foot],
  ]) find(id).innerHTML = html;
  find("approach").replaceChildren(...shown.data ? [stage(shown)] : []);
  find("checked-harp").textContent = shown.harp;
  document.body.classList.toggle("nothing", !shown.data);
  turn();
  if (!shown.data) return;
  fold();
  player = practise({data: JSON.parse(shown.data), stage: find("approach"), choose, kept});
}

// Puts another row on the stage.
export async function change(shown, row) {
  const number = ++newest;
  await letters(shown.letters);
  if (number !== newest) return;
  find("glyphs").innerHTML = shown.glyphs;
  find("checked-harp").textContent = shown.harp;
  player.put(row, stage(shown));
}

export function silence() {
  if (player) player.close();
  player = null;
}
