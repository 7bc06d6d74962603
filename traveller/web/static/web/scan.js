// Three ways in: a wedge scanner or typing, which works without this script; the live camera; a photo.

// A wedge types into whatever has the focus. When nothing has, its first character must not be lost.
const field = document.querySelector("[data-scan]");
if (field) {
  const busy = (el) => el && (el.isContentEditable || /^(INPUT|SELECT|TEXTAREA|BUTTON|A|SUMMARY)$/.test(el.tagName));
  document.addEventListener("keydown", (event) => {
    if (event.key.length !== 1 || event.ctrlKey || event.metaKey || event.altKey || busy(document.activeElement)) return;
    field.focus(); // the character then arrives in the field by itself
  });
  field.addEventListener("focus", () => field.select()); // the next scan replaces the last one
  field.form?.addEventListener("submit", (event) => {
    // An Enter suffix on an empty buffer, or a scanner that sends two Enters.
    field.value = field.value.trim();
    // data-scan="also": the form asks for more than the code, so it may go without one.
    if (!field.value && field.dataset.scan !== "also") event.preventDefault();
  });
}

// A photo posts its form as soon as it is taken.
for (const input of document.querySelectorAll("[data-photo]")) {
  input.addEventListener("change", () => { if (input.files.length) input.form.requestSubmit(); });
}

// The camera: only where the browser can read codes itself.
async function camera(button) {
  if (!("BarcodeDetector" in window) || !navigator.mediaDevices?.getUserMedia) return;
  let detector;
  try {
    const known = await window.BarcodeDetector.getSupportedFormats();
    const formats = ["qr_code", "code_128"].filter((name) => known.includes(name));
    if (!formats.length) return;
    detector = new window.BarcodeDetector({ formats });
  } catch { return; }
  const video = document.getElementById(button.dataset.camera);
  let stream = null;
  const stop = () => {
    stream?.getTracks().forEach((track) => track.stop());
    stream = null;
    video.hidden = true;
    button.setAttribute("aria-pressed", "false");
  };
  const look = async () => {
    if (!stream) return;
    try {
      const [found] = await detector.detect(video);
      if (found?.rawValue) {
        stop();
        document.dispatchEvent(new CustomEvent("buzz", { detail: 60 }));
        field.value = found.rawValue;
        field.form.requestSubmit();
        return;
      }
    } catch { /* a frame that is not ready yet: the next one will be */ }
    setTimeout(look, 120); // eight looks a second spare an old phone's battery
  };
  button.hidden = false;
  button.addEventListener("click", async () => {
    if (stream) { stop(); return; }
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch {
      button.hidden = true; // refused or no camera: the photo and the field remain
      return;
    }
    video.srcObject = stream;
    video.hidden = false;
    button.setAttribute("aria-pressed", "true");
    await video.play();
    look();
  });
  window.addEventListener("pagehide", stop);
}
if (field) for (const button of document.querySelectorAll("[data-camera]")) camera(button);
