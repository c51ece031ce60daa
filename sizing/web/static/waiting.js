// Asks how far a measurement is, until it is over.

import { attempt, change } from "/static/ask.js";

const title = document.getElementById("waiting");
const words = document.getElementById("waiting-words");
const bar = document.getElementById("waiting-bar");
const { word } = title.dataset;
const ASK_MS = 400;

function show(said) {
  if (said.state === "waiting") {
    title.textContent = "Waiting";
    words.textContent =
      said.ahead === 1 ? "1 photo is before this one." : said.ahead ? `${said.ahead} photos are before this one.` : "";
    return;
  }
  title.textContent = said.photos > 1 ? `Measured ${said.photos_done} of ${said.photos} photos` : "Measuring";
  if (said.photos > 1) {
    bar.max = said.photos;
    bar.value = said.photos_done;
  }
}

async function ask() {
  try {
    const answer = await fetch(`/m/${word}/state`);
    const said = await answer.json();
    if (!answer.ok || !["waiting", "measuring"].includes(said.state)) {
      location.reload();
      return;
    }
    show(said);
  } catch {
    words.textContent = "The computer does not answer.";
  }
  setTimeout(ask, ASK_MS);
}

document.getElementById("cancel").addEventListener("click", () =>
  attempt(async () => location.assign((await change(`/m/${word}/cancel`)).go)),
);
ask();
