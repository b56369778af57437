// Marking bursts on the chart of light: the step goes on the chart before anything is kept.

const STOPS = { 1.4: 1, 2: 2 };

for (const form of document.querySelectorAll("form.light")) {
  const boxes = [...form.querySelectorAll("input[name=burst]")];
  const between = form.querySelector("[data-do=between]");
  const told = form.querySelector("[data-told]");
  const stop = Number(form.dataset.stop);

  const marked = () => boxes.filter((box) => box.checked);

  function redraw() {
    const what = form.querySelector("input[name=what]:checked")?.value;
    for (const box of boxes) {
      const point = form.querySelector(`[data-point="${box.value}"]`);
      if (!point) continue;
      const up = box.checked ? (STOPS[what] ?? 0) * stop : 0;
      const [was, now] = point.children;
      now.setAttribute("cy", Number(was.getAttribute("cy")) - up);
      now.classList.toggle("marked", box.checked);
    }
    const count = marked().length;
    if (between) {
      const places = marked().map((box) => boxes.indexOf(box));
      between.hidden = count < 2 || places.at(-1) - places[0] + 1 === count;
    }
    if (told) told.textContent = count ? `${count} ${count === 1 ? "burst" : "bursts"} marked` : "";
  }

  between?.addEventListener("click", () => {
    const places = marked().map((box) => boxes.indexOf(box));
    boxes.slice(places[0], places.at(-1) + 1).forEach((box) => { box.checked = true; });
    redraw();
  });
  form.addEventListener("change", redraw);
  redraw();
}
