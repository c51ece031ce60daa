// Forms that change something: sent by `fetch`, and the page that is named in the answer is opened.
// Their buttons come disabled, as the browser itself would send a form that nobody listens to yet.

import { attempt, change, fieldsOf } from "/static/ask.js";

document.addEventListener("submit", (event) => {
  const form = event.target.closest("form[data-send]");
  if (!form) return;
  event.preventDefault();
  if (form.dataset.sure && !window.confirm(form.dataset.sure)) return;
  attempt(async () => {
    const { go } = await change(form.dataset.send, fieldsOf(form));
    if (new URL(go, location.href).pathname === location.pathname) location.reload();
    else location.assign(go);
  });
});

for (const button of document.querySelectorAll("form[data-send] button")) button.disabled = false;
