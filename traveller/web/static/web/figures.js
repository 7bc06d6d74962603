// A wedge scanner ends with Enter: in a lot's field that must lead on to the next field, not send the form.
// And one tap writes the place, the name or the lot that was used lately.

for (const field of document.querySelectorAll("[data-lot]")) {
  field.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    const all = [...field.form.querySelectorAll("input:not([type=hidden]), button")].filter((el) => el.getClientRects().length);
    all[all.indexOf(field) + 1]?.focus();
  });
}

document.addEventListener("click", (event) => {
  const key = event.target.closest("[data-write]");
  if (!key) return;
  const field = document.getElementById(key.dataset.write);
  field.value = key.dataset.text;
  field.dispatchEvent(new Event("input", { bubbles: true }));
  document.dispatchEvent(new CustomEvent("buzz", { detail: 12 }));
});
for (const key of document.querySelectorAll("[data-write]")) key.hidden = false;
