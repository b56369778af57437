// How far the work is: it goes on while no page is open, and this page says so.

const work = document.querySelector("[data-work]");
const shown = { number: Number(work.dataset.work), running: work.dataset.running === "yes" };
const line = work.querySelector("[data-line]");
const bar = work.querySelector("progress");
const stop = work.querySelector("form");

new EventSource("/progress").onmessage = (event) => {
  const now = JSON.parse(event.data);
  if (!now.number || (!now.running && !shown.running && now.number === shown.number)) return;
  work.hidden = false;
  line.textContent = now.running ? now.line : now.said;
  bar.hidden = stop.hidden = !now.running;
  if (now.total) { bar.max = now.total; bar.value = now.done; } else { bar.removeAttribute("value"); }
  const ended = !now.running && (shown.running || now.number > shown.number);
  shown.running = now.running;
  shown.number = now.number;
  if (ended) location.reload();
};
