// The list of a file's tunes.

const find = id => document.getElementById(id);
const plain = text => text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase();

// Shows the tunes of a file, and calls back with the choice of one.
export function list(name, tunes, choose) {
  find("tunes-title").textContent = `${name}: ${tunes.length} tunes`;
  find("sought").closest("p").hidden = tunes.length < 12;
  find("sought").value = "";
  const rows = tunes.map(tune => {
    const button = Object.assign(document.createElement("button"), {type: "button"});
    const title = document.createElement("span");
    title.textContent = tune.title || "(no title)";
    const key = Object.assign(document.createElement("span"), {className: "faint", textContent: tune.key || ""});
    button.append(title, key);
    button.addEventListener("click", () => choose(tune.choice));
    const row = document.createElement("li");
    row.append(button);
    return {row, words: plain(`${tune.title || ""} ${tune.key || ""}`)};
  });
  find("tune-list").replaceChildren(...rows.map(({row}) => row));
  find("found").textContent = "";
  find("sought").oninput = () => {
    const words = plain(find("sought").value).split(/\s+/);
    let left = 0;
    for (const {row, words: its} of rows) {
      row.hidden = !words.every(word => its.includes(word));
      left += row.hidden ? 0 : 1;
    }
    find("found").textContent = `${left} of ${tunes.length}`;
  };
}
