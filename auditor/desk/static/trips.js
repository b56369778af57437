// The list of trips: the one-line answer of each as it is seen.

import "/static/work.js";

let queue = Promise.resolve();
const waiting = [...document.querySelectorAll("[data-trip]")];
const seen = new IntersectionObserver((entries) => {
  for (const entry of entries) {
    if (!entry.isIntersecting) continue;
    seen.unobserve(entry.target);
    queue = queue.then(() => ask(entry.target));
  }
});

async function ask(trip) {
  const answer = await fetch(`/trips/${trip.dataset.trip}/answer`).catch(() => null);
  if (answer?.ok) trip.querySelector("[data-answer]").textContent = (await answer.json()).said;
}

waiting.forEach((trip) => seen.observe(trip));
