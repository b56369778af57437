// The answer follows the controls as they move.

const form = document.getElementById("outing");
const answer = document.getElementById("answer");
let asked = 0;
let waiting;

async function ask() {
  const number = ++asked;
  const query = new URLSearchParams(new FormData(form));
  const told = await fetch(`/mount/answer?${query}`).catch(() => null);
  if (number !== asked) return;
  const text = told ? await told.text() : "The desk does not answer. Start it again: auditor desk";
  if (number !== asked) return;
  if (told?.ok) {
    answer.innerHTML = text;
    history.replaceState(null, "", `/mount?${query}`);
  } else {
    answer.textContent = new DOMParser().parseFromString(text, "text/html").querySelector("[role=status]")?.textContent ?? text;
  }
}

form.addEventListener("input", () => { clearTimeout(waiting); waiting = setTimeout(ask, 150); });
form.addEventListener("submit", (event) => { event.preventDefault(); ask(); });
form.querySelector("button").hidden = true;
