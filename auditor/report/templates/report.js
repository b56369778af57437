"use strict";
// The page works without this: pictures and tables stand in it. With it, hovering tells the numbers, choosing
// a kit marks it in every picture and keeps its frames alone, and the lists sort and filter.

const page = {
  kit: null, // the chosen kit's id, or null for all
  views: [], // the pictures that are drawn so far
};

const all = (selector, within = document) => Array.from(within.querySelectorAll(selector));

// ---- hovering

const hover = document.getElementById("hover");

function tell(_handler, event, _item, text) {
  if (!text) {
    hover.hidden = true;
    return;
  }
  hover.textContent = text;
  hover.hidden = false;
  const room = 12;
  const left = Math.min(event.clientX + room, window.innerWidth - hover.offsetWidth - room);
  const above = event.clientY - hover.offsetHeight - room;
  hover.style.left = `${Math.max(room, left)}px`;
  hover.style.top = `${above > 0 ? above : event.clientY + room}px`;
}

// ---- pictures

async function draw(place) {
  const spec = JSON.parse(document.getElementById(`spec-${place.id}`).textContent);
  const { view } = await window.vegaEmbed(place, spec, {
    mode: "vega-lite",
    ast: true, // expressions are interpreted: the page's policy lets no text be run as code
    actions: false,
    renderer: "svg",
    defaultStyle: false,
    tooltip: tell,
  });
  page.views.push(view);
  view.addEventListener("click", (_event, item) => {
    const kit = item && item.datum ? item.datum.kit : undefined;
    if (kit !== undefined) choose(kit === page.kit ? null : kit);
  });
  mark(view);
  place.dataset.drawn = "yes";
}

function mark(view) {
  view.signal("chosen", page.kit).runAsync();
}

function drawWhenNear() {
  if (!window.vegaEmbed) return; // a copy without the charting library: its pictures stand still
  const observer = new IntersectionObserver(
    (entries) => {
      for (const entry of entries) {
        if (!entry.isIntersecting) continue;
        observer.unobserve(entry.target);
        draw(entry.target);
      }
    },
    { rootMargin: "600px" },
  );
  for (const place of all(".drawn")) observer.observe(place);
}

drawWhenNear();
