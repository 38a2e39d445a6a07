// The page: the open tune, the question about it, and the answer shown.

import {ask} from "./engine.js";
import {begin as offerChoices, chosen, fresh, offer, said} from "./choices.js";
import {begin as offerWaysIn} from "./opening.js";
import {list} from "./tunes.js";
import {begin as offerPins, list as listPins, offer as offerHoles, pinned, restore as giveBack, set as setPins} from "./holes.js";
import {show, showCheck, look, change, silence, made, play, pieceOf} from "./show.js";
import {save} from "./take.js";

const find = id => document.getElementById(id);
const screens = ["begin", "tunes", "answer"];
// The open file, the chosen tune in it, its list of tunes, and the row of the ranking that is shown.
let file = null;
let tune = null;
let tunes = null;
let row = 0;
// The place of this row: its harp, its octave and its transposition. It identifies the row after a change of the pins.
let place = "";
let title = "";

// Shows a screen. If the screen has a `heading` to read first, scrolls to the top and moves the keyboard focus to it.
function turnTo(screen, heading) {
  for (const id of screens) find(id).hidden = id !== screen;
  find("another").hidden = screen === "begin";
  find("list").hidden = !(screen === "answer" && tunes);
  document.body.dataset.screen = screen;
  if (!heading) return;
  find(heading).focus({preventScroll: true});
  scrollTo(0, 0);
}

// Shows an error; an empty text hides the last one. If the pins may be the cause, shows the pins below the error, with
// buttons that remove them.
function trouble(text, pins) {
  find("trouble").textContent = text;
  if (pins) find("trouble").append(made(pins));
  find("trouble").hidden = !text;
}

const question = (row, want) => {
  const choices = {...chosen(), name: file.name, row, pins: pinned()};
  if (tune !== null) choices.tune = tune;
  if (want) choices.want = want;
  return choices;
};

async function open(bytes, name, called) {
  const before = {file, tune, tunes}, pins = pinned();
  file = {bytes, name, called};
  tune = tunes = null;
  const restore = fresh();
  setPins([]);
  if (await answer(true)) return;
  ({file, tune, tunes} = before);
  setPins(pins);
  restore();
}

let latest = 0;

// Asks for the answer to the present choices and shows it. The `first` answer for a tune is shown from the top. Returns
// whether the answer is free of errors.
async function answer(first, repin) {
  const number = ++latest;
  const settled = () => { if (number === latest) document.body.classList.remove("waiting"); };
  document.body.classList.add("waiting");
  const asked = question(0);
  if (repin) asked.place = place;
  const answered = ask(file.bytes, asked, true);
  look();
  const found = await answered;
  if (!found) return true;
  // The user may have turned to the first screen in the meantime.
  const left = !first && document.body.dataset.screen === "begin";
  if (!left) trouble(found.error ? `${file.called}: ${found.error}` : "", found.error && found.pins);
  if (found.tunes) offerTunes(found.tunes);
  if (found.shown && !left) {
    ({row, place} = found.shown);
    listPins(found.pins);
    title = found.shown.title;
    offer(found.shown);
    find("chosen").textContent = said();
    showCheck(null);
    await show(found.shown, {first, choose, pick, turn: () => turnTo("answer", first && "title")});
    if (repin) giveBack();
    const news = repin && find("pins").querySelector("p") || find("headline");
    find("news").textContent = news.textContent;
  }
  settled();
  return !found.error;
}

function offerTunes(found) {
  tunes = found;
  list(file.name, tunes, choice => { tune = choice; fresh(); setPins([]); answer(true); });
  turnTo("tunes", "tunes-title");
}

async function choose(wanted) {
  // The next answer, which is on its way, has other rows.
  if (document.body.classList.contains("waiting")) return;
  const found = await ask(file.bytes, question(wanted), true);
  if (!found || !found.shown) return;
  ({row, place} = found.shown);
  await change(found.shown, wanted);
}

// Offers the other holes for a note of the row on the page.
async function pick(note) {
  if (document.body.classList.contains("waiting")) return;
  const found = await ask(file.bytes, question(row, {holes: note}));
  if (found.holes) offerHoles(found.holes, pieceOf(note));
}

offerPins(() => answer(false, true), play);

offerChoices(() => {
  find("chosen").textContent = said();
  if (file) answer(false);
});
offerWaysIn(open);

for (const id of ["home", "another"]) find(id).addEventListener("click", () => {
  silence();
  trouble("");
  turnTo("begin");
});
find("list").addEventListener("click", () => { silence(); turnTo("tunes"); });
find("print").addEventListener("click", () => print());
for (const button of document.querySelectorAll("[data-form]")) button.addEventListener("click", async () => {
  const found = await ask(file.bytes, question(row, {file: button.dataset.form}));
  trouble(found.error || "");
  for (const made of found.files || []) save(title, made);
});
find("check").addEventListener("click", async () => {
  const found = await ask(file.bytes, question(row, {check: find("typed").value}));
  await showCheck(found.check);
  if (found.error) find("checked").textContent = found.error;
});

// On a desktop screen there is enough space for the choices beside the sheet.
const desk = matchMedia("(min-width: 64rem)");
const room = () => { find("bag").open = desk.matches; };
desk.addEventListener("change", room);
room();
turnTo("begin");
