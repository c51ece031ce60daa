// A photo to look at closely: pinch, drag, wheel and buttons move the window of an SVG.

const MOST_CLOSE = 40;
const TAP_PX = 8;
const STEP = 1.5;
const NUMBER_PX = 11;

export class View {
  constructor(svg, { onTap }) {
    this.svg = svg;
    this.onTap = onTap;
    this.all = svg.dataset.window.split(" ").map(Number);
    this.window = [...this.all];
    this.fingers = new Map();
    this.moved = 0;
    svg.addEventListener("pointerdown", (event) => this.down(event));
    svg.addEventListener("pointermove", (event) => this.move(event));
    for (const name of ["pointerup", "pointercancel"]) svg.addEventListener(name, (event) => this.up(event));
    svg.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    new ResizeObserver(() => this.draw()).observe(svg);
    this.draw();
  }

  // Photo pixels to a pixel of the screen: the window is shown whole, in the middle.
  get scale() {
    const box = this.svg.getBoundingClientRect();
    return Math.max(this.window[2] / (box.width || 1), this.window[3] / (box.height || 1));
  }

  place(x, y) {
    const matrix = this.svg.getScreenCTM();
    const point = new DOMPoint(x, y).matrixTransform(matrix.inverse());
    return [point.x, point.y];
  }

  draw() {
    this.svg.setAttribute("viewBox", this.window.join(" "));
    this.svg.classList.toggle("close", this.window[2] < this.all[2] * 0.98);
    this.label();
  }

  // Numbers keep their size on the screen. One that would run into another is left out until there is room.
  label() {
    const size = NUMBER_PX * this.scale;
    const marks = [...this.svg.querySelectorAll(".mark:not(.other)")];
    const first = (mark) => mark.matches(".chosen, .off, .picked");
    const placed = [];
    for (const mark of [...marks.filter(first), ...marks.filter((each) => !first(each))]) {
      const text = mark.querySelector("text");
      const [x, y] = [Number(mark.dataset.x), Number(mark.dataset.y)];
      const hits = placed.some(([px, py]) => Math.abs(px - x) < 2 * size && Math.abs(py - y) < 1.15 * size);
      text.setAttribute("font-size", size);
      text.classList.toggle("unseen-mark", hits && !first(mark));
      if (!hits) placed.push([x, y]);
    }
  }

  zoom(factor, x, y) {
    const width = Math.min(Math.max(this.window[2] / factor, this.all[2] / MOST_CLOSE), this.all[2] * 3);
    const by = width / this.window[2];
    this.window = [
      x - (x - this.window[0]) * by,
      y - (y - this.window[1]) * by,
      width,
      this.window[3] * by,
    ];
    this.draw();
  }

  closer(factor = STEP) {
    this.zoom(factor, this.window[0] + this.window[2] / 2, this.window[1] + this.window[3] / 2);
  }

  farther() {
    this.closer(1 / STEP);
  }

  reset() {
    this.window = [...this.all];
    this.draw();
  }

  show(x, y) {
    const [left, top, width, height] = this.window;
    if (x > left && x < left + width && y > top && y < top + height) return;
    this.window = [x - width / 2, y - height / 2, width, height];
    this.draw();
  }

  down(event) {
    this.fingers.set(event.pointerId, [event.clientX, event.clientY]);
    this.moved = this.fingers.size > 1 ? Infinity : 0;
  }

  move(event) {
    const before = this.fingers.get(event.pointerId);
    if (!before) return;
    const now = [event.clientX, event.clientY];
    this.moved += Math.hypot(now[0] - before[0], now[1] - before[1]);
    if (this.moved < TAP_PX) return;
    if (!this.svg.hasPointerCapture(event.pointerId)) this.svg.setPointerCapture(event.pointerId);
    if (this.fingers.size === 1) this.drag(before, now);
    else this.pinch(event.pointerId, now);
    this.fingers.set(event.pointerId, now);
  }

  drag(before, now) {
    const scale = this.scale;
    this.window[0] -= (now[0] - before[0]) * scale;
    this.window[1] -= (now[1] - before[1]) * scale;
    this.draw();
  }

  pinch(moving, now) {
    const [still] = [...this.fingers].filter(([id]) => id !== moving).map(([, at]) => at);
    const before = this.fingers.get(moving);
    const apart = (one, other) => Math.hypot(one[0] - other[0], one[1] - other[1]);
    const factor = apart(now, still) / Math.max(apart(before, still), 1);
    const middle = this.place((now[0] + still[0]) / 2, (now[1] + still[1]) / 2);
    this.drag(before, [(before[0] + now[0]) / 2, (before[1] + now[1]) / 2]);
    this.zoom(factor, ...middle);
  }

  up(event) {
    const wasTap = event.type === "pointerup" && this.fingers.size === 1 && this.moved < TAP_PX;
    this.fingers.delete(event.pointerId);
    if (wasTap) this.onTap(...this.place(event.clientX, event.clientY), this);
  }

  wheel(event) {
    if (!event.ctrlKey && !this.svg.classList.contains("close")) return;
    event.preventDefault();
    this.zoom(event.deltaY < 0 ? 1.2 : 1 / 1.2, ...this.place(event.clientX, event.clientY));
  }
}
