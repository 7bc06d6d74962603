// The number pad. Without this script the field is a plain number field and the phone's own keys come up.
// One pad serves one field (data-pad-for), or the chosen one of a group (data-pad-group).
// Words for the great button come from the page (they are translated there); only {n} is filled in here.

const whole = (text) => (/^\d+$/.test(text) ? Number(text) : null);
const buzz = () => document.dispatchEvent(new CustomEvent("buzz", { detail: 12 })); // gloves feel no key

function sayNext(button, value, total) {
  const say = button.dataset;
  const missing = total - value;
  const words = missing > 0 ? say.sayLess : missing < 0 ? say.sayMore : say.sayAll;
  if (words) button.textContent = words.replaceAll("{n}", Math.abs(missing || total).toLocaleString(document.documentElement.dataset.locale || undefined));
  // More than arrived is a question, so the button stops looking like a plain yes.
  button.dataset.ask = String(missing < 0);
}

function wire(pad) {
  const group = document.getElementById(pad.dataset.padGroup ?? "");
  const fields = group ? [...group.querySelectorAll("input")] : [document.getElementById(pad.dataset.padFor)];
  if (!fields[0]) return;
  const button = document.querySelector(".go[data-say-all]");
  const total = whole(pad.dataset.total ?? "");
  const longest = Number(pad.dataset.digits || 6);
  const decimal = pad.dataset.decimal || "";
  let chosen = group ? null : fields[0];
  let fresh = true; // the first key replaces what the page proposed, as on any counter

  // The pad is the keyboard: keep the phone's own one down.
  for (const field of fields) field.setAttribute("inputmode", "none");
  pad.hidden = false;
  pad.toggleAttribute("data-idle", !chosen);

  const refresh = () => {
    if (button && total !== null) {
      const value = whole(chosen.value.trim());
      if (value !== null) sayNext(button, value, total);
    }
  };
  const put = (text) => {
    chosen.value = text;
    chosen.dispatchEvent(new Event("input", { bubbles: true }));
  };
  pad.addEventListener("click", (event) => {
    const key = event.target.closest("button")?.dataset;
    if (!key || !chosen) return;
    const now = fresh && key.key ? "" : chosen.value;
    const size = now.replace(/^-/, "").length;
    fresh = false;
    if (key.key === decimal && decimal !== "" && now.includes(decimal)) return;
    if (key.key) { if (size < longest) put(/^-?0$/.test(now) && key.key !== decimal ? now.slice(0, -1) + key.key : now + key.key); }
    else if (key.rub !== undefined) put(now.slice(0, -1));
    else if (key.sign !== undefined) put(now.startsWith("-") ? now.slice(1) : `-${now}`);
    else if (key.all !== undefined) { put(key.all); fresh = true; }
    fresh = key.all !== undefined;
    buzz();
  });
  for (const field of fields) {
    field.addEventListener("input", () => { if (field === chosen) fresh = false; if (!group) refresh(); });
    if (group) {
      field.addEventListener("focus", () => {
        if (chosen === field) return;
        chosen = field;
        fresh = true;
        pad.removeAttribute("data-idle");
        for (const one of fields) one.toggleAttribute("data-chosen", one === field);
      });
    }
  }
  // Choosing a field anew: the next key replaces what a tap put there.
  group?.addEventListener("click", () => { fresh = true; });
  if (!group) refresh();
}

for (const pad of document.querySelectorAll("[data-pad-for], [data-pad-group]")) wire(pad);
