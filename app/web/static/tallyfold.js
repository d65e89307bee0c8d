// Small conveniences; every page works without them.
"use strict";

// What an address answers, or null where nothing comes: the page is being left, or nothing runs.
const foundAt = async (address) => {
  try {
    const answer = await fetch(address);
    return answer.ok ? await answer.json() : null;
  } catch {
    document.dispatchEvent(new Event("unanswered"));
    return null;
  }
};

// Papers for the bench: a button that prints them.
for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}

// What is open where there is room for it begins folded on a narrow screen.
if (matchMedia("(max-width: 46rem)").matches) {
  for (const fold of document.querySelectorAll("details[data-on-wide]")) {
    if (!fold.querySelector(".wrong, .refused, [autofocus]")) fold.open = false;
  }
}

// Stations that are wider than the screen together are pushed along to the one this is.
{
  const station = document.querySelector(".thread [aria-current]");
  const thread = station?.closest(".thread");
  if (thread && thread.scrollWidth > thread.clientWidth) {
    const [at, room] = [station.getBoundingClientRect(), thread.getBoundingClientRect()];
    thread.scrollLeft += at.left + at.width / 2 - room.left - room.width / 2;
  }
}

// A link into something folded opens it; on paper everything is open.
const unfold = () => {
  const aim = location.hash.length > 1 ? document.getElementById(location.hash.slice(1)) : null;
  if (!aim) return;
  const folds = [...aim.querySelectorAll(":scope > details.fold")];
  for (let at = aim; at; at = at.parentElement) if (at.matches("details")) folds.push(at);
  folds.forEach((fold) => { fold.open = true; });
  if (folds.length) aim.scrollIntoView();
  if (aim.matches("input, select, textarea")) aim.focus();
};
addEventListener("hashchange", unfold);
unfold();
let shut = [];
addEventListener("beforeprint", () => {
  shut = [...document.querySelectorAll("details.fold:not([open])")];
  shut.forEach((fold) => { fold.open = true; });
});
addEventListener("afterprint", () => { shut.forEach((fold) => { fold.open = false; }); });

// The order form: what a journal is asked for in the channel, beside each line.
for (const form of document.querySelectorAll("form[data-prices]")) {
  const channel = form.querySelector("[data-channel]");
  const say = async (line) => {
    const variant = line.querySelector("[data-variant]").value;
    const place = line.querySelector("[data-says]");
    if (!channel || variant === "0") { place.textContent = ""; return; }
    const asked = new URLSearchParams({ variant, channel: channel.value });
    const found = await foundAt(`${form.dataset.prices}?${asked}`);
    if (!found) return;
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

// The order form: the first honest day for what is typed, a moment after it was.
for (const place of document.querySelectorAll("[data-honest]")) {
  const form = place.closest("form");
  let timer = 0;
  let turn = 0;
  const ask = async () => {
    const mine = turn += 1;
    const asked = new URLSearchParams();
    for (const line of form.querySelectorAll("[data-line]")) {
      const variant = line.querySelector("[data-variant]").value;
      const count = line.querySelector("[name$=quantity]").value.trim();
      if (variant !== "0" && /^[0-9]+$/.test(count)) asked.append("line", `${variant}:${count}`);
    }
    const by = form.querySelector("[name=wanted_by]");
    if (by) asked.set("by", by.value);
    const found = asked.has("line") ? await foundAt(`${place.dataset.honest}?${asked}`) : null;
    if (mine === turn) place.textContent = found ? found.says : "";
  };
  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(ask, 400);
  });
  ask();
}

for (const place of document.querySelectorAll("[data-says-at]")) {
  foundAt(place.dataset.saysAt).then((found) => {
    place.textContent = found ? found.says : "";
    place.hidden = !place.textContent;
  });
}

// What was typed and not saved: asked about before the page is left, and found again by going back.
const guarded = [...document.querySelectorAll("form[data-guard]")];
const typedIn = (form) => [...form.elements].filter(
  (field) => field.name && !["hidden", "submit", "button", "file"].includes(field.type));
const holds = (form) => typedIn(form)
  .map((field) => [field.name, ["checkbox", "radio"].includes(field.type) ? field.checked : field.value]);
const asLoaded = new Map(guarded.map((form) => [form, JSON.stringify(holds(form))]));
// A page that answers a form which was sent shows what is not saved yet.
const unsaved = document.body.dataset.unsaved !== undefined;
const changed = (form) => unsaved || JSON.stringify(holds(form)) !== asLoaded.get(form);
const keyOf = (form) => `draft ${location.pathname}${location.search} ${guarded.indexOf(form)}`;
let leaving = null;

const kept = () => Object.keys(sessionStorage).filter((key) => key.startsWith("draft "));
const arrived = performance.getEntriesByType("navigation")[0];
if (document.querySelector(".said")) kept().forEach((key) => sessionStorage.removeItem(key));
for (const form of guarded) {
  const draft = sessionStorage.getItem(keyOf(form));
  if (draft && arrived && ["back_forward", "reload"].includes(arrived.type)) {
    const values = JSON.parse(draft);
    const left = [...values];
    for (const field of typedIn(form)) {
      const at = left.findIndex(([name]) => name === field.name);
      if (at < 0) continue;
      const [[, value]] = left.splice(at, 1);
      if (["checkbox", "radio"].includes(field.type)) field.checked = value;
      else field.value = value;
    }
    form.dispatchEvent(new CustomEvent("restored", { detail: values }));
    form.dispatchEvent(new Event("input", { bubbles: true }));
  }
  form.addEventListener("submit", (event) => { if (!event.defaultPrevented) leaving = form; });
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
  if (event.key === "/" && !typing && !localStorage.getItem("keys off")) {
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

// The single key can be left alone, for those who speak to their computer.
for (const place of document.querySelectorAll("[data-keys]")) {
  const box = place.querySelector("[data-keys-off]");
  place.hidden = false;
  box.checked = Boolean(localStorage.getItem("keys off"));
  box.addEventListener("change", () => {
    if (box.checked) localStorage.setItem("keys off", "yes");
    else localStorage.removeItem("keys off");
  });
}

// What was refused is said first.
const refused = document.querySelector("[data-refused]");
if (refused) refused.focus();

// A plan being worked out: say how far it is, and show the page anew when it is done.
for (const section of document.querySelectorAll("[data-progress]")) {
  const bar = section.querySelector("progress");
  const doing = section.querySelector("[data-doing]");
  const look = async () => {
    const found = await foundAt(section.dataset.progress);
    if (!found) {
      setTimeout(look, 2000);
      return;
    }
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
  const all = output.textContent;
  let timer = 0;
  control.hidden = false;
  const show = () => {
    const upTo = Number(range.value);
    output.textContent = upTo === last ? all : String(upTo);
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
    if (confirm(document.body.dataset.saysUncounted)) leaving = "asked";
    else event.preventDefault();
  });
}

// A clock that runs: how long it has, told anew each half minute; only the server reckons with it.
const clocks = document.querySelectorAll("[data-since]");
const tick = () => {
  for (const place of clocks) {
    const minutes = Math.floor((Date.now() - new Date(place.dataset.since)) / 60000);
    if (minutes >= 0) {
      const hours = Math.floor(minutes / 60);
      const time = `${hours ? `${hours} h ` : ""}${minutes % 60} min`;
      place.textContent = document.body.dataset.saysRunning.replace("{time}", time);
    }
  }
};
if (clocks.length) {
  tick();
  setInterval(tick, 30000);
}
