"use strict";
// The page works without this: pictures and tables stand in it. With it a mark tells its numbers when it is pointed
// at, tapped or reached by keys, and choosing a kit marks it in every picture and keeps its frames alone.

const page = {
  kit: null, // the chosen kit's id, or null for all
};

const all = (selector, within = document) => Array.from(within.querySelectorAll(selector));

// ---- a mark tells its numbers in the line below its picture

function tell(mark) {
  const figure = mark.closest("figure");
  for (const other of all(".told-now", figure)) other.classList.remove("told-now");
  mark.classList.add("told-now");
  figure.querySelector(".told span").textContent = mark.getAttribute("aria-label");
  const button = figure.querySelector(".told button");
  button.hidden = mark.dataset.kit === undefined;
  if (button.hidden) return;
  button.dataset.kit = mark.dataset.kit;
  labelButton(button);
}

function labelButton(button) {
  const chosen = Number(button.dataset.kit) === page.kit;
  button.textContent = chosen ? "Show all kits" : `Mark ${kitName(Number(button.dataset.kit))} everywhere`;
  button.setAttribute("aria-pressed", String(chosen));
}

function kitName(kit) {
  const named = document.querySelector(`button[data-kit="${kit}"]:not(.choose)`);
  return named ? named.textContent.trim() : "this kit";
}

function markOf(event) {
  return event.target.closest(".tells");
}

// One stop of the Tab key a picture; arrow keys step from mark to mark.
function step(mark, key) {
  const marks = all(".tells", mark.closest("svg"));
  const place = marks.indexOf(mark);
  const next = {
    ArrowRight: place + 1, ArrowDown: place + 1, ArrowLeft: place - 1, ArrowUp: place - 1,
    Home: 0, End: marks.length - 1,
  }[key];
  if (next === undefined || !marks[next]) return next !== undefined;
  mark.tabIndex = -1;
  marks[next].tabIndex = 0;
  marks[next].focus();
  return true;
}

function toggle(kit) {
  choose(kit === page.kit ? null : kit);
}

// ---- a chosen kit stands out in every picture

function markPictures() {
  for (const part of all(".drawing [data-kit]")) {
    part.classList.toggle("faded", page.kit !== null && Number(part.dataset.kit) !== page.kit);
    if (part.getAttribute("role") === "button") {
      part.setAttribute("aria-pressed", String(Number(part.dataset.kit) === page.kit));
    }
  }
  for (const button of all(".told button[data-kit]")) labelButton(button);
  const line = document.getElementById("chosen");
  line.hidden = page.kit === null;
  if (!line.hidden) line.querySelector("span").textContent = `Marked, and its frames alone listed: ${kitName(page.kit)}.`;
}

// ---- start

for (const drawing of all(".drawing")) {
  for (const [place, mark] of all(".tells", drawing).entries()) {
    mark.tabIndex = place === 0 ? 0 : -1;
    if (mark.dataset.kit !== undefined) {
      mark.setAttribute("role", "button");
      mark.setAttribute("aria-pressed", "false");
    }
  }
}
for (const how of all(".how")) {
  how.textContent = window.matchMedia("(hover: hover)").matches
    ? "Point at a mark, or step to it with the arrow keys, for its numbers."
    : "Tap a mark for its numbers.";
}
document.addEventListener("pointerover", (event) => {
  if (markOf(event)) tell(markOf(event));
});
document.addEventListener("focusin", (event) => {
  if (markOf(event)) tell(markOf(event));
});
document.addEventListener("click", (event) => {
  const mark = markOf(event);
  if (!mark) return;
  tell(mark);
  // A tap only tells: the button beside the numbers chooses.
  if (event.pointerType === "mouse" && mark.dataset.kit !== undefined) toggle(Number(mark.dataset.kit));
});
document.addEventListener("keydown", (event) => {
  const mark = markOf(event);
  if (!mark) return;
  const chooses = (event.key === "Enter" || event.key === " ") && mark.dataset.kit !== undefined;
  if (chooses) toggle(Number(mark.dataset.kit));
  if (chooses || step(mark, event.key)) event.preventDefault();
});
document.querySelector("#chosen button").addEventListener("click", () => choose(null));
