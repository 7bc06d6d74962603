// How this phone calls: sound and vibration. Each can be turned off, on this phone alone, and stays so.
// Others only ask: document.dispatchEvent(new CustomEvent("buzz", { detail: 12 })), or "chime".

const key = (name) => `phone:${name}`;
const allowed = (name) => { try { return localStorage.getItem(key(name)) !== "off"; } catch { return true; } };

let audio = null;
// Browsers give no sound before the first touch: so the first touch opens it.
function unlock() {
  try {
    audio ??= new AudioContext();
    if (audio.state === "suspended") audio.resume();
  } catch { /* no sound on this phone: the buzz and the words remain */ }
}
for (const touch of ["pointerdown", "keydown"]) document.addEventListener(touch, unlock, { capture: true });

// Two tones, one after the other: told apart from a machine's single beep.
function chime() {
  if (!audio || audio.state !== "running") return;
  for (const [pitch, from] of [[880, 0], [660, 0.28], [880, 0.56]]) {
    const tone = audio.createOscillator();
    const level = audio.createGain();
    tone.frequency.value = pitch;
    level.gain.setValueAtTime(0.5, audio.currentTime + from);
    level.gain.exponentialRampToValueAtTime(0.01, audio.currentTime + from + 0.26);
    tone.connect(level).connect(audio.destination);
    tone.start(audio.currentTime + from);
    tone.stop(audio.currentTime + from + 0.27);
  }
}

document.addEventListener("chime", () => { if (allowed("sound")) chime(); });
// Nor a buzz before the first touch.
const touched = () => navigator.userActivation?.hasBeenActive !== false;
document.addEventListener("buzz", (event) => {
  if (allowed("vibration") && navigator.vibrate && touched()) navigator.vibrate(event.detail ?? 12);
});

for (const sense of document.querySelectorAll("[data-sense]")) {
  const name = sense.dataset.sense;
  sense.checked = allowed(name);
  sense.closest("[data-senses]").hidden = false;
  sense.addEventListener("change", () => {
    try { localStorage.setItem(key(name), sense.checked ? "on" : "off"); } catch { /* refused: on for this page */ }
    if (!sense.checked) return;
    if (name === "sound") { unlock(); chime(); }
    else document.dispatchEvent(new CustomEvent("buzz", { detail: [80, 60, 80] }));
  });
}
