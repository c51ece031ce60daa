// Forms that change something: sent by `fetch`, and the page that is named in the answer is opened.
// Their buttons come disabled, as the browser itself would send a form that nobody listens to yet.

import { attempt, change, fieldsOf } from "/static/ask.js";

let sending = false; // until the page that follows is there: a second tap would take beads out twice

document.addEventListener("submit", async (event) => {
  const form = event.target.closest("form[data-send]");
  if (!form) return;
  event.preventDefault();
  if (sending || (form.dataset.sure && !window.confirm(form.dataset.sure))) return;
  sending = true;
  const said = await attempt(() => change(form.dataset.send, fieldsOf(form)));
  sending = Boolean(said);
  if (!said) return;
  if (new URL(said.go, location.href).pathname === location.pathname) location.reload();
  else location.assign(said.go);
});
window.addEventListener("pageshow", () => (sending = false)); // a page that comes back as it was left

for (const button of document.querySelectorAll("form[data-send] button")) button.disabled = false;
