// A measurement is read: a bead is tapped, the target changed, beads put right; all is answered by the server.

import { attempt, change, fieldsOf, tell } from "/static/ask.js";
import { View } from "/static/view.js";

const ALOUD = "strandgauge-aloud";
const TYPED = "strandgauge-typed";
const FINGER_PX = 22;
const byId = (id) => document.getElementById(id);
const article = document.querySelector(".reading");
const { word } = article.dataset;
let views = [];
let chosen = null; // the key of the bead that was tapped
let waiting = null; // what the next tap is for: "one bead" or "bead here"

function open(windows = []) {
  views = [...document.querySelectorAll("svg.view")].map((svg) => new View(svg, { onTap: tapped }));
  views.forEach((view, k) => {
    if (windows[k]) {
      view.window = windows[k];
      view.draw();
    }
    view.svg.addEventListener("keydown", (event) => keyed(event, view));
    const first = view.svg.querySelector(".mark");
    if (first) first.setAttribute("tabindex", "0");
    for (const button of view.svg.parentNode.querySelectorAll("[data-zoom]")) {
      button.addEventListener("click", () => view[button.dataset.zoom]());
    }
  });
  choose(chosen);
}

function showResult(html) {
  const windows = views.map((view) => view.window);
  const parts = document.createElement("template");
  parts.innerHTML = html;
  for (const part of [...parts.content.children]) byId(part.id).replaceWith(part);
  open(windows);
  document.title = document.querySelector("#advice h1").textContent;
  speak();
}

const ask = (path, values) =>
  attempt(async () => {
    const html = await change(`/m/${word}/${path}`, values);
    showResult(html);
    return html;
  });

// The bead under a finger, or the nearest to it.
function nearest(x, y, view) {
  let best = null;
  let least = Infinity;
  for (const mark of view.svg.querySelectorAll(".mark")) {
    const apart = Math.hypot(mark.dataset.x - x, mark.dataset.y - y) - mark.dataset.radius;
    if (apart < least) [best, least] = [mark, apart];
  }
  return least < FINGER_PX * view.scale ? best : null;
}

function tapped(x, y, view) {
  if (waiting === "bead here") {
    expect(null);
    ask("corrections", { action: "bead here", photo: view.svg.dataset.photo, px: [x, y] });
    return;
  }
  const mark = nearest(x, y, view);
  if (waiting === "one bead" && mark && mark.dataset.key !== chosen) {
    const [one, other] = [cardOf(chosen), cardOf(mark.dataset.key)];
    expect(null);
    // Each photo counts from 1: the number on another photo would name another bead of this one.
    if (one.dataset.photo === other.dataset.photo) {
      say("one bead", [...numbersOf(one), ...numbersOf(other)], one.dataset.photo);
    } else tell("These beads are on two photos, so they are not one bead.");
    return;
  }
  choose(mark ? mark.dataset.key : null);
}

const cardOf = (key) => (key === null ? null : byId(`bead-${key}`));
const numbersOf = (card) => card.dataset.numbers.split(" ").filter(Boolean).map(Number);

function choose(key) {
  const card = cardOf(key);
  chosen = card ? key : null;
  for (const mark of document.querySelectorAll(".mark")) {
    const is = mark.dataset.key === chosen;
    mark.classList.toggle("chosen", is);
    if (is) mark.parentNode.append(mark);
  }
  for (const view of views) view.label();
  const place = byId("shown-card");
  if (card) place.replaceChildren(...card.cloneNode(true).childNodes);
  byId("panel").classList.toggle("has-bead", Boolean(card));
  const is = { other: card && "other" in card.dataset };
  is.bead = card && !is.other && card.dataset.numbers !== "";
  is.doubt = is.bead && card.querySelector(".warning") !== null;
  for (const button of document.querySelectorAll("[data-needs]")) button.hidden = !is[button.dataset.needs];
}

