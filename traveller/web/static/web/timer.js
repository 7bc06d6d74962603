// A load's timer: mm:ss since its start, and "reached" when the least time is over.
// Phones' clocks are wrong by minutes, so the page brings the server's time and only this device's own
// monotonic clock is added to it: a phone set wrong, a summer-time change or midnight move nothing.
// <div class="timer" data-start="ISO" data-now="ISO" data-need-s="900"> with .timer-clock and .timer-reached inside.

const two = (n) => String(n).padStart(2, "0");

export function face(seconds) {
  const s = Math.max(0, Math.floor(seconds));
  const minutes = Math.floor(s / 60);
  return minutes < 100 ? `${two(minutes)}:${two(s % 60)}` : `${Math.floor(minutes / 60)}:${two(minutes % 60)}:${two(s % 60)}`;
}

function sound() {
  try {
    const audio = new AudioContext();
    const tone = audio.createOscillator();
    tone.connect(audio.destination);
    tone.frequency.value = 880;
    tone.start();
    tone.stop(audio.currentTime + 0.5);
  } catch { /* no sound before the first touch: the screen and the buzz remain */ }
  if (navigator.vibrate) navigator.vibrate([200, 100, 200]);
}

function wire(timer) {
  const began = Date.parse(timer.dataset.start);
  const told = Date.parse(timer.dataset.now);
  const need = Number(timer.dataset.needS || 0);
  const clock = timer.querySelector(".timer-clock");
  const reached = timer.querySelector(".timer-reached");
  if (Number.isNaN(began) || Number.isNaN(told) || !clock) return;
  const loaded = performance.now();
  // Some browsers stop the monotonic clock while the phone sleeps, so the larger of the two lapses counts.
  // What is shown is a help: the gate is judged by the server from recorded times.
  const wall = Date.now();
  let first = true;
  const tick = () => {
    const lapse = Math.max(performance.now() - loaded, Date.now() - wall);
    const seconds = (told - began + lapse) / 1000;
    clock.textContent = face(seconds);
    const over = need > 0 && seconds >= need;
    if (over && timer.dataset.state !== "reached") {
      timer.dataset.state = "reached";
      if (reached) reached.textContent = timer.dataset.sayReached || "";
      if (!first) sound();
    }
    first = false;
  };
  tick();
  setInterval(tick, 1000);
}

for (const timer of document.querySelectorAll(".timer[data-start]")) wire(timer);
