// What is ticked off stays so on this phone, also without a network.

const KEPT = `strandgauge-ticks ${location.search}`;
const boxes = [...document.querySelectorAll("[data-tick]")];
let ticked = new Set();
try {
  ticked = new Set(JSON.parse(localStorage.getItem(KEPT)));
} catch {}
for (const box of boxes) {
  box.checked = ticked.has(box.dataset.tick);
  box.addEventListener("change", () => {
    const now = boxes.filter((each) => each.checked).map((each) => each.dataset.tick);
    localStorage.setItem(KEPT, JSON.stringify(now));
  });
}
