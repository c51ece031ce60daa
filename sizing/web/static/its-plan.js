// A finished piece is compared with a plan: one of the list, or that of a piece file.

import { listed, whenOpened } from "/static/my-list.js";

const choice = document.getElementById("its-plan");

function offer(piece, name) {
  const known = [...choice.options].find((each) => each.value === piece);
  const option = known ?? new Option(name, piece);
  option.text = name;
  if (!known) choice.add(option);
  return option;
}

if (choice) {
  for (const { piece, name } of listed()) offer(piece, name);
  whenOpened(document.getElementById("piece-file"), (piece, name) => {
    offer(piece, name).selected = true;
    choice.dispatchEvent(new Event("change", { bubbles: true }));
  });
}
