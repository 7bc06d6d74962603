// The number pad. Without this script the field is a plain number field and the phone's own keys come up.
// Words for the great button come from the page (they are translated there); only {n} is filled in here.

const whole = (text) => (/^\d+$/.test(text) ? Number(text) : null);

function sayNext(button, value, total) {
  const say = button.dataset;
  const missing = total - value;
  const words = missing > 0 ? say.sayLess : missing < 0 ? say.sayMore : say.sayAll;
  if (words) button.textContent = words.replaceAll("{n}", Math.abs(missing || total).toLocaleString(document.documentElement.lang || undefined));
  // More than arrived is a question, so the button stops looking like a plain yes.
  button.dataset.ask = String(missing < 0);
}

function wire(pad) {
  const field = document.getElementById(pad.dataset.padFor);
  if (!field) return;
  const button = document.querySelector("[data-say-all]");
  const total = whole(pad.dataset.total ?? "");
  const longest = Number(pad.dataset.digits || 6);
  const decimal = pad.dataset.decimal || "";
  let fresh = true; // the first key replaces what the page proposed, as on any counter

  // The pad is the keyboard: keep the phone's own one down. A wedge or a real keyboard still types.
  field.setAttribute("inputmode", "none");
  pad.hidden = false;

  const refresh = () => {
    if (button && total !== null) {
      const value = whole(field.value.trim());
      if (value !== null) sayNext(button, value, total);
    }
  };
  const put = (text) => {
    field.value = text;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  };
  pad.addEventListener("click", (event) => {
    const key = event.target.closest("button")?.dataset;
    if (!key) return;
    const now = fresh && key.key ? "" : field.value;
    fresh = false;
    if (key.key === decimal && decimal !== "" && now.includes(decimal)) return;
    if (key.key) { if (now.length < longest) put(now === "0" && key.key !== decimal ? key.key : now + key.key); }
    else if (key.rub !== undefined) put(now.slice(0, -1));
    else if (key.all !== undefined) { put(key.all); fresh = true; }
    if (navigator.vibrate) navigator.vibrate(12); // gloves feel no key
  });
  field.addEventListener("input", () => { fresh = false; refresh(); });
  refresh();
}

for (const pad of document.querySelectorAll("[data-pad-for]")) wire(pad);