function keyed(event, view) {
  const marks = [...view.svg.querySelectorAll(".mark")].sort((a, b) => order(a) - order(b));
  const at = marks.findIndex((mark) => mark === document.activeElement);
  const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
  if (step && marks.length) {
    const next = marks[(at + step + marks.length) % marks.length];
    choose(next.dataset.key);
    view.show(Number(next.dataset.x), Number(next.dataset.y));
    for (const mark of marks) mark.setAttribute("tabindex", mark === next ? "0" : "-1");
    next.focus();
    event.preventDefault();
  } else if ((event.key === "Enter" || event.key === " ") && at >= 0) {
    choose(marks[at].dataset.key);
    event.preventDefault();
  }
}

const order = (mark) => {
  const all = [...document.querySelectorAll("#cards .card")];
  return all.findIndex((card) => card.id === `bead-${mark.dataset.key}`);
};

function expect(what) {
  waiting = what;
  byId("missing").setAttribute("aria-pressed", String(what === "bead here"));
  const place = byId("shown-card");
  const hint = document.createElement("p");
  hint.className = "quiet";
  if (what === "bead here") hint.textContent = "Tap the photo where a bead is missing.";
  if (what === "one bead") hint.textContent = "Tap the other one.";
  if (what) place.replaceChildren(hint);
  else choose(chosen);
}

const say = (action, numbers, photo, more = {}) => ask("corrections", { action, numbers, photo, ...more });

function correct(action) {
  if (action === "bead here") {
    expect(waiting === "bead here" ? null : "bead here");
    return;
  }
  const card = cardOf(chosen);
  if (!card) return;
  if (action === "counted") {
    ask("corrections", { action: "bead here", photo: card.dataset.photo, px: card.dataset.px.split(" ").map(Number) });
  } else if (action === "one bead") expect("one bead");
  else if (action === "size") readCaliper(card);
  else say(action, numbersOf(card), card.dataset.photo);
}

function readCaliper(card) {
  const dialog = byId("caliper");
  dialog.returnValue = "";
  dialog.showModal();
  const done = () => {
    const size = dialog.querySelector("input").value;
    if (dialog.returnValue === "keep" && size) say("size", numbersOf(card), card.dataset.photo, { size });
  };
  dialog.addEventListener("close", done, { once: true });
}

function speak() {
  if (!("speechSynthesis" in window)) return;
  speechSynthesis.cancel();
  if (byId("aloud").getAttribute("aria-pressed") !== "true") return;
  const spoken = new SpeechSynthesisUtterance(byId("advice").dataset.spoken);
  spoken.lang = "en";
  speechSynthesis.speak(spoken);
}

byId("aloud").hidden = !("speechSynthesis" in window);
byId("aloud").setAttribute("aria-pressed", String(localStorage.getItem(ALOUD) === "yes"));
byId("aloud").addEventListener("click", () => {
  const on = byId("aloud").getAttribute("aria-pressed") !== "true";
  byId("aloud").setAttribute("aria-pressed", String(on));
  localStorage.setItem(ALOUD, on ? "yes" : "no");
  speak();
});
byId("wish").addEventListener("submit", (event) => {
  event.preventDefault();
  wish();
});
byId("wish").addEventListener("change", (event) => {
  if (event.target.tagName === "SELECT" && event.target.name !== "pick" && readable()) wish();
});

const field = (name) => byId("wish").elements.namedItem(name);
// A target needs its length: the words are asked for before the server complains.
const readable = () => !field("goal")?.value || Boolean(field("length").value || field("piece")?.value);

async function wish() {
  const typed = fieldsOf(byId("wish"));
  if (await ask("wish", typed)) {
    delete typed.piece; // the plan of this one piece, not of the next
    const kept = JSON.parse(localStorage.getItem(TYPED) ?? "{}");
    localStorage.setItem(TYPED, JSON.stringify({ ...kept, ...typed }));
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-say], [data-undo]");
  if (button?.dataset.undo) ask("undo", { word: button.dataset.undo });
  else if (button) correct(button.dataset.say);
});
open();
speak();
