// The form with the player's choices: the choices sent to the library, and those kept for the next visit.

const form = document.getElementById("choices");
const KEPT = ["player", "bends", "style", "changes", "tab_style", "bend_mark", "over_mark"];
const TUNE = ["part", "voice", "key", "position", "octave", "register", "tempo"];
const TICKS = ["unfold", "every_note"];
const NUMBERS = ["part", "voice", "position", "octave", "tempo"];
const STORE = "breathline";
// The keys from the lowest harp to the highest, which is the order in which harps are sold.
const KEYS = ["G", "Ab", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#"];
const shownKey = key => key.replace(/^([A-G])b/, "$1♭").replace(/^([A-G])#/, "$1♯");

function option(value, text) {
  const made = document.createElement("option");
  made.value = value;
  made.textContent = text;
  return made;
}

// The library's names of the tunings other than Richter. In the name of a minor harp, the key is its minor key.
const TUNINGS = ["natural-minor", "harmonic-minor", "paddy-richter", "country", "major-seventh", "solo", "circular", "diminished"];
const spoken = name => name.replace(/[-:]/g, " ").replace(/(^|\s)([A-G])([b#]?)(m?)(?=\s|$)/, (_, before, letter, sign, minor) =>
  `${before}${shownKey(letter + sign)}${minor}`);

// Makes a box to tick for each of the twelve keys of a kind of harp. `value` gives the harp's name for a key.
function harpCase(holder, value) {
  for (const key of KEYS) {
    const label = document.createElement("label");
    const box = Object.assign(document.createElement("input"), {type: "checkbox", name: "harps", value: value(key)});
    box.setAttribute("aria-label", `${spoken(box.value)} harp`);
    const text = document.createElement("span");
    text.textContent = shownKey(key) + (/:.*minor/.test(box.value) ? "m" : "");
    label.append(box, text);
    holder.append(label);
  }
}

function fill() {
  harpCase(document.getElementById("standard"), key => key);
  harpCase(document.getElementById("low"), key => `low-${key}`);
  harpCase(document.getElementById("high"), key => `high-${key}`);
  for (const tuning of TUNINGS) {
    const fold = document.createElement("details"), name = document.createElement("summary"), holder = document.createElement("div");
    name.textContent = tuning.replace("-", " ");
    holder.className = "case";
    harpCase(holder, key => `${key}${/minor/.test(tuning) ? "m" : ""}:${tuning}`);
    fold.append(name, holder);
    document.getElementById("tunings").append(fold);
  }
  form.elements.part.append(option("", "the likeliest"));
  form.elements.position.append(option("", "the best"), ...Array.from({length: 12}, (_, k) => option(k + 1, String(k + 1))));
  const key = form.elements.key;
  key.append(option("", "as found"));
  for (const [mode, write] of [["major", "$"], ["minor", "$m"], ["Dorian", "$ Dorian"], ["Mixolydian", "$ Mixolydian"]]) {
    const group = document.createElement("optgroup");
    group.label = mode;
    for (const tonic of KEYS) group.append(option(write.replace("$", tonic), `${shownKey(tonic)} ${mode}`));
    key.append(group);
  }
}

const boxes = () => [...form.querySelectorAll("[name=harps]")];
const harps = () => boxes().filter(box => box.checked).map(box => box.value);

// Returns the choices for the library: the harps, the ticks, and every field that has a value. For an empty field the
// library makes the choice.
export function chosen() {
  const choices = {harps: harps()};
  for (const control of form.elements) {
    const {name, type, value} = control;
    if (!name || name === "harps") continue;
    if (type === "checkbox") choices[name] = control.checked;
    else if (value !== "") choices[name] = NUMBERS.includes(name) ? Number(value) : value;
  }
  return choices;
}

// Returns the harps, the player's level and the choice of any key in a few words.
export function said() {
  const owned = harps().map(spoken);
  const bag = owned.length === 0 ? "all twelve" : owned.length < 5 ? owned.join(", ") : `${owned.length} harps`;
  const more = [form.elements.player.value];
  if (form.elements.any_key.checked) more.push("any key");
  return [bag, ...more].join(" · ");
}

function keep() {
  const kept = {harps: harps(), any_key: form.elements.any_key.checked};
  for (const name of KEPT) kept[name] = form.elements[name].value;
  // A browser may refuse to store; then the choices last only for this visit.
  try { localStorage.setItem(STORE, JSON.stringify(kept)); } catch { /* see above */ }
}

function remember() {
  let kept;
  try { kept = JSON.parse(localStorage.getItem(STORE)) || {}; } catch { return; }
  const owned = Array.isArray(kept.harps) ? kept.harps : [];
  for (const box of boxes()) box.checked = owned.includes(box.value);
  form.elements.any_key.checked = kept.any_key === true;
  for (const name of KEPT) {
    const control = form.elements[name];
    if ([...control.options].some(known => known.value === kept[name])) control.value = kept[name];
  }
  for (const fold of document.querySelectorAll(".keys-owned details")) fold.open = Boolean(fold.querySelector(":checked"));
}

// Clears the choices that were made for the previous tune. Returns a function that restores them.
export function fresh() {
  const before = TUNE.map(name => form.elements[name].value), ticked = TICKS.map(name => form.elements[name].checked);
  for (const name of TUNE) form.elements[name].value = "";
  for (const name of TICKS) form.elements[name].checked = false;
  form.elements.key.options[0].textContent = "as found";
  form.elements.tempo.placeholder = "as in the file";
  return () => {
    TUNE.forEach((name, k) => { form.elements[name].value = before[k]; });
    TICKS.forEach((name, k) => { form.elements[name].checked = ticked[k]; });
  };
}

// Offers the parts, voices and repeats of the file, and shows the key and the tempo that apply without a choice.
export function offer({parts, part, voices, repeats, key, data}) {
  const select = form.elements.part;
  const asked = select.value;
  const named = parts.map(({number, name, notes}) => option(number, `${number}: ${name || "no name"}, ${notes} notes`));
  select.replaceChildren(option("", `likeliest: ${part}`), ...named);
  select.value = asked;
  select.closest("label").hidden = parts.length < 2;
  const voice = form.elements.voice, sung = voice.value;
  voice.replaceChildren(option("", "as found"), ...Array.from({length: voices}, (_, k) => option(k + 1, String(k + 1))));
  voice.value = sung;
  voice.closest("label").hidden = voices < 2;
  form.elements.unfold.closest("label").hidden = !repeats;
  const found = form.elements.key.options[0];
  if (form.elements.key.value === "") found.textContent = `as found: ${shownKey(key)}`;
  if (form.elements.tempo.value === "" && data) form.elements.tempo.placeholder = `now ${JSON.parse(data).tempo}`;
}

// Fills the form, restores the choices of the last visit, and calls back after each change of a choice.
export function begin(changed) {
  fill();
  remember();
  form.addEventListener("submit", event => event.preventDefault());
  form.addEventListener("change", event => {
    if (event.target.name === "tempo" && !event.target.reportValidity()) return;
    keep();
    changed();
  });
  document.getElementById("forget").addEventListener("click", () => {
    try { localStorage.removeItem(STORE); } catch { /* nothing was stored */ }
    const restore = fresh();
    form.reset();
    restore();
    changed();
  });
}
