"use strict";
// Choosing a kit keeps its frames alone; lists of frames sort and filter. All of it is an extra: the page stands without.

// ---- choosing a kit

function choose(kit) {
  page.kit = kit;
  for (const view of page.views) mark(view);
  for (const button of all("button[data-kit]")) {
    button.setAttribute("aria-pressed", String(Number(button.dataset.kit) === kit));
  }
  for (const select of all("select[name=kit]")) select.value = kit === null ? "" : String(kit);
  for (const list of all("[data-list]")) filter(list);
}

// ---- filtering and sorting

function filter(list) {
  const wanted = { kit: page.kit === null ? "" : String(page.kit) };
  for (const select of all("select", list)) wanted[select.name] = select.value;
  let shown = 0;
  const entries = all("[data-frame]", list);
  for (const entry of entries) {
    const fits =
      (!wanted.kit || entry.dataset.kit === wanted.kit) &&
      (!wanted.scene || entry.dataset.scene === wanted.scene) &&
      (!wanted.verdict || entry.dataset.verdict === wanted.verdict) &&
      (!wanted.flag || entry.dataset.flags.split(" ").includes(wanted.flag)) &&
      (!wanted.best || entry.dataset.best === wanted.best);
    entry.hidden = !fits;
    shown += fits ? 1 : 0;
  }
  list.querySelector("[data-count]").textContent = `${shown} of ${entries.length} shown`;
}

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

// ---- start

document.documentElement.classList.add("live");
for (const header of all("th[data-sort]")) makeSortable(header);
for (const list of all("[data-list]")) {
  for (const select of all("select", list)) {
    select.addEventListener("change", () => {
      if (select.name === "kit") choose(select.value ? Number(select.value) : null);
      else if (select.name === "order") {
        const [key, direction] = select.value.split(" ");
        sort(all("[data-frame]", list), (entry) => entry.dataset[key], direction === "falling");
      } else filter(list);
    });
  }
  filter(list);
}
document.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-kit]");
  if (!button) return;
  const kit = Number(button.dataset.kit);
  choose(kit === page.kit ? null : kit);
});
document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  hover.hidden = true;
  if (page.kit !== null) choose(null);
});
