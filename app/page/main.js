// The page: what is open, what is asked about it, and what is shown.

import {ask} from "./engine.js";
import {begin as offerChoices, chosen, fresh, offer, said} from "./choices.js";
import {begin as offerWaysIn} from "./opening.js";
import {list} from "./tunes.js";
import {show, change, silence} from "./show.js";
import {save} from "./take.js";

const find = id => document.getElementById(id);
const screens = ["begin", "tunes", "answer"];
// The open file, the chosen tune of it, its list of tunes, and the row of the ranking that is shown.
let file = null;
let tune = null;
let tunes = null;
let row = 0;
let title = "";

function turnTo(screen) {
  for (const id of screens) find(id).hidden = id !== screen;
  find("another").hidden = screen === "begin";
  find("list").hidden = !(screen === "answer" && tunes);
  document.body.dataset.screen = screen;
}

function trouble(text) {
  find("trouble").textContent = text;
  find("trouble").hidden = !text;
}

const question = (row, want) => {
  const choices = {...chosen(), name: file.name, row};
  if (tune !== null) choices.tune = tune;
  if (want) choices.want = want;
  return choices;
};

async function open(bytes, name, called) {
  const before = {file, tune, tunes};
  file = {bytes, name, called};
  tune = tunes = null;
  const restore = fresh();
  if (await answer(true)) return;
  ({file, tune, tunes} = before);
  restore();
}

// Asks for the answer to the present choices and shows it. Returns whether the file could be read.
async function answer(first) {
  document.body.classList.add("waiting");
  const found = await ask(file.bytes, question(0), true);
  if (!found) return true;
  document.body.classList.remove("waiting");
  // The player has left for another file meanwhile.
  if (!first && document.body.dataset.screen === "begin") return true;
  trouble(found.error ? `${file.called}: ${found.error}` : "");
  if (found.tunes) {
    tunes = found.tunes;
    list(file.name, tunes, choice => { tune = choice; fresh(); answer(true); });
    turnTo("tunes");
    find("tunes-title").focus({preventScroll: true});
    scrollTo(0, 0);
  }
  if (found.shown) {
    row = 0;
    title = found.shown.title;
    offer(found.shown);
    find("chosen").textContent = said();
    find("checked").replaceChildren();
    await show(found.shown, () => turnTo("answer"), choose);
    find("news").textContent = find("headline").textContent;
    if (first) {
      find("title").focus({preventScroll: true});
      scrollTo(0, 0);
    }
  }
  return !found.error;
}

async function choose(wanted) {
  // The next answer, which is on its way, has other rows.
  if (document.body.classList.contains("waiting")) return;
  const found = await ask(file.bytes, question(wanted), true);
  if (!found || !found.shown) return;
  row = wanted;
  await change(found.shown, wanted);
}

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
  if (found.check) find("checked").innerHTML = found.check;
  else find("checked").textContent = found.error;
});

// On a desk there is room for the choices beside the sheet.
const desk = matchMedia("(min-width: 64rem)");
const room = () => { find("bag").open = desk.matches; };
desk.addEventListener("change", room);
room();
turnTo("begin");
