// Everything that was exported from a stash comes in from a file.

import { attempt, post } from "/static/ask.js";

const input = document.getElementById("stash-file");
input.closest("label").hidden = false;
input.addEventListener("change", () => {
  const [file] = input.files;
  input.value = "";
  if (file) attempt(async () => location.assign((await post("/stash/all", file, "application/zip")).go));
});
