// Rows of figures that share out a rest: "all 3" fills what is left, the balance line follows.
// A wedge scanner ends with Enter: in a lot's field that must lead on to the next field, not send the form.

const whole = (field) => (/^\d+$/.test(field.value.trim()) ? Number(field.value.trim()) : 0);

function wire(group) {
  const total = Number(group.dataset.share);
  const fields = [...group.querySelectorAll("[data-shared]")];
  const line = document.getElementById(group.dataset.balance || "");
  const left = () => total - fields.reduce((sum, field) => sum + whole(field), 0);
  const show = () => {
    const rest = left();
    const lang = document.documentElement.lang || undefined;
    if (line) {
      const words = rest > 0 ? line.dataset.sayLeft : rest < 0 ? line.dataset.sayOver : line.dataset.sayEven;
      line.textContent = words.replaceAll("{n}", Math.abs(rest).toLocaleString(lang));
    }
    for (const key of group.querySelectorAll("[data-rest]")) {
      const field = document.getElementById(key.dataset.rest);
      const n = Math.max(0, left() + whole(field));
      key.hidden = n === 0 || n === whole(field);
      key.textContent = key.dataset.say.replaceAll("{n}", n.toLocaleString(lang));
    }
  };
  group.addEventListener("click", (event) => {
    const key = event.target.closest("[data-rest]");
    if (!key) return;
    const field = document.getElementById(key.dataset.rest);
    field.value = String(Math.max(0, left() + whole(field)));
    field.dispatchEvent(new Event("input", { bubbles: true }));
    if (navigator.vibrate) navigator.vibrate(12);
  });
  group.addEventListener("input", show);
  show();
}

for (const group of document.querySelectorAll("[data-share]")) wire(group);

for (const field of document.querySelectorAll("[data-lot]")) {
  field.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    const all = [...field.form.querySelectorAll("input:not([type=hidden]), button")].filter((el) => el.checkVisibility());
    all[all.indexOf(field) + 1]?.focus();
  });
}

// One tap writes the place or the name that was used lately.
document.addEventListener("click", (event) => {
  const key = event.target.closest("[data-write]");
  if (!key) return;
  const field = document.getElementById(key.dataset.write);
  field.value = key.dataset.text;
  field.dispatchEvent(new Event("input", { bubbles: true }));
});
for (const key of document.querySelectorAll("[data-write]")) key.hidden = false;
