// On paper nothing is folded away.

const open = (event) => {
  for (const each of document.querySelectorAll("details.first, details.notes")) each.open = event.type === "beforeprint";
};
window.addEventListener("beforeprint", open);
window.addEventListener("afterprint", open);
document.addEventListener("click", (event) => {
  if (event.target.closest("[data-print]")) window.print();
});
