// Choosing keepers of one encounter: by pointer, touch or key.

import { Closer } from "/static/closer.js";

const told = document.getElementById("told");
const frames = [...document.querySelectorAll("[data-frame]")];
const closer = new Closer(document.getElementById("closer"));
let current = null;

function makeCurrent(frame, scroll = true) {
  current?.classList.remove("current");
  current = frame;
  frame.classList.add("current");
  const square = frame.querySelector(".square");
  if (document.activeElement !== square && scroll) square.focus();
}

async function choose(frame, choice) {
  const before = frame.dataset.choice;
  show(frame, choice);
  let said = "The desk does not answer. Start it again: what was chosen before is kept.";
  try {
    const answer = await fetch(`/frames/${frame.dataset.frame}/choice`, {
      method: "POST", body: new URLSearchParams({ choice }),
    });
    said = (await answer.json()).said;
    if (answer.ok) { told.textContent = ""; return; }
  } catch { /* said below */ }
  show(frame, before);
  told.textContent = said;
}

function show(frame, choice) {
  frame.dataset.choice = choice;
  for (const word of ["keep", "leave"]) {
    frame.querySelector(`[data-do=${word}]`).setAttribute("aria-pressed", String(choice === word));
  }
}

function toggle(frame, choice) { return choose(frame, frame.dataset.choice === choice ? "" : choice); }

function beside(frame) {
  const button = frame.querySelector("[data-do=beside]");
  button.setAttribute("aria-pressed", String(button.getAttribute("aria-pressed") !== "true"));
  const pair = frames.filter((each) => each.querySelector("[data-do=beside]").getAttribute("aria-pressed") === "true");
  if (pair.length < 2) return;
  for (const each of pair) each.querySelector("[data-do=beside]").setAttribute("aria-pressed", "false");
  closer.open(pair.slice(0, 2));
}

function keepSharpest(burst) {
  const frame = burst?.querySelector("[data-sharpest]");
  if (frame) { makeCurrent(frame); choose(frame, "keep"); }
}

// The kept pictures are grey: those in sight are asked for in colour, one after another.
let colouring = Promise.resolve();
const seen = new IntersectionObserver((entries) => {
  for (const entry of entries) {
    if (!entry.isIntersecting) continue;
    seen.unobserve(entry.target);
    colouring = colouring.then(() => colour(entry.target.querySelector("[data-square]")));
  }
}, { rootMargin: "300px" });

async function colour(image) {
  const answer = await fetch(image.dataset.square).catch(() => null);
  if (answer?.status === 200) image.setAttribute("href", image.dataset.square);
}

document.querySelectorAll(".square:has([data-square])").forEach((square) => seen.observe(square));

// The next encounter is fetched ahead, with its pictures, once this one is on the screen.
async function fetchAhead(next) {
  const answer = await fetch(next.href).catch(() => null);
  if (!answer?.ok) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const image of page.querySelectorAll("image[href]")) new Image().src = image.getAttribute("href");
}

window.addEventListener("load", () => {
  const next = document.getElementById("next");
  if (next) setTimeout(() => fetchAhead(next), 300);
});

const deeds = {
  keep: (frame) => toggle(frame, "keep"),
  leave: (frame) => toggle(frame, "leave"),
  beside,
  closer: (frame) => closer.open([frame]),
};

document.addEventListener("click", (event) => {
  const button = event.target.closest("main [data-do]");
  if (!button || button.closest("dialog")) return;
  const frame = button.closest("[data-frame]");
  if (!frame) { keepSharpest(button.closest(".burst")); return; }
  makeCurrent(frame, false);
  deeds[button.dataset.do](frame);
});

document.addEventListener("focusin", (event) => {
  const frame = event.target.closest("[data-frame]");
  if (frame && frame !== current) makeCurrent(frame, false);
});

const keys = {
  k: () => current && toggle(current, "keep"),
  l: () => current && toggle(current, "leave"),
  u: () => current && choose(current, ""),
  b: () => current && beside(current),
  s: () => keepSharpest((current ?? frames[0])?.closest(".burst")),
  n: () => document.getElementById("next")?.click(),
  p: () => document.getElementById("previous")?.click(),
  ArrowRight: () => step(1),
  ArrowLeft: () => step(-1),
};

function step(by) {
  const at = frames.indexOf(current);
  const next = frames[at < 0 ? 0 : at + by];
  if (next) { makeCurrent(next); next.scrollIntoView({ block: "nearest" }); }
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || closer.isOpen) return;
  if (event.target.closest("input, select, textarea")) return;
  const deed = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (deed) { event.preventDefault(); deed(); }
});
