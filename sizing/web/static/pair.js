// Takes the secret out of the address, which is never sent by itself, and asks to be let in with it.

const title = document.getElementById("pairing");
const words = document.getElementById("pairing-words");
const secret = location.hash.slice(1);
history.replaceState(null, "", "/pair");

async function pair() {
  const answer = await fetch("/pair", {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify({ secret }),
  });
  const said = await answer.json();
  if (answer.ok) {
    location.replace(said.go);
    return;
  }
  title.textContent = "This phone was not let in";
  words.textContent = said.message;
}

if (secret) pair();
else title.textContent = "This phone is not paired";
