// Pieces are opened from files, put on the list, and taken off; the list asks what to buy for them.

import { attempt, change } from "/static/ask.js";
import { keepListed, listed, whenOpened } from "/static/my-list.js";

const byId = (id) => document.getElementById(id);
const urlOf = (piece) => `/plan?${new URLSearchParams({ piece })}`;

function putOnList(button) {
  const { piece, name } = button.dataset;
  const show = () => {
    const isThere = listed().some((each) => each.piece === piece);
    button.disabled = isThere;
    button.textContent = isThere ? "On my list" : "Put on my list";
  };
  button.addEventListener("click", () => {
    keepListed([...listed(), { piece, name, count: 1 }]);
    show();
  });
  show();
}

function row({ piece, name, count }) {
  const line = document.createElement("li");
  const link = document.createElement("a");
  link.href = urlOf(piece);
  link.textContent = name;
  const field = document.createElement("label");
  field.className = "field times";
  const words = document.createElement("span");
  words.className = "unseen";
  words.textContent = `How many of ${name}`;
  const many = document.createElement("input");
  many.inputMode = "numeric";
  many.maxLength = 4;
  many.value = count;
  many.addEventListener("change", () => {
    const now = listed();
    const typed = many.value.trim();
    // By the piece, not by its place: another tab may have taken one off meanwhile.
    const same = now.find((each) => each.piece === piece);
    if (same) same.count = /^[0-9]+$/.test(typed) ? Number(typed) : typed; // the server says what is no number
    keepListed(now);
  });
  field.append(words, many);
  const off = document.createElement("button");
  off.type = "button";
  off.textContent = "Take off";
  off.setAttribute("aria-label", `Take ${name} off the list`);
  off.addEventListener("click", () => {
    keepListed(listed().filter((each) => each.piece !== piece));
    list();
  });
  line.append(link, field, off);
  return line;
}

function list() {
  const pieces = listed();
  byId("pieces").hidden = !pieces.length;
  byId("no-pieces").hidden = Boolean(pieces.length);
  byId("pieces-listed").replaceChildren(...pieces.map(row));
}

whenOpened(byId("piece-file"), (piece) => location.assign(urlOf(piece)));
if (byId("put-on-list")) putOnList(byId("put-on-list"));
if (byId("pieces")) {
  list();
  window.addEventListener("storage", list); // another tab changed the list
  byId("pieces").addEventListener("submit", (event) => {
    event.preventDefault();
    const pieces = listed().map(({ piece, count }) => ({ piece, count }));
    attempt(async () => location.assign((await change("/show", { pieces })).go));
  });
}
