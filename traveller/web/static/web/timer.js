// A load's timer: mm:ss since its start, and what it says when the least time is over.
// On this phone's own clock. A fresh page says how long the load has been in; the start is kept here, so that a
// reload, a page without signal, a wrong clock, midnight and a clock change all show the same time.
// <div class="timer" data-load="UID" data-start="ISO" data-now="ISO" data-need-s="900"> with .timer-clock, .timer-reached.

const two = (n) => String(n).padStart(2, "0");
const CALLS = 20; // every four seconds: a bit more than a minute, then only the words stay
const SLACK_MS = 20e3;
const WEEK_MS = 7 * 24 * 3600e3;

export function face(seconds) {
  const s = Math.max(0, Math.floor(seconds));
  const minutes = Math.floor(s / 60);
  return minutes < 100 ? `${two(minutes)}:${two(s % 60)}` : `${Math.floor(minutes / 60)}:${two(minutes % 60)}:${two(s % 60)}`;
}

const store = {
  read(key) { try { return JSON.parse(localStorage.getItem(key)); } catch { return null; } },
  write(key, value) { try { localStorage.setItem(key, JSON.stringify(value)); } catch { /* full or refused */ } },
};

// When it began, by this phone's clock; a kept page says since when it is kept (data-kept).
function began(timer, key) {
  const { start, now } = timer.dataset;
  const known = store.read(key);
  const same = known && known.start === start;
  const kept = Number(document.body.dataset.kept || 0);
  if (same && kept) return known;
  const told = Date.parse(start);
  const lapse = Date.parse(now) - told;
  const seen = { start, at: Number.isNaN(lapse) ? told : (kept || Date.now()) - lapse, heard: same ? known.heard : false };
  // Seconds apart, the clock goes on as it was; more, and the server is right.
  if (same && Math.abs(known.at - seen.at) < SLACK_MS) return known;
  if (!Number.isNaN(seen.at) && timer.dataset.load) store.write(key, seen);
  return seen;
}

function call(number) {
  if (number >= CALLS) return;
  document.dispatchEvent(new CustomEvent("chime"));
  document.dispatchEvent(new CustomEvent("buzz", { detail: [300, 120, 300] }));
}

function wire(timer) {
  const key = `timer:${timer.dataset.load || ""}`;
  const seen = began(timer, key);
  const need = Number(timer.dataset.needS || 0);
  const clock = timer.querySelector(".timer-clock");
  const reached = timer.querySelector(".timer-reached");
  if (Number.isNaN(seen.at) || !clock) return;
  // Some browsers stop the monotonic clock while the phone sleeps, so the larger of the two lapses counts.
  // What is shown is a help: the gate is judged by the server from recorded times.
  const wall = Date.now();
  const loaded = performance.now();
  let calls = 0;
  let ticks = 0;
  const tick = () => {
    const lapse = Math.max(wall - seen.at + performance.now() - loaded, Date.now() - seen.at);
    const seconds = lapse / 1000;
    clock.textContent = face(seconds);
    if (!(need > 0 && seconds >= need)) return;
    if (timer.dataset.state !== "reached") {
      timer.dataset.state = "reached";
      if (reached) reached.textContent = timer.dataset.sayReached || "";
    }
    if (!seen.heard && ticks++ % 4 === 0) call(calls++);
  };
  // A touch anywhere says that it was heard.
  const hush = () => {
    if (timer.dataset.state !== "reached" || seen.heard) return;
    seen.heard = true;
    if (timer.dataset.load) store.write(key, seen);
    document.dispatchEvent(new CustomEvent("buzz", { detail: 0 }));
  };
  for (const touch of ["pointerdown", "keydown"]) document.addEventListener(touch, hush);
  tick();
  setInterval(tick, 1000);
}

export function start(timer) {
  if (timer.dataset.wired || !timer.dataset.start) return;
  timer.dataset.wired = "yes";
  wire(timer);
}

// Loads of a week ago need no timer any more.
try {
  for (const key of Object.keys(localStorage)) {
    if (key.startsWith("timer:") && !((store.read(key)?.at ?? 0) > Date.now() - WEEK_MS)) localStorage.removeItem(key);
  }
} catch { /* refused */ }
for (const timer of document.querySelectorAll(".timer[data-start]")) start(timer);
// A page that fills in a load which the server does not know yet asks for its timer by this event.
document.addEventListener("timer", (event) => start(event.target));
