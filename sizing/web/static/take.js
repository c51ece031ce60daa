// Photos are chosen, sent and measured; what was typed is kept for the next photo.

import { Refusal, change, fieldsOf, tell } from "/static/ask.js";

const KEPT = "strandgauge-typed";
const form = document.getElementById("take");
const { kind } = form.dataset;
const most = Number(form.dataset.most);
const mostBytes = Number(form.dataset.bytes);
const byId = (id) => document.getElementById(id);
const chosen = [];
let sending;

const kept = () => {
  try {
    return JSON.parse(localStorage.getItem(KEPT)) ?? {};
  } catch {
    return {};
  }
};

const served = (field) =>
  field.tagName === "SELECT"
    ? ([...field.options].find((option) => option.defaultSelected) ?? field.options[0]).value
    : field.defaultValue;

// What was typed before this script was there stays.
function fill() {
  const values = kept();
  for (const field of form.elements) {
    if (field.name in values && field.value === served(field)) field.value = values[field.name];
  }
  keep();
}

function keep() {
  const values = { ...kept(), ...fieldsOf(form) };
  localStorage.setItem(KEPT, JSON.stringify(values));
  summarise();
}

function summarise() {
  const typed = [...form.querySelectorAll(".settings input, .settings select")].filter((field) => field.value);
  const words = typed.map((field) => (field.tagName === "SELECT" ? field.selectedOptions[0].text : field.value));
  if (byId("settings-kept")) byId("settings-kept").textContent = words.join(", ");
}

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

function send(photo, onProgress) {
  return new Promise((done, fail) => {
    sending = new XMLHttpRequest();
    sending.open("POST", "/photos");
    sending.setRequestHeader("Content-Type", "application/octet-stream");
    sending.upload.addEventListener("progress", (event) => onProgress(event.loaded / (event.total || 1)));
    sending.addEventListener("load", () => {
      let said = {};
      try {
        said = JSON.parse(sending.responseText);
      } catch {}
      if (sending.status === 200) done(said.photo);
      else fail(new Refusal(said.message ?? "The photo was not received: send it again.", sending.status));
    });
    sending.addEventListener("error", () => fail(new Refusal("The photo was not received: send it again.", 0)));
    sending.addEventListener("abort", () => fail(new Refusal("", -1)));
    sending.send(photo);
  });
}

async function sendAll(photos) {
  const words = [];
  for (const [index, photo] of photos.entries()) {
    if (photo.size > mostBytes) {
      throw new Refusal(`${photo.name} is larger than ${Math.round(mostBytes / 1e6)} MB: make it smaller.`, 413);
    }
    byId("sending-words").textContent =
      photos.length > 1 ? `Sending photo ${index + 1} of ${photos.length}` : "Sending the photo";
    const show = (part) => (byId("sending-bar").value = (index + part) / photos.length);
    words.push(await untilRoom(() => send(photo, show)));
  }
  return words;
}

// Where the server says that it is busy, it is asked again, until somebody cancels.
async function untilRoom(work) {
  for (;;) {
    try {
      return await work();
    } catch (error) {
      if (error.status !== 503) throw error;
      byId("sending-words").textContent = error.message;
      await pause(5000);
      if (byId("sending").hidden) throw new Refusal("", -1);
    }
  }
}

async function measure(photos) {
  keep();
  tell("");
  byId("sending").hidden = false;
  form.classList.add("busy");
  try {
    const words = await sendAll(photos);
    const typed = fieldsOf(form);
    const said = await untilRoom(() => change("/measurements", { ...typed, kind, photos: words }));
    location.assign(said.go);
  } catch (error) {
    byId("sending").hidden = true;
    form.classList.remove("busy");
    if (!(error instanceof Refusal)) throw error;
    if (error.status !== -1) tell(error.message);
    if (error.status === 400) form.querySelector(".settings")?.setAttribute("open", "");
  }
}

function choose(input) {
  const photos = [...input.files];
  input.value = "";
  if (!photos.length) return;
  if (most === 1) {
    measure(photos.slice(0, 1));
    return;
  }
  chosen.push(...photos.slice(0, most - chosen.length));
  list();
}

function list() {
  byId("chosen").hidden = !chosen.length;
  byId("chosen-list").replaceChildren(
    ...chosen.map((photo, index) => {
      const line = document.createElement("li");
      const remove = document.createElement("button");
      remove.type = "button";
      remove.textContent = "Leave out";
      remove.addEventListener("click", () => {
        chosen.splice(index, 1);
        list();
      });
      line.append(`Photo ${index + 1}, ${(photo.size / 1e6).toFixed(1)} MB`, remove);
      return line;
    }),
  );
}

form.addEventListener("change", (event) => {
  if (event.target.type === "file") choose(event.target);
  else keep();
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  if (chosen.length) measure(chosen);
});
byId("stop").addEventListener("click", () => {
  byId("sending").hidden = true;
  form.classList.remove("busy");
  sending?.abort();
});
fill();
["camera", "library"].map(byId).forEach(choose); // before this script was there
