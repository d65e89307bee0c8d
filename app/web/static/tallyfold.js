// Small conveniences; every page works without them.
"use strict";

// The design page: send the form a moment after each keystroke, show what came back.
for (const form of document.querySelectorAll("form[data-live]")) {
  const panel = form.querySelector("#worked");
  let timer = 0;
  let flight = null;

  const answer = form.querySelector("#answer");
  const shown = 2;

  // A folded group says what it holds; one with something wrong in it opens.
  const value = (control) => control.tagName === "SELECT"
    ? control.selectedOptions[0].textContent : control.value;
  const sayGroups = () => {
    for (const group of form.querySelectorAll("details.group")) {
      const place = group.querySelector("[data-holds]");
      if (!place) continue;
      const fields = [...group.querySelectorAll(":scope > .field")].slice(0, shown);
      place.textContent = fields.map((box) => {
        const label = box.querySelector("label").textContent.toLowerCase();
        return `${label} ${value(box.querySelector("input, select"))}`;
      }).join(" · ");
      if (group.querySelector(".wrong")) group.open = true;
    }
  };

  const showErrors = (errors) => {
    for (const box of form.querySelectorAll("[data-field]")) {
      const message = errors[box.dataset.field] || "";
      const place = box.querySelector(".error");
      box.classList.toggle("wrong", Boolean(message));
      place.textContent = message;
      place.hidden = !message;
      const control = box.querySelector("input, select, textarea");
      if (control) control.setAttribute("aria-invalid", message ? "true" : "false");
    }
  };

  const workOut = async () => {
    if (flight) flight.abort();
    flight = new AbortController();
    panel.setAttribute("aria-busy", "true");
    try {
      const reply = await fetch(form.dataset.live, {
        method: "POST", body: new FormData(form), signal: flight.signal,
      });
      if (!reply.ok) return;
      const found = await reply.json();
      const { name, variant_name, ...errors } = found.errors;
      showErrors(errors);
      sayGroups();
      if (found.html !== null) {
        const open = [...panel.querySelectorAll("details")].map((d) => d.open);
        panel.innerHTML = found.html;
        panel.querySelectorAll("details").forEach((d, i) => { d.open = Boolean(open[i]); });
        panel.setAttribute("aria-busy", "false");
        answer.innerHTML = found.answer;
      }
    } catch (error) {
      if (error.name !== "AbortError") throw error;
    }
  };

  form.addEventListener("input", () => {
    sayGroups();
    clearTimeout(timer);
    timer = setTimeout(workOut, 120);
  });

  // What decides which measures are asked for: the page is made anew, and nothing is saved.
  form.addEventListener("change", (event) => {
    if (!event.target.matches("[data-reshapes]")) return;
    clearTimeout(timer);
    if (flight) flight.abort();
    form.action = `${location.pathname}${location.search}#${event.target.id}`;
    form.requestSubmit(form.querySelector("[name=update]"));
  });

  // Enter in a measure brings the figures up to date; only a button saves.
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches("input, select")) return;
    event.preventDefault();
    clearTimeout(timer);
    workOut();
  });
}

// The order form: what a journal is asked for in the channel, beside each line.
for (const form of document.querySelectorAll("form[data-prices]")) {
  const channel = form.querySelector("[data-channel]");
  const say = async (line) => {
    const variant = line.querySelector("[data-variant]").value;
    const place = line.querySelector("[data-says]");
    if (!channel || variant === "0") { place.textContent = ""; return; }
    const asked = new URLSearchParams({ variant, channel: channel.value });
    const answer = await fetch(`${form.dataset.prices}?${asked}`);
    if (!answer.ok) return;
    const found = await answer.json();
    place.textContent = found.says;
    line.querySelector("[data-price]").placeholder = found.price || "";
  };
  const all = () => form.querySelectorAll("[data-line]").forEach(say);
  form.addEventListener("change", (event) => {
    if (event.target === channel) all();
    const line = event.target.closest("[data-line]");
    if (line && event.target.matches("[data-variant]")) say(line);
  });
  all();
}

// What was typed and not saved: asked about before the page is left, and found again by going back.
const guarded = [...document.querySelectorAll("form[data-guard]")];
const typedIn = (form) => [...form.elements].filter(
  (field) => field.name && !["hidden", "submit", "button", "file"].includes(field.type));
const holds = (form) => typedIn(form)
  .map((field) => [field.name, ["checkbox", "radio"].includes(field.type) ? field.checked : field.value]);
