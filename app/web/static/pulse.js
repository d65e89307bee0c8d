// What a page cannot know by itself: whether the shop still answers, and whether something was
// changed since the page was opened. Every page works without it.
"use strict";

for (const place of document.querySelectorAll("[data-pulse]")) {
  const opened = new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  const every = 20000;
  const { saysLost, saysMayBeOld, saysOld, saysAnew } = document.body.dataset;
  const asOf = (words) => words.replace("{time}", opened);
  let lost = false;
  let asking = null;

  const say = (state, words, deed) => {
    if (place.dataset.state === state) return;
    place.dataset.state = state;
    place.textContent = words;
    if (deed) {
      const link = document.createElement("a");
      link.href = location.href;
      link.textContent = deed;
      link.addEventListener("click", (event) => { event.preventDefault(); location.reload(); });
      place.append(" ", link);
    }
    document.body.classList.toggle("old", state !== "fresh");
  };

  const look = async () => {
    let found = null;
    try {
      const answer = await fetch(place.dataset.pulse, { cache: "no-store" });
      found = answer.ok ? await answer.json() : { changes: place.dataset.asOf };
    } catch {
      lost = true;
      say("lost", asOf(saysLost));
      return false;
    }
    lost = false;
    // A page that answers a form takes the first word for its own.
    place.dataset.asOf = place.dataset.asOf || found.changes;
    if (found.changes === place.dataset.asOf) say("fresh", "");
    else if (document.body.dataset.unsaved !== undefined) say("changed", asOf(saysMayBeOld));
    else say("changed", asOf(saysOld), saysAnew);
    return true;
  };
  const ask = () => { asking = asking || look().finally(() => { asking = null; }); return asking; };

  // A form is not sent where nobody would take it: it stays on the page as it was typed.
  document.addEventListener("submit", (event) => {
    if (!lost) return;
    const { target: form, submitter } = event;
    event.preventDefault();
    event.stopImmediatePropagation();
    ask().then((answered) => {
      if (answered) form.requestSubmit(submitter);
      else place.focus();
    });
  }, true);

  setInterval(() => { if (!document.hidden) ask(); }, every);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) ask(); });
  for (const what of ["online", "offline", "focus"]) addEventListener(what, ask);
  document.addEventListener("unanswered", ask);
}
