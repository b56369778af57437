// One frame, or two side by side, at 100 %: they move together.

const STEP_PX = 80;

export class Closer {
  constructor(dialog) {
    this.dialog = dialog;
    this.panes = dialog.querySelector(".panes");
    this.wholeButton = dialog.querySelector("[data-do=whole]");
    this.views = [];
    this.wholeButton.addEventListener("click", () => this.toggleWhole());
    dialog.querySelector("[data-do=close]").addEventListener("click", () => dialog.close());
    dialog.addEventListener("close", () => { this.panes.replaceChildren(); this.views = []; });
    dialog.addEventListener("keydown", (event) => this.key(event));
    window.addEventListener("resize", () => this.views.forEach((view) => view.load()));
  }

  get isOpen() { return this.dialog.open; }

  open(frames) {
    this.wholeButton.setAttribute("aria-pressed", "false");
    this.dialog.showModal();
    this.views = frames.map((frame) => new View(frame, this));
    this.panes.replaceChildren(...this.views.map((view) => view.pane));
    this.views.forEach((view) => view.load());
    this.views[0].element.focus();
  }

  move(from, right, down) {
    for (const view of this.views) view.move(right * from.angle / view.angle, down * from.angle / view.angle);
  }

  settle() { this.views.forEach((view) => view.load()); }

  toggleWhole() {
    const whole = this.wholeButton.getAttribute("aria-pressed") !== "true";
    this.wholeButton.setAttribute("aria-pressed", String(whole));
    this.views.forEach((view) => view.show(whole));
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const ways = { ArrowLeft: [-STEP_PX, 0], ArrowRight: [STEP_PX, 0], ArrowUp: [0, -STEP_PX], ArrowDown: [0, STEP_PX] };
    const way = ways[event.key];
    if (way && this.views.length) { this.move(this.views[0], ...way); this.settle(); }
    else if (event.key.toLowerCase() === "w") this.toggleWhole();
    else if (event.key.toLowerCase() === "b") this.dialog.close();
    else return;
    event.preventDefault();
  }
}

class View {
  constructor(frame, closer) {
    this.id = frame.dataset.frame;
    this.x = Number(frame.dataset.x);
    this.y = Number(frame.dataset.y);
    this.angle = Number(frame.dataset.urad) || 1;
    this.whole = false;
    this.moved = [0, 0];
    this.size = null;
    this.pane = document.createElement("div");
    this.pane.className = "pane";
    this.element = document.createElement("div");
    this.element.className = "view";
    this.element.tabIndex = 0;
    this.element.setAttribute("role", "img");
    this.element.setAttribute("aria-label", `Frame of ${frame.dataset.name} at 100 %`);
    const caption = document.createElement("p");
    caption.className = "note";
    caption.textContent = `${frame.dataset.name}: ${frame.querySelector(".focus").textContent.trim()}`;
    this.pane.append(this.element, caption);
    this.drag(closer);
  }

  drag(closer) {
    let last = null;
    this.element.addEventListener("pointerdown", (event) => {
      if (this.whole) { this.pick(event, closer); return; }
      last = [event.clientX, event.clientY];
      this.element.setPointerCapture(event.pointerId);
    });
    this.element.addEventListener("pointermove", (event) => {
      if (!last) return;
      closer.move(this, last[0] - event.clientX, last[1] - event.clientY);
      last = [event.clientX, event.clientY];
    });
    for (const kind of ["pointerup", "pointercancel"]) {
      this.element.addEventListener(kind, () => { if (last) { last = null; closer.settle(); } });
    }
  }

  // A place pressed in the whole frame is shown at 100 %.
  pick(event, closer) {
    const image = this.element.querySelector("img");
    if (!image || !this.size) return;
    const box = this.element.getBoundingClientRect();
    const scale = Math.min(box.width / this.size[0], box.height / this.size[1]);
    const left = (box.width - this.size[0] * scale) / 2, top = (box.height - this.size[1] * scale) / 2;
    this.x = Math.min(1, Math.max(0, (event.clientX - box.left - left) / (this.size[0] * scale)));
    this.y = Math.min(1, Math.max(0, (event.clientY - box.top - top) / (this.size[1] * scale)));
    closer.toggleWhole();
  }

  show(whole) { this.whole = whole; this.load(); }

  // Pixels of the frame, to the right and down; the picture follows at once, the rest of it on settling.
  move(right, down) {
    if (this.whole || !this.size) return;
    this.x = Math.min(1, Math.max(0, this.x + right / this.size[0]));
    this.y = Math.min(1, Math.max(0, this.y + down / this.size[1]));
    this.moved = [this.moved[0] - right, this.moved[1] - down];
    const image = this.element.querySelector("img");
    if (image) image.style.transform = `translate(${this.moved[0]}px, ${this.moved[1]}px)`;
  }

  async load() {
    const box = this.element.getBoundingClientRect(), dense = window.devicePixelRatio || 1;
    const width = Math.round(box.width * dense), height = Math.round(box.height * dense);
    if (!width || !height) return;
    const wanted = this.whole
      ? `/frames/${this.id}/whole.jpg?width=${width}`
      : `/frames/${this.id}/place.jpg?x=${this.x}&y=${this.y}&width=${width}&height=${height}`;
    this.wanted = wanted;
    let answer;
    try { answer = await fetch(wanted); } catch { answer = null; }
    if (this.wanted !== wanted) return;
    if (!answer?.ok) { this.say(answer ? await answer.text() : "The desk does not answer."); return; }
    this.size = [Number(answer.headers.get("X-Frame-Width")) / dense, Number(answer.headers.get("X-Frame-Height")) / dense];
    const blob = await answer.blob();
    if (this.wanted !== wanted) return;
    const image = new Image();
    image.alt = "";
    image.draggable = false;
    image.src = URL.createObjectURL(blob);
    await image.decode().catch(() => null);
    URL.revokeObjectURL(image.src);
    if (!this.whole) { image.width = image.naturalWidth / dense; image.height = image.naturalHeight / dense; }
    this.moved = [0, 0];
    this.element.classList.toggle("whole", this.whole);
    this.element.replaceChildren(image);
  }

  say(text) {
    const line = document.createElement("p");
    line.setAttribute("role", "status");
    line.textContent = text;
    this.element.replaceChildren(line);
  }
}
