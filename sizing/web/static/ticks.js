// What is ticked off stays so on this phone, also without a network.

const KEPT = `strandgauge-ticks ${document.body.dataset.ticks ?? location.search}`;
const boxes = [...document.querySelectorAll("[data-tick]")];
let ticked = new Set();
try {
  ticked = new Set(JSON.parse(localStorage.getItem(KEPT)));
} catch {}
for (const box of boxes) {
  box.checked = ticked.has(box.dataset.tick);
  box.addEventListener("change", () => {
    const now = boxes.filter((each) => each.checked).map((each) => each.dataset.tick);
    try {
      localStorage.setItem(KEPT, JSON.stringify(now));
    } catch {}
  });
}
// A page that was saved as a file leads nowhere.
for (const each of document.querySelectorAll("[data-at-home]")) each.hidden = location.protocol === "file:";
