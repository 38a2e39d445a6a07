// The other holes for a note. The library lists and prices them, and every button in its lists contains the pins that a
// click sets.

const find = id => document.getElementById(id);
const panel = find("holes");
// The pins of the tune, in the library's notation.
let pins = [];
// The selector of the element that gets the keyboard focus back after the page is redrawn.
let back = null;

export function pinned() { return pins; }

// Sets the pins; a new tune begins with none.
export function set(wanted) { pins = wanted; }

// Shows the pins of an answer.
export function list(html) {
  find("pins").innerHTML = html;
  find("pins").hidden = !html;
  document.querySelector("[data-form=pins]").hidden = !html;
}

// Shows the choice of a hole for a note of the sheet.
export function offer(html, piece) {
  const at = document.activeElement;
  back = at && at.id ? `#${at.id}` : ".paper";
  find("holes-found").innerHTML = html;
  panel.showModal();
  near(piece);
  (panel.querySelector("[aria-pressed]") || find("from-here")).focus();
}

// On a wide screen the panel appears below the note, or above it if there is no space below.
function near(piece) {
  panel.style.left = panel.style.top = "";
  if (!piece || matchMedia("(max-width: 46rem)").matches) return;
  const box = piece.getBoundingClientRect(), {width, height} = panel.getBoundingClientRect();
  const within = (at, size, room) => Math.max(8, Math.min(at, room - size - 8));
  const below = box.bottom + 12, above = box.top - height - 12;
  panel.style.left = `${within(box.left - width / 2, width, innerWidth)}px`;
  panel.style.top = `${within(below + height < innerHeight || above < 8 ? below : above, height, innerHeight)}px`;
}

// Moves the keyboard focus back after the answer to changed pins.
export function restore() {
  const place = back && document.querySelector(back);
  if (place) place.focus({preventScroll: true});
  back = null;
}

// Calls `changed` when the pins change, and `play` when the user wants to play from the note.
export function begin(changed, play) {
  for (const place of [panel, find("pins"), find("trouble")]) place.addEventListener("click", event => {
    const button = event.target.closest("[data-pins]");
    if (!button) return;
    if (place !== panel) back = "#title";
    pins = button.dataset.pins.split(";").filter(pin => pin);
    panel.close();
    changed();
  });
  // A click outside the panel closes it.
  panel.addEventListener("pointerdown", event => { if (event.target === panel) panel.close(); });
  find("holes-close").addEventListener("click", () => panel.close());
  find("from-here").addEventListener("click", () => { panel.close(); play(); });
}
