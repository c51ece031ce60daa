// Sends changes to the server. Every change goes by `fetch`, which says from which page it comes.

export class Refusal extends Error {
  constructor(message, status) {
    super(message);
    this.status = status;
  }
}

export const change = (url, values = {}) => post(url, JSON.stringify(values), "application/json");

export async function post(url, body, type) {
  let answer;
  try {
    answer = await fetch(url, { method: "POST", headers: { "Content-Type": type }, body });
  } catch {
    throw new Refusal("The computer does not answer: is the program still running?", 0);
  }
  const isHtml = (answer.headers.get("Content-Type") ?? "").startsWith("text/html");
  if (answer.ok && isHtml) return answer.text();
  const said = isHtml ? {} : await answer.json().catch(() => ({}));
  if (!answer.ok) throw new Refusal(said.message ?? "This is not possible now: open the page again.", answer.status);
  return said;
}

export function tell(message) {
  const place = document.getElementById("problem");
  place.textContent = message;
  place.hidden = !message;
  if (message) place.scrollIntoView({ block: "nearest" });
}

export async function attempt(work) {
  tell("");
  try {
    return await work();
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    tell(error.message);
    return undefined;
  }
}

export const fieldsOf = (form) =>
  Object.fromEntries([...new FormData(form)].filter(([, value]) => typeof value === "string"));
