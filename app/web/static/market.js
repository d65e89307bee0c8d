// A market's list: what the numbers typed come to, a moment later. The page works without it.
"use strict";

for (const form of document.querySelectorAll("form[data-effect]")) {
  const place = document.querySelector("#effect");
  let timer = 0;
  let flight = null;
  const ask = async () => {
    if (flight) flight.abort();
    flight = new AbortController();
    place.setAttribute("aria-busy", "true");
    try {
      const reply = await fetch(form.dataset.effect, {
        method: "POST", body: new FormData(form), signal: flight.signal,
      });
      if (!reply.ok) return;
      const found = await reply.json();
      if (found.html === null) return;
      place.innerHTML = found.html;
      for (const [id, text] of Object.entries(found.rows)) {
        document.getElementById(id).textContent = text;
      }
      place.removeAttribute("aria-busy");
    } catch (error) {
      // The old figures stay dimmed until an answer comes.
      if (error.name === "AbortError") return;
      place.setAttribute("aria-busy", "true");
      document.dispatchEvent(new Event("unanswered"));
    }
  };
  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(ask, 250);
  });
}
