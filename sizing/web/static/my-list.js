// The pieces that a maker wants to make: kept in the browser, each as the text of its piece file.

import { tell } from "/static/ask.js";

const KEPT = "strandgauge-pieces";
const LARGEST_BYTES = 16_000; // of a piece file: its longest example has a tenth

export function listed() {
  try {
    return JSON.parse(localStorage.getItem(KEPT)) ?? [];
  } catch {
    return [];
  }
}

export const keepListed = (pieces) => localStorage.setItem(KEPT, JSON.stringify(pieces));

// Calls with the text of a piece file that is chosen; files are opened by a script alone.
export function whenOpened(input, use) {
  if (!input) return;
  input.closest("label").hidden = false;
  input.addEventListener("change", async () => {
    const [file] = input.files;
    input.value = "";
    if (!file) return;
    if (file.size > LARGEST_BYTES) tell("This is no piece file: it is too large.");
    else use(await file.text(), file.name);
  });
}
