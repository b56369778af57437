// Lines that take a while to work out: asked for one after another, as each is seen.

export function askAsSeen(items, address, place) {
  let queue = Promise.resolve();
  const seen = new IntersectionObserver((entries) => {
    for (const entry of entries) {
      if (!entry.isIntersecting) continue;
      seen.unobserve(entry.target);
      queue = queue.then(() => ask(entry.target));
    }
  });

  async function ask(item) {
    const answer = await fetch(address(item)).catch(() => null);
    if (answer?.ok) item.querySelector(place).textContent = (await answer.json()).said;
  }

  document.querySelectorAll(items).forEach((item) => seen.observe(item));
}
