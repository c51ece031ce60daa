// Shows a code for another phone, and forgets phones.

import { attempt, change } from "/static/ask.js";

document.getElementById("offer")?.addEventListener("click", () =>
  attempt(async () => {
    document.getElementById("code").innerHTML = await change("/phones/code");
  }),
);
for (const button of document.querySelectorAll("[data-forget]")) {
  button.addEventListener("click", () =>
    attempt(async () => location.assign((await change("/phones/forget", { number: Number(button.dataset.forget) })).go)),
  );
}
