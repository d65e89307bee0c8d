// The design page: what is typed is worked out a moment later, and its measures made anew where
// others are asked for. Every page works without it.
"use strict";

for (const form of document.querySelectorAll("form[data-live]")) {
  const panel = form.querySelector("#worked");
  const answer = form.querySelector("#answer");
  const measures = form.querySelector(".measures");
  const refusal = form.querySelector("#refusal");
  const named = () => [...measures.querySelectorAll("input[name], select[name]")]
    .filter((field) => field.type !== "hidden");
  let timer = 0;
  let flight = null;

  const showErrors = (errors) => {
    refusal.textContent = errors.form || "";
    refusal.hidden = !errors.form;
    for (const box of form.querySelectorAll("[data-field]")) {
      const message = errors[box.dataset.field] || "";
      const place = box.querySelector(".error");
      box.classList.toggle("wrong", Boolean(message));
      place.textContent = message;
      place.hidden = !message;
      const control = box.querySelector("input, select, textarea");
      if (control) control.setAttribute("aria-invalid", message ? "true" : "false");
    }
    // A folded group with something wrong in it opens.
    for (const box of form.querySelectorAll("details.group .wrong")) {
      box.closest("details").open = true;
    }
  };

  const sayGroups = (holds) => {
    for (const place of form.querySelectorAll("[data-holds]")) {
      if (place.dataset.holds in holds) place.textContent = holds[place.dataset.holds];
    }
  };

  const busy = (yes) => [panel, answer].forEach((part) => part.setAttribute("aria-busy", yes));

  const unanswered = (words) => {
    refusal.textContent = words;
    refusal.hidden = false;
    document.dispatchEvent(new Event("unanswered"));
  };

  const workOut = async () => {
    if (flight) flight.abort();
    flight = new AbortController();
    busy(true);
    try {
      const reply = await fetch(form.dataset.live, {
        method: "POST", body: new FormData(form), signal: flight.signal,
      });
      if (!reply.ok) return;
      const found = await reply.json();
      const { name, variant_name, ...errors } = found.errors;
      showErrors(errors);
      sayGroups(found.holds);
      if (found.html === null) return;
      const open = [...panel.querySelectorAll("details")].map((d) => d.open);
      panel.innerHTML = found.html;
      panel.querySelectorAll("details").forEach((d, i) => { if (i < open.length) d.open = open[i]; });
      answer.innerHTML = found.answer;
      document.querySelector("#care").innerHTML = found.care;
      busy(false);
    } catch (error) {
      // Not when something newer is asked; and the old figures stay dimmed.
      if (error.name !== "AbortError") unanswered(form.dataset.saysTypeOn);
    }
  };

  // Measures made anew by the server from what is typed, nothing saved; what was typed for a
  // closing that is chosen again is found again.
  const memory = new Map();
  let turn = 0;

  const put = (field, value) => {
    if (field.tagName !== "SELECT" || [...field.options].some((o) => o.value === value)) {
      field.value = value;
    }
  };

  // Exchange the measures; what was typed since they were asked for, and the place of the cursor,
  // stay.
  const exchange = (fresh, sent, asked) => {
    const old = named();
    const had = new Set(old.map((field) => field.name));
    const newer = old.filter((field) => sent.get(field.name) !== field.value)
      .map((field) => [field.name, field.value]);
    const at = document.activeElement;
    const typing = at && measures.contains(at) && at.name && at.name !== asked ? at.name : null;
    const heading = (group) => group.querySelector("h2").textContent;
    const open = new Set([...measures.querySelectorAll("details[open]")].map(heading));
    measures.replaceChildren(...fresh.childNodes);
    for (const group of measures.querySelectorAll("details")) {
      group.open = group.open || open.has(heading(group));
    }
    const since = new Map(newer);
    for (const field of named()) {
      const known = memory.get(field.name);
      if (since.has(field.name)) put(field, since.get(field.name));
      else if (!had.has(field.name) && known !== undefined) put(field, known);
    }
    const first = typing ? measures.querySelector(`[name="${typing}"]`)
      : measures.querySelector("[autofocus]") || measures.querySelector(`[name="${asked}"]`);
    if (!first) return;
    first.focus({ preventScroll: true });
    if (!typing) first.scrollIntoView({ block: "center" });
  };

  const reshape = async (word, entries) => {
    const mine = turn += 1;
    clearTimeout(timer);
    if (flight) flight.abort();
    const body = entries || new FormData(form);
    body.set(word, "1");
    const sent = new Map(named().map((field) => [field.name, field.value]));
    for (const [name, value] of sent) memory.set(name, value);
    const asked = document.activeElement ? document.activeElement.name : "";
    let text = "";
    try {
      const reply = await fetch(`${location.pathname}${location.search}`, { method: "POST", body });
      text = await reply.text();
    } catch {
      unanswered(form.dataset.saysChooseAgain);
      return;
    }
    // Of several choices in a row the last one counts.
    if (mine !== turn) return;
    const fresh = new DOMParser().parseFromString(text, "text/html").querySelector(".measures");
    if (!fresh) {
      form.submit();
      return;
    }
    exchange(fresh, sent, asked);
    workOut();
  };

  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(workOut, 120);
  });

  form.addEventListener("change", (event) => {
    if (event.target.matches("[data-reshapes]")) reshape("update");
  });

  form.addEventListener("submit", (event) => {
    const name = event.submitter ? event.submitter.name : "";
    if (!["another_folio", "another_insert", "another_part"].includes(name)) return;
    event.preventDefault();
    reshape(name);
  });

  // What was typed and is found again may ask for other measures than the page came with.
  form.addEventListener("restored", (event) => {
    const here = new Set(named().map((field) => field.name));
    if (event.detail.every(([name]) => here.has(name))) return;
    const entries = new FormData(form);
    for (const [name, value] of event.detail) {
      if (typeof value === "string") entries.set(name, value);
    }
    reshape("update", entries);
  });

  // Enter in a measure brings the figures up to date; only a button saves.
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches("input, select")) return;
    event.preventDefault();
    clearTimeout(timer);
    workOut();
  });
}
