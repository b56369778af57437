"use strict";
// Choosing a kit keeps its frames alone; walls of frames show more on asking; the table of all frames is filled
// on asking, sorts and filters. Without any of this the pictures and answers still stand in the page.

// ---- choosing a kit

function choose(kit) {
  page.kit = kit;
  markPictures();
  for (const button of all("button[data-kit]")) {
    button.setAttribute("aria-pressed", String(Number(button.dataset.kit) === kit));
  }
  for (const select of all("select[name=kit]")) select.value = kit === null ? "" : String(kit);
  for (const list of all("[data-list]")) filter(list);
}

// ---- filtering

const FIRST = 12; // of a wall, before more is asked for
const MORE = 24;

function wantedIn(list) {
  const wanted = { kit: page.kit === null ? "" : String(page.kit) };
  for (const select of all("select", list)) wanted[select.name] = select.value;
  delete wanted.order;
  return wanted;
}

function fits(entry, wanted) {
  return (
    (!wanted.kit || entry.dataset.kit === wanted.kit) &&
    (!wanted.scene || entry.dataset.scene === wanted.scene) &&
    (!wanted.verdict || entry.dataset.verdict === wanted.verdict) &&
    (!wanted.flag || entry.dataset.flags.split(" ").includes(wanted.flag)) &&
    (!wanted.best || entry.dataset.best === wanted.best)
  );
}

function filter(list) {
  const wanted = wantedIn(list);
  const entries = all("[data-frame]", list);
  const most = list.dataset.wall === undefined ? Infinity : Number(list.dataset.wall || FIRST);
  let fitting = 0;
  for (const entry of entries) {
    const fit = fits(entry, wanted);
    fitting += fit ? 1 : 0;
    entry.hidden = !fit || fitting > most;
  }
  const shown = Math.min(fitting, most);
  list.querySelector("[data-count]").textContent =
    fitting === 0 ? "No frame fits what was chosen." : `${shown} of ${entries.length} shown`;
  list.querySelector("[data-reset]").hidden = !Object.values(wanted).some(Boolean);
  const more = list.querySelector("[data-more]");
  if (!more) return;
  more.hidden = fitting <= most;
  const left = fitting - most;
  more.textContent = left > MORE ? `Show ${MORE} more of ${left}` : `Show the other ${left}`;
}

function reset(list) {
  for (const select of all("select", list)) if (select.name !== "order") select.value = "";
  if (page.kit !== null) choose(null);
  filter(list);
}

function showMore(list) {
  const before = Number(list.dataset.wall || FIRST);
  list.dataset.wall = String(before + MORE);
  const first = all("[data-frame]", list).filter((entry) => fits(entry, wantedIn(list)))[before];
  filter(list);
  first.querySelector("summary").focus();
}

// ---- sorting

// Values that are not known come last, whichever way the list is sorted.
function sort(entries, value, descending) {
  const keyed = entries.map((entry, place) => ({ entry, place, value: value(entry) }));
  keyed.sort((a, b) => {
    if (a.value === b.value) return a.place - b.place;
    if (a.value === "") return 1;
    if (b.value === "") return -1;
    const numbers = [Number(a.value), Number(b.value)];
    const order = numbers.some(Number.isNaN) ? (a.value < b.value ? -1 : 1) : numbers[0] - numbers[1];
    return descending ? -order : order;
  });
  for (const { entry } of keyed) entry.parentNode.append(entry);
}

function sortTable(header) {
  const descending = header.getAttribute("aria-sort") === "ascending";
  for (const other of all("th[aria-sort]", header.parentNode)) other.removeAttribute("aria-sort");
  header.setAttribute("aria-sort", descending ? "descending" : "ascending");
  const column = Array.from(header.parentNode.children).indexOf(header);
  const value = (row) => row.children[column].dataset.value ?? row.children[column].textContent.trim();
  sort(all("tbody tr", header.closest("table")), value, descending);
}

function makeSortable(header) {
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = header.textContent;
  button.addEventListener("click", () => sortTable(header));
  header.replaceChildren(button);
}

// ---- the table of all frames, from the rows that the page carries

function fill(list) {
  const { kits, rows } = JSON.parse(document.getElementById("frame-rows").textContent);
  const heads = all("thead th", list).map((head) => head.textContent);
  const body = list.querySelector("tbody");
  for (const row of rows) {
    const line = document.createElement("tr");
    line.dataset.frame = "";
    line.dataset.kit = row.kit;
    line.dataset.flags = row.flags;
    line.dataset.scene = row.scene ?? "";
    line.dataset.verdict = row.verdict;
    line.dataset.best = row.best ? "yes" : "";
    row.cells.splice(2, 0, kits[row.kit]);
    row.cells.forEach((cell, column) => {
      const [text, value] = Array.isArray(cell) ? cell : [cell];
      const place = document.createElement(column ? "td" : "th");
      if (column) place.dataset.label = heads[column];
      else place.scope = "row";
      if (Array.isArray(cell)) {
        place.className = "n";
        place.dataset.value = value ?? "";
      }
      if (column) place.textContent = text;
      else text.split(/(?<=\/)/).forEach((part) => place.append(part, document.createElement("wbr")));
      line.append(place);
    });
    body.append(line);
  }
  list.hidden = false;
  document.querySelector("[data-fill]").parentNode.hidden = true;
  filter(list);
  list.querySelector("select").focus();
}

// ---- true size: a pixel of the picture is a pixel of the screen

function measureScreen() {
  document.documentElement.style.setProperty("--device-pixels", String(window.devicePixelRatio || 1));
}

// ---- paper has no folds

function unfold() {
  for (const fold of all("details.method:not([open])")) {
    fold.open = true;
    window.addEventListener("afterprint", () => (fold.open = false), { once: true });
  }
}

// ---- start

window.addEventListener("beforeprint", unfold);
document.documentElement.classList.add("live");
measureScreen();
window.addEventListener("resize", measureScreen);
for (const header of all("th[data-sort]")) makeSortable(header);
for (const list of all("[data-list]")) {
  for (const select of all("select", list)) {
    select.addEventListener("change", () => {
      if (select.name === "kit") choose(select.value ? Number(select.value) : null);
      else if (select.name === "order") {
        const [key, direction] = select.value.split(" ");
        sort(all("[data-frame]", list), (entry) => entry.dataset[key], direction === "falling");
      }
      filter(list);
    });
  }
  filter(list);
}
document.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  const list = button.closest("[data-list]");
  if (button.matches("[data-kit]")) {
    const kit = Number(button.dataset.kit);
    choose(kit === page.kit ? null : kit);
  } else if (button.matches("[data-reset]")) reset(list);
  else if (button.matches("[data-more]")) showMore(list);
  else if (button.matches("[data-fill]")) fill(document.querySelector("[data-table]"));
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && page.kit !== null) choose(null);
});