const asLoaded = new Map(guarded.map((form) => [form, JSON.stringify(holds(form))]));
const changed = (form) => JSON.stringify(holds(form)) !== asLoaded.get(form);
const keyOf = (form) => `draft ${location.pathname}${location.search} ${guarded.indexOf(form)}`;
let leaving = null;

const kept = () => Object.keys(sessionStorage).filter((key) => key.startsWith("draft "));
const arrived = performance.getEntriesByType("navigation")[0];
if (document.querySelector(".said")) kept().forEach((key) => sessionStorage.removeItem(key));
for (const form of guarded) {
  const draft = sessionStorage.getItem(keyOf(form));
  if (draft && arrived && ["back_forward", "reload"].includes(arrived.type)) {
    const values = JSON.parse(draft);
    typedIn(form).forEach((field, n) => {
      if (!values[n] || values[n][0] !== field.name) return;
      if (["checkbox", "radio"].includes(field.type)) field.checked = values[n][1];
      else field.value = values[n][1];
    });
    form.dispatchEvent(new Event("input", { bubbles: true }));
  }
  form.addEventListener("submit", () => { leaving = form; });
}

addEventListener("pagehide", () => {
  for (const form of guarded) {
    if (changed(form)) sessionStorage.setItem(keyOf(form), JSON.stringify(holds(form)));
  }
});

addEventListener("beforeunload", (event) => {
  if (guarded.some((form) => form !== leaving && leaving !== "asked" && changed(form))) {
    event.preventDefault();
    event.returnValue = "";
  }
});

// "/" goes to the search, from any page, unless something typed would be left behind. Escape closes
// what is open, or leaves the field; it never leaves the page.
document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, textarea, select");
  if (event.key === "/" && !typing) {
    const search = document.querySelector("[data-search]");
    event.preventDefault();
    if (search) search.focus();
    else if (!guarded.some(changed)) location.href = "/orders";
  }
  if (event.key === "Escape") {
    const open = event.target.closest("details[open]");
    if (open && !typing) {
      open.open = false;
      open.querySelector("summary").focus();
    } else if (typing) typing.blur();
  }
});

// A plan being worked out: say how far it is, and show the page anew when it is done.
for (const section of document.querySelectorAll("[data-progress]")) {
  const bar = section.querySelector("progress");
  const doing = section.querySelector("[data-doing]");
  const look = async () => {
    const answer = await fetch(section.dataset.progress);
    if (!answer.ok) return;
    const found = await answer.json();
    if (found.done) {
      location.reload();
      return;
    }
    bar.value = Math.round(found.share * 100);
    if (doing.textContent !== found.doing) doing.textContent = found.doing;
    setTimeout(look, 400);
  };
  setTimeout(look, 300);
}

// The thread's way: show its first steps only, one more at a time.
for (const pair of document.querySelectorAll("[data-stepwise]")) {
  const control = pair.querySelector(".stepper");
  const range = control.querySelector("input");
  const output = control.querySelector("output");
  const said = pair.querySelectorAll(".said-steps li");
  const last = Number(range.max);
  let timer = 0;
  control.hidden = false;
  const show = () => {
    const upTo = Number(range.value);
    output.textContent = upTo === last ? "all" : String(upTo);
    for (let n = 1; n <= last; n += 1) {
      for (const part of pair.querySelectorAll(`.step-${n}`)) {
        part.classList.toggle("later", n > upTo);
        part.classList.toggle("latest", n === upTo && upTo < last);
      }
    }
    said.forEach((line, n) => line.classList.toggle("latest", n === upTo && upTo < last));
  };
  range.addEventListener("input", () => { clearInterval(timer); show(); });
  control.querySelector("button").addEventListener("click", () => {
    clearInterval(timer);
    range.value = "1";
    show();
    timer = setInterval(() => {
      range.value = String(Number(range.value) + 1);
      show();
      if (Number(range.value) >= last) clearInterval(timer);
    }, 900);
  });
}

// Looking elsewhere would lose what was counted and not yet saved: ask first.
for (const seek of document.querySelectorAll("form[data-leaves]")) {
  seek.addEventListener("submit", (event) => {
    if (!guarded.some(changed)) return;
    if (confirm("What you counted is not saved yet. Look elsewhere and lose it?")) leaving = "asked";
    else event.preventDefault();
  });
}
