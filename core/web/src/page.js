// What moves on the page: a try follows its cuts, an open page follows the folder, an item is copied.
// Without it everything can still be read, tried by the form and written down.
"use strict";

const wake = document.getElementById("wake");
let wakes = 0;
function say(words) {
  const mine = ++wakes;
  wake.textContent = words;
  setTimeout(() => { if (mine === wakes) wake.textContent = ""; }, 4000);
}

// The parts that can change are taken from the page as it is served now.
async function renew(address) {
  const answer = await fetch(address, { headers: { accept: "text/html" } });
  if (!answer.ok) return false;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  let changed = false;
  for (const part of document.querySelectorAll("[data-live]")) {
    const other = fresh.querySelector(`[data-live="${part.dataset.live}"]`);
    // Nobody's typing is taken away.
    const typed = [...part.querySelectorAll("input:not([type=hidden]), textarea")].some((field) => field.value !== field.defaultValue);
    const typing = typed || part.contains(document.activeElement) && document.activeElement.matches("input, textarea, select");
    if (other && !typing && other.innerHTML !== part.innerHTML) {
      keepOpen(part, other);
      part.replaceChildren(...other.childNodes);
      changed = true;
    }
  }
  if (changed) ready();
  return changed;
}

// What was opened to be read stays open.
function keepOpen(part, other) {
  const before = part.querySelectorAll("details");
  other.querySelectorAll("details").forEach((details, at) => { details.open = before[at]?.open ?? false; });
}

// One request at a time, and after it the last that was wished for meanwhile.
function oneAtATime(work) {
  let running = false, again = false;
  return async function run() {
    if (running) { again = true; return; }
    running = true;
    try { await work(); } catch { /* the daemon is gone; the page stays as it was */ }
    running = false;
    if (again) { again = false; run(); }
  };
}

const tryForm = document.getElementById("cuts");

// Whether the folder changed since the page was fetched, or only the cuts were moved.
let heard = false;
// A move and a change of the folder stand in one line: an answer to an older question never replaces that to a newer one.
const update = oneAtATime(async () => {
  const tells = heard;
  heard = false;
  const changed = tryForm ? await tryAgain() : await renew(location.href);
  if (changed && tells) say("changed just now");
});
function follow() { heard = true; update(); }

function ready() {
  for (const button of document.querySelectorAll("[data-copy]")) {
    button.hidden = false;
    button.onclick = async () => {
      await navigator.clipboard.writeText(document.getElementById(button.dataset.copy).textContent);
      say("copied");
    };
  }
  // The field that a tap opened is the one that is wanted.
  for (const tap of document.querySelectorAll("details.tap")) {
    tap.ontoggle = () => { if (tap.open) tap.querySelector("input:not([type=hidden]), textarea")?.focus(); };
  }
}

function tryAddress() {
  const query = new URLSearchParams(new FormData(tryForm));
  return `${tryForm.getAttribute("action")}?${query}`;
}

async function tryAgain() {
  const tried = document.getElementById("tried");
  const address = tryAddress();
  // Where no answer comes it stays so: what stands there is of other cuts than those above it, and must not be written.
  tried.classList.add("waits");
  tried.inert = true;
  const answer = await fetch(`${address}&part=true`);
  const text = await answer.text();
  if (!answer.ok) return false;
  tried.classList.remove("waits");
  tried.inert = false;
  const fresh = new DOMParser().parseFromString(text, "text/html").body;
  if (fresh.innerHTML === tried.innerHTML) return false;
  tried.replaceChildren(...fresh.childNodes);
  history.replaceState(null, "", address);
  ready();
  return true;
}

// Sixteenths of an inch or half millimetres, as a tape shows them.
function written(steps, units) {
  if (units === "mm") return `${steps / 2} mm`;
  const whole = Math.floor(steps / 16);
  let top = steps % 16, bottom = 16;
  while (top && top % 2 === 0) { top /= 2; bottom /= 2; }
  const part = top ? `${top}/${bottom}` : "";
  return `${whole || !part ? whole : ""}${whole && part ? " " : ""}${part} in`;
}

// The whole number of steps in what was typed; null when it is not in these units.
function steps(text, units) {
  if (!text.trim()) return 0;
  const unit = text.trim().endsWith("mm") ? "mm" : /(in|")$/.test(text.trim()) ? "in" : null;
  const number = text.replace(/(mm|in|")\s*$/, "").trim().split(/\s+/).reduce((sum, part) => {
    const [top, bottom] = part.split("/").map(Number);
    return sum + (bottom ? top / bottom : top);
  }, 0);
  if (!unit || !Number.isFinite(number)) return null;
  const mm = unit === "mm" ? number : number * 25.4;
  return units === "mm" ? Math.round(mm * 2) : Math.round(mm / 25.4 * 16);
}

if (tryForm) {
  for (const slide of tryForm.querySelectorAll(".slide")) {
    const field = document.getElementById(slide.dataset.for);
    const units = slide.dataset.units;
    const follows = () => {
      const at = steps(field.value, units);
      if (at !== null) slide.value = at;
      slide.setAttribute("aria-valuetext", field.value || "nothing");
    };
    slide.hidden = false;
    follows();
    slide.addEventListener("input", () => {
      field.value = slide.valueAsNumber ? written(slide.valueAsNumber, units) : "";
      slide.setAttribute("aria-valuetext", field.value || "nothing");
      update();
    });
    field.addEventListener("input", () => { follows(); update(); });
  }
  tryForm.addEventListener("submit", (event) => { event.preventDefault(); update(); });
}

ready();
const changes = new EventSource(`/changes?after=${document.body.dataset.changes}`);
changes.onmessage = follow;
// After a while without the daemon the page may be old.
let lost = false;
changes.onerror = () => { lost = true; };
changes.onopen = () => { if (lost) { lost = false; follow(); } };
addEventListener("pagehide", () => changes.close());
