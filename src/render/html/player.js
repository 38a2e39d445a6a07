// The player: plays the approach on the stage, and lights up the notes that sound. The data gives each note's time,
// pitches and name; the script turns them into sound and light. A page passes in the data, the element with the sheet
// and the strip, and a function that chooses another row of the ranking. `pick` is called when the user taps a note of
// the sheet while nothing plays, or presses "h", but not on the music stand. Without `pick`, playing starts at the
// tapped note. `row` is the row on the stage, and `kept` is the state of the previous player, if there was one.
function practise(given) {
"use strict";

const {data, stage, choose, pick, row = 0, kept} = given;
const {notes, bars} = data;
const count = notes.at.length;
const find = id => document.getElementById(id);
const controls = ["play", "stop", "place", "now", "tempo", "speed", "loop", "from", "to", "repeats", "count", "clicks", "said", "single", "keys",
  "train", "train-from", "train-step", "train-to", "along", "level", "more"];
const ui = Object.fromEntries(controls.map(id => [id, find(id)]));
const calm = matchMedia("(prefers-reduced-motion: reduce)");
// Removes the listeners of this player when the page shows another answer.
const closing = new AbortController();
const on = (target, event, act) => target.addEventListener(event, act, {signal: closing.signal});

const sound = instrument();
const stand = musicStand(stage);

// ---- The approach on the stage.

let chosen = row;
let marked = new Map();
// A sheet beside the stage with other ways to play the tune, and the index of the way that is heard: -1 is the way on
// the stage.
let beside = null, others = [], heard = -1;
const played = () => heard < 0 ? data.rows[chosen] : others[heard];

// Puts another approach on the stage, and returns the pieces of the previous approach.
function put(row, pieces) {
  const before = document.createDocumentFragment();
  const scrolled = stage.querySelector(".scroll").scrollLeft;
  light(-1);
  if (heard >= 0) pause();
  before.append(...stage.childNodes);
  stage.append(pieces);
  chosen = row;
  collect();
  stage.querySelector(".scroll").scrollLeft = scrolled;
  const radio = document.querySelector(`#ranking input[value="${row}"]`);
  radio.checked = true;
  tell(`${data.rows[row].name}`);
  if (run) restart(); else show(note);
  return before;
}

// Collects, for each note, its pieces on the sheet and the strip, or on the sheet beside the stage if a way of that
// sheet is heard. Then redraws the loop, and lays out the music stand if it is open.
function collect() {
  marked = new Map();
  const pieces = heard < 0 ? stage.querySelectorAll("[data-note]") : beside.querySelectorAll(".paper [data-note]");
  for (const piece of pieces) {
    const index = Number(piece.dataset.note);
    if (!marked.has(index)) marked.set(index, []);
    marked.get(index).push(piece);
  }
  drawLoop();
  stand.layOut();
}

// ---- Light.

let lit = -1;
// The sheet has long lines and short lines, and the style shows one kind.
const onPaper = pieces => pieces.filter(piece => piece.closest(".paper") && piece.getClientRects().length);

function light(index) {
  if (index === lit) return;
  const places = beside ? [stage, beside] : [stage];
  const all = selector => places.flatMap(place => [...place.querySelectorAll(selector)]);
  for (const piece of all(".lit")) piece.classList.remove("lit");
  const was = marked.get(lit);
  lit = index;
  for (const halo of all(".halo")) halo.remove();
  if (index < 0) return;
  const pieces = marked.get(index) || [];
  stand.follow(pieces, Boolean(run));
  for (const piece of pieces) piece.classList.add("lit");
  const way = wayOf(index);
  if (way.hole) {
    const reed = stage.querySelector(`.reed.${way.breath}[data-hole="${way.hole}"]`);
    if (reed) reed.classList.add("lit");
  }
  const holes = `.paper .hole[data-hole="${way.hole}"][data-breath="${way.breath}"][data-bend="${way.bend}"]`;
  if (heard < 0) onPaper(all(holes)).forEach(frame);
  const onSheet = onPaper(pieces);
  onSheet.forEach(frame);
  if (onSheet.length && !stand.isOpen()) follow(onSheet[0], onPaper(was || [])[0]);
}

// Draws a frame around a lit note or hole on the sheet, because some readers do not see the colour.
function frame(piece) {
  const box = piece.getBBox();
  const pad = box.width * 0.15;
  const halo = document.createElementNS("http://www.w3.org/2000/svg", "rect");
  const place = {x: box.x - pad, y: box.y - pad, width: box.width + 2 * pad, height: box.height + 2 * pad, rx: pad};
  for (const [name, value] of Object.entries(place)) halo.setAttribute(name, value.toFixed(2));
  halo.classList.add("halo");
  piece.before(halo);
}

const above = find("place").closest(".player");
const inView = piece => {
  const box = piece.getBoundingClientRect();
  return box.top >= 0 && box.bottom <= innerHeight - above.offsetHeight;
};

// Scrolls the sheet sideways to a note beyond its edge. While the tune plays, also scrolls the page to a note out of
// view, if the previous note was in view.
function follow(piece, before) {
  const paper = piece.closest(".paper");
  const box = piece.getBoundingClientRect(), frame = paper.getBoundingClientRect();
  if (box.right > frame.right - 8 || box.left < frame.left + 8) {
    paper.scrollLeft += box.left - frame.left - frame.width / 4;
  }
  if (run && before && inView(before) && !inView(piece)) {
    scrollBy({top: box.top - innerHeight / 4, behavior: calm.matches ? "auto" : "smooth"});
  }
}

const strip = () => {
  const svg = stage.querySelector(".strip");
  const left = Number(svg.dataset.left), speed = Number(svg.dataset.perSecond) / 1000;
  return {svg, lane: svg.closest(".scroll"), x: ms => left + ms * speed, ms: x => (x - left) / speed};
};

function head(ms) {
  const {svg, lane, x} = strip();
  const line = svg.querySelector(".playhead");
  const at = x(ms);
  line.setAttribute("x1", at.toFixed(1));
  line.setAttribute("x2", at.toFixed(1));
  const room = lane.clientWidth;
  if (run && !calm.matches) {
    lane.scrollLeft = at - room * 0.3;
  } else if (at < lane.scrollLeft || at > lane.scrollLeft + room * 0.95) {
    lane.scrollLeft = at - room * 0.1;
  }
}

function drawLoop() {
  const {svg, x} = strip();
  const shade = svg.querySelector(".loop");
  const {from, to} = range();
  shade.setAttribute("x", x(from).toFixed(1));
  shade.setAttribute("width", ui.loop.checked ? (x(to) - x(from)).toFixed(1) : "0");
}

// ---- Words.

const wayOf = index => played().ways[played().notes[index]];

function words(index) {
  const turn = played().awkward.includes(index) ? "; the breath turns awkwardly" : "";
  // In a repeated stretch, the text counts the passes, from the second pass on.
  const time = order().slice(0, pass + 1).filter(part => holds(part, notes.at[index])).length;
  const again = time > 1 ? `, time ${time}` : "";
  return `${notes.place[index]}${again}: ${wayOf(index).say}${turn}`;
}

function tell(text) { ui.said.textContent = text; }

// The note from which playing starts, or the note that sounds.
let note = 0;

function name(index) {
  note = index;
  ui.place.value = index;
  const text = words(index);
  ui.place.setAttribute("aria-valuetext", text);
  ui.now.textContent = text;
}

// Names a note, lights it up and moves the playhead to it, while nothing plays.
function show(index) {
  name(index);
  light(index);
  head(notes.at[index]);
}

// ---- Playing. A run is a series of stretches of the tune, placed on the clock. A run has several stretches if repeats
// or jumps are played, and new ones for each pass of a loop or of the trainer. The script schedules sounds a little
// ahead of the clock, and lights notes by the clock.

let run = null;

const rate = () => Number(ui.tempo.value) / 100;
const barAt = ms => Math.max(0, bars.findLastIndex(bar => bar.at <= ms));
const firstFrom = ms => {
  const index = notes.to.findIndex((to, index) => to > ms || notes.at[index] >= ms);
  return index < 0 ? count : index;
};

function range() {
  const from = Number(ui.from.value), to = Number(ui.to.value);
  return {from: bars[from].at, to: bars[to].to};
}

// The beats of the tune. A bar that lacks its beginning, such as a pickup, is counted as if it were whole.
const beats = bars.flatMap(bar => {
  const found = [];
  for (let k = 0; k * bar.beat < bar.lead + bar.to - bar.at; k++) {
    const at = bar.at - bar.lead + k * bar.beat;
    if (at >= bar.at - 1 && at < bar.to - 1) found.push({at, strong: k % bar.beats === 0});
  }
  return found;
});

// The stretches to play, in order, when there is no loop: without repeats, only the whole tune as written.
const whole = [[bars[0].at, data.end]];
const order = () => ui.repeats.checked ? data.order : whole;
const holds = ([from, to], ms) => from <= ms && ms < to;

// The index, in `order()`, of the stretch that is playing or in which playing will continue.
let pass = 0;

// Returns the index of the stretch in which to continue from a place: `before` if that stretch contains the place, or
// else the first stretch that does.
function passAt(ms, before) {
  const all = order();
  if (all[before] && holds(all[before], ms)) return before;
  return Math.max(0, all.findIndex(part => holds(part, ms)));
}

function stretch(from, at, pass, rate) {
  const to = ui.loop.checked ? range().to : order()[pass][1];
  return {
    from, to, at, pass, rate,
    next: firstFrom(from),
    beat: Math.max(0, beats.findIndex(beat => beat.at >= from - 1)),
    chord: Math.max(0, chords.findIndex(chord => chord.to > from)),
    end: at + (to - from) / 1000 / rate,
  };
}

// Returns the stretch after another stretch, or null after the last.
function following(now) {
  const part = order()[now.pass + 1];
  if (ui.loop.checked) return stretch(range().from, now.end, now.pass, faster(now.rate));
  if (part) return stretch(part[0], now.end, now.pass + 1, now.rate);
  // With the trainer on, the tune repeats until it has been played at the goal.
  return faster(now.rate) > now.rate ? stretch(order()[0][0], now.end, 0, faster(now.rate)) : null;
}

// ---- The trainer: each pass of the loop, or of the tune, is a little faster than the previous pass, up to a goal.

function faster(rate) {
  const goal = Number(ui["train-to"].value) / 100;
  if (!ui.train.checked || rate >= goal) return rate;
  return Math.min(goal, (Math.round(rate * 100) + Number(ui["train-step"].value)) / 100);
}

// Resets the tempo to the trainer's first tempo, if the trainer is on.
function afresh() {
  if (!ui.train.checked) return;
  ui.tempo.value = ui["train-from"].value;
  tempoWords();
}

// ---- The accompaniment: the tune's chords, struck anew in each bar, or a drone.

const chords = data.chords.flatMap(({at, to, midi}) => {
  const cuts = [at, ...bars.map(bar => bar.at).filter(start => at < start && start < to), to];
  return cuts.slice(1).map((end, k) => ({at: cuts[k], to: end, midi}));
});

// Schedules the accompaniment of a stretch: the drone, or the chords that begin before the clock time `horizon`.
function along(now, when, horizon) {
  const {moved, drone} = played();
  const held = (midi, from, to) => keepVoices(sound.hold(midi, from, to), to + 1);
  if (ui.along.value === "drone" && !now.droned) {
    now.droned = true;
    held([drone, drone + 12], now.at, now.end);
  }
  while (now.chord < chords.length && chords[now.chord].at < now.to && when(chords[now.chord].at) < horizon) {
    const {at, to, midi} = chords[now.chord++];
    const end = Math.min(when(to), now.end);
    if (ui.along.value === "chords" && end > when(at)) held(midi.map(pitch => pitch + moved), when(at), end);
  }
}

const keepVoices = (sources, end) => run.voices.push(...sources.map(source => ({source, end})));

function start(from, counted) {
  halt();
  sound.begin(Number(ui.level.value) / 100);
  const looped = range();
  if (ui.loop.checked && !(from >= looped.from && from < looped.to)) from = looped.from;
  pass = passAt(from, pass);
  const speed = rate();
  run = {stretches: [], cues: [], counts: [], voices: [], over: Infinity};
  let at = sound.clock() + 0.1;
  if (counted) {
    const bar = bars[barAt(from)];
    const lead = bar.lead + from - bar.at;
    for (let k = 0; k * bar.beat < lead - 1; k++) {
      const when = at + k * bar.beat / 1000 / speed;
      keepVoices(sound.click(when, k % bar.beats === 0), when + 1);
      run.counts.push({when, word: k % bar.beats + 1});
    }
    at += lead / 1000 / speed;
  }
  run.stretches.push(stretch(from, at, pass, speed));
  ahead();
  run.timer = setInterval(ahead, 50);
  run.frame = requestAnimationFrame(lights);
  document.body.dataset.state = "playing";
  ui.play.textContent = "Pause";
}

// Schedules the sounds of the next moment. The browser wakes a hidden page less often, so the script then prepares
// sounds further ahead.
function ahead() {
  const horizon = sound.clock() + (document.hidden ? 2 : 0.25);
  for (;;) {
    const now = run.stretches[run.stretches.length - 1];
    const when = ms => now.at + (Math.max(ms, now.from) - now.from) / 1000 / now.rate;
    while (now.next < count && notes.at[now.next] < now.to && when(notes.at[now.next]) < horizon) {
      const index = now.next++;
      const from = when(notes.at[index]), to = Math.min(when(notes.to[index]), now.end);
      if (to <= from) continue;
      run.cues.push({index, from, to});
      const {midi} = wayOf(index);
      if (midi !== null) keepVoices(sound.reed(midi, from, to), to + 1);
    }
    while (now.beat < beats.length && beats[now.beat].at < now.to && when(beats[now.beat].at) < horizon) {
      const beat = beats[now.beat++];
      const at = when(beat.at);
      if (ui.clicks.checked) keepVoices(sound.click(at, beat.strong), at + 1);
    }
    along(now, when, horizon);
    if (now.end >= horizon) break;
    const next = following(now);
    if (!next) {
      run.over = now.end;
      break;
    }
    run.stretches.push(next);
  }
  const past = sound.clock() - 1;
  run.voices = run.voices.filter(voice => voice.end > past);
  run.cues = run.cues.filter(cue => cue.to > past);
  while (run.stretches.length > 1 && run.stretches[1].at < past) run.stretches.shift();
}

const stretchAt = time => run.stretches.findLast(stretch => stretch.at <= time) || run.stretches[0];

// Returns the place in the tune, in milliseconds, at a clock time.
function position(time) {
  const now = stretchAt(time);
  return Math.min(now.to, now.from + Math.max(0, time - now.at) * 1000 * now.rate);
}

function lights() {
  if (!run) return;
  const time = sound.heard();
  const now = stretchAt(time);
  pass = now.pass;
  const percent = Math.round(now.rate * 100);
  if (percent !== Number(ui.tempo.value)) {
    ui.tempo.value = percent;
    tempoWords();
    tell(`${percent} %`);
  }
  if (time >= run.over + 0.1) {
    stop();
    tell("The end");
    return;
  }
  const cue = run.cues.findLast(cue => cue.from <= time && time < cue.to);
  if (cue) {
    if (cue.index !== note || lit !== cue.index) name(cue.index);
    light(cue.index);
  } else {
    light(-1);
  }
  const counted = run.counts.findLast(count => count.when <= time);
  if (counted && time < run.stretches[0].at) ui.now.textContent = `Count in: ${counted.word}`;
  head(position(time));
  run.frame = requestAnimationFrame(lights);
}

// Silences the player and keeps the place.
function halt() {
  if (!run) return;
  clearInterval(run.timer);
  cancelAnimationFrame(run.frame);
  for (const {source} of run.voices) {
    try { source.stop(); } catch { /* the source has ended */ }
  }
  run = null;
  document.body.dataset.state = "still";
  ui.play.textContent = "Play";
}

function pause() {
  const at = position(sound.heard());
  halt();
  hearStage();
  show(Math.min(count - 1, firstFrom(at)));
}

function stop() {
  halt();
  hearStage();
  const first = ui.loop.checked ? firstFrom(range().from) : 0;
  pass = 0;
  afresh();
  show(Math.min(count - 1, first));
}

// Plays another way, shown beside the stage, from the same place. If this way is playing already, pauses it.
function hear(index) {
  if (heard === index && run) {
    pause();
    return;
  }
  const at = run ? position(sound.heard()) : notes.at[note];
  light(-1);
  heard = index;
  collect();
  start(at, false);
  tellHeard();
}

function hearStage() {
  if (heard < 0) return;
  light(-1);
  heard = -1;
  collect();
  tellHeard();
}

function tellHeard() {
  for (const button of beside.querySelectorAll("[data-hear]")) {
    button.setAttribute("aria-pressed", Number(button.dataset.hear) === heard);
  }
}

// Takes over a sheet that the page shows beside the stage, and the ways to play it, so that its notes are lit and its
// ways can be heard; null gives the sheet up.
function place(element, rows) {
  if (heard >= 0) pause();
  light(-1);
  [beside, others] = [element, rows || []];
  if (!run) show(note);
}

// Scrolls the page to the note on the sheet when playing starts, unless the note or the strip is in view.
function reveal() {
  const piece = onPaper(marked.get(note) || [])[0];
  const seen = stage.querySelector(".harp").getBoundingClientRect();
  const stripSeen = seen.top < innerHeight / 2 && seen.bottom > innerHeight / 4;
  if (!piece || inView(piece) || stripSeen) return;
  scrollBy({top: piece.getBoundingClientRect().top - innerHeight / 4, behavior: calm.matches ? "auto" : "smooth"});
}

function toggle() {
  if (run) {
    pause();
    tell(`Paused at ${notes.place[note]}`);
  } else {
    reveal();
    start(notes.at[note] <= bars[0].at ? bars[0].at : notes.at[note], ui.count.checked);
    const silent = sound.isThere() ? "" : "; this browser makes no sound here, but the notes light up in time";
    tell(`Playing from ${notes.place[note]}${silent}`);
  }
}

// Continues a run from the same place after a change of a setting or of the approach. If the change came during the
// count-in, counts in again.
function restart() {
  if (run) start(position(sound.heard()), sound.heard() < run.stretches[0].at);
}

function seek(index, play) {
  index = Math.max(0, Math.min(count - 1, index));
  pass = passAt(notes.at[index], pass);
  if (run) {
    name(index);
    start(notes.at[index], false);
  } else {
    show(index);
    if (play) toggle();
  }
}

// ---- Controls.

function tempoWords() {
  const percent = Number(ui.tempo.value);
  const quarters = Math.round(data.tempo * percent / 100);
  const dotted = "dotted" in ui.speed.dataset;
  ui.speed.textContent = `${percent} %, ${dotted ? "dotted quarter" : "quarter"} = ${dotted ? Math.round(quarters * 2 / 3) : quarters}`;
  ui.tempo.setAttribute("aria-valuetext", `${percent} per cent, ${quarters} quarters a minute`);
}

function setTempo(percent) {
  ui.tempo.value = percent;
  tempoWords();
  restart();
}

function setLoop(from, to) {
  ui.from.value = Math.min(from, to);
  ui.to.value = Math.max(from, to);
  ui.loop.checked = true;
  loopChanged();
}

loopByDragging(stage, index => notes.bar[index], closing.signal, (from, to) => {
  setLoop(from, to);
  tell(`Loop from bar ${ui.from.selectedOptions[0].text} to ${ui.to.selectedOptions[0].text}`);
});

function loopChanged() {
  if (Number(ui.to.value) < Number(ui.from.value)) ui.to.value = ui.from.value;
  drawLoop();
  if (run) restart(); else if (ui.loop.checked) stop();
}

on(ui.play, "click", toggle);
on(ui.stop, "click", () => { stop(); tell("Stopped"); });
on(ui.place, "input", () => seek(Number(ui.place.value), false));
on(ui.tempo, "input", () => setTempo(Number(ui.tempo.value)));
on(ui.loop, "change", loopChanged);
on(ui.repeats, "change", () => { pass = 0; restart(); });
on(ui.from, "change", () => { ui.loop.checked = true; loopChanged(); });
on(ui.to, "change", () => {
  if (Number(ui.to.value) < Number(ui.from.value)) ui.from.value = ui.to.value;
  ui.loop.checked = true;
  loopChanged();
});
for (const id of ["train", "train-from", "train-step", "train-to"]) on(ui[id], "change", () => {
  if (id !== "train") ui.train.checked = true;
  afresh();
  restart();
});
on(ui.along, "change", restart);
on(ui.level, "input", () => sound.loud(Number(ui.level.value) / 100));
const unfold = open => {
  document.body.classList.toggle("more", open);
  ui.more.setAttribute("aria-expanded", open);
};
on(ui.more, "click", () => unfold(!document.body.classList.contains("more")));
unfold(document.body.classList.contains("more"));
on(find("ranking"), "change", event => choose(Number(event.target.value)));

on(stage, "click", event => {
  if (stand.isOpen()) {
    stand.turn(event.clientX < innerWidth / 3 ? -1 : 1);
    return;
  }
  const button = event.target.closest("button.practise");
  if (button) {
    const bar = Number(button.dataset.bar);
    const percent = Number(button.dataset.percent || 100);
    // The tempo is rounded down to a step of the slider, and is at most 100 %.
    ui.tempo.value = ui["train-from"].value = Math.min(100, Math.floor(percent / 5) * 5);
    tempoWords();
    halt();
    setLoop(bar, bar);
    toggle();
    return;
  }
  const index = noteAt(event);
  if (index === null) return;
  if (pick && !run && event.target.closest(".paper")) {
    seek(index, false);
    pick(index);
  } else seek(index, true);
});

// Returns the note that was clicked. Notes are small, so a click beside the notes gives the nearest note of the sheet
// within 60 pixels, or the next note of the strip. Returns null if there is no note nearby.
function noteAt(event) {
  const hit = event.target.closest("[data-note]");
  if (hit) return Number(hit.dataset.note);
  if (event.target.closest(".strip")) {
    const {svg, ms} = strip();
    const at = ms(event.clientX - svg.getBoundingClientRect().left);
    return Math.min(count - 1, firstFrom(at));
  }
  if (!event.target.closest(".paper svg")) return null;
  let nearest = null, least = 60;
  for (const [index, pieces] of marked) {
    for (const piece of onPaper(pieces)) {
      const box = piece.getBoundingClientRect();
      const dx = Math.max(box.left - event.clientX, 0, event.clientX - box.right);
      const dy = Math.max(box.top - event.clientY, 0, event.clientY - box.bottom);
      if (Math.hypot(dx, dy) < least) [nearest, least] = [index, Math.hypot(dx, dy)];
    }
  }
  return nearest;
}

const flip = box => { box.checked = !box.checked; box.dispatchEvent(new Event("change")); };
// The keys that work only while the music stand is open.
const STAND = ["Escape", "PageDown", "PageUp"];
const ARROWS = ["ArrowLeft", "ArrowRight"];
const keys = {
  "p": toggle,
  " ": toggle,
  "s": () => { stop(); tell("Stopped"); },
  "ArrowLeft": () => seek(note - 1, false),
  "ArrowRight": () => seek(note + 1, false),
  "-": () => setTempo(Number(ui.tempo.value) - 5),
  "+": () => setTempo(Number(ui.tempo.value) + 5),
  "=": () => setTempo(Number(ui.tempo.value) + 5),
  "[": () => setLoop(notes.bar[note], Math.max(notes.bar[note], Number(ui.to.value))),
  "]": () => setLoop(Math.min(notes.bar[note], Number(ui.from.value)), notes.bar[note]),
  "l": () => { flip(ui.loop); tell(ui.loop.checked ? "Loop on" : "Loop off"); },
  "r": () => { flip(ui.repeats); tell(ui.repeats.checked ? "Repeats on" : "Repeats off"); },
  "c": () => { flip(ui.count); tell(ui.count.checked ? "Count-in on" : "Count-in off"); },
  "m": () => { flip(ui.clicks); tell(ui.clicks.checked ? "Click on" : "Click off"); },
  "t": () => { flip(ui.train); tell(ui.train.checked ? "Faster each time" : "The same tempo each time"); },
  "b": () => {
    const sounds = [...ui.along.options];
    ui.along.value = sounds[(ui.along.selectedIndex + 1) % sounds.length].value;
    restart();
    tell(`Accompaniment: ${ui.along.selectedOptions[0].text}`);
  },
  "f": () => { if (stand.isOpen()) stand.close(); else stand.open(); },
  "Escape": () => stand.close(),
  "PageDown": () => stand.turn(1),
  "PageUp": () => stand.turn(-1),
  "h": () => { if (pick && !stand.isOpen()) { if (run) pause(); pick(note); } },
  "?": () => { ui.keys.open = !ui.keys.open; if (ui.keys.open) ui.keys.scrollIntoView(); },
};
for (let row = 0; row < data.rows.length; row++) keys[String((row + 1) % 10)] = () => choose(row);

// Whether the focus came from a click or a touch. If so, Space plays; after Tab, Space operates the control that has
// the focus.
let pointed = Boolean(kept && kept.pointed);
document.addEventListener("pointerdown", () => { pointed = true; }, {capture: true, signal: closing.signal});

// Whether the element with the focus needs a key for itself.
function isOwn(key, at) {
  if (at.closest("textarea, input:not([type=range], [type=radio], [type=checkbox], [type=number])")) return true;
  if (key !== " " && at.closest("[type=number]")) return true;
  if (key === " ") return !pointed && at.closest("button, summary, select, [type=checkbox], [type=radio]:not(:checked), [type=file]");
  return at.closest("select") || ARROWS.includes(key) && at.closest("input, [role=region]");
}

on(document, "keydown", event => {
  if (event.key === "Tab") pointed = false;
  if (!ui.single.checked || document.querySelector("dialog[open]") || event.ctrlKey || event.altKey || event.metaKey) return;
  const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  if (!keys[key] || isOwn(key, event.target)) return;
  if (STAND.includes(key) && !stand.isOpen()) return;
  event.preventDefault();
  if (!(key === " " && event.repeat)) keys[key]();
});
// Without this listener, the browser would press the button that was clicked last when Space is released.
on(document, "keyup", event => {
  if (event.key === " " && ui.single.checked && !isOwn(" ", event.target)) event.preventDefault();
});

// A change of the width, for instance when a phone is turned, may switch between the long and the short lines.
const relight = () => { light(-1); if (!run) show(note); };
on(matchMedia("(max-width: 46rem)"), "change", relight);
document.body.dataset.state = "still";
const VALUES = ["tempo", "train-from", "train-step", "train-to", "level", "along"];
const SWITCHES = ["repeats", "count", "clicks", "single", "train"];
if (kept) {
  for (const id of VALUES) ui[id].value = kept[id];
  for (const id of SWITCHES) ui[id].checked = kept[id];
  // The page of another tune may not have the kept accompaniment, because the tune has no chords.
  if (!ui.along.value) ui.along.value = "nothing";
}
collect();
tempoWords();
// The player keeps its place if this answer has as many notes as the previous answer, which is mostly of the same tune.
show(kept && kept.notes === count ? kept.note : 0);

// The state that the player keeps for the next answer.
const keep = () => ({
  ...Object.fromEntries(VALUES.map(id => [id, ui[id].value])), ...Object.fromEntries(SWITCHES.map(id => [id, ui[id].checked])),
  pointed, note, notes: count,
});
const close = () => { stand.end(); halt(); closing.abort(); sound.end(); };
return {put, collect, redraw: () => { collect(); relight(); }, keep, close, toggle, hear, place, at: () => note};
}
