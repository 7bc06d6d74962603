// The balance of a count, reckoned while it is typed: only one that fails asks why.
// <form data-count data-there="24" or ""> with the fields of count.html; cards.js shows the questions that are due.

const whole = (field) => {
  const text = (field?.value ?? "").replace(/[\s'’]/g, "");
  if (/^\d{1,3}([.,]\d{3})+$/.test(text)) return Number(text.replace(/[.,]/g, ""));
  return /^\d+$/.test(text) ? Number(text) : null;
};
const shown = (n) => Math.abs(n).toLocaleString(document.documentElement.dataset.locale || undefined);
const say = (words, n, good = 0) => (words ?? "").replaceAll("{n}", shown(n)).replaceAll("{good}", shown(good));

function wire(form) {
  const card = (name) => form.querySelector(`[data-card="${name}"]`);
  const [first, shots, rest] = [card("good"), card("shots"), card("rest")];
  const good = form.elements.good;
  const shares = [...form.querySelectorAll("[data-shared]")];
  const balance = rest.querySelector("[data-balance]");
  const heading = rest.querySelector("[data-heading]");
  const there = form.dataset.there === "" ? null : Number(form.dataset.there);
  // What must be told of in all: the pieces that wait, or those that the shots gave; null where nobody knows.
  const expected = () => {
    if (there !== null || !shots) return there;
    const told = whole(form.elements.shots);
    const open = whole(form.elements.open_cavities);
    return told && open ? told * open : null;
  };
  const told = () => shares.reduce((sum, field) => sum + (whole(field) ?? 0), 0);
  const ask = (one, counted) => {
    const over = there !== null && counted > there;
    if (over) one.dataset.ask = JSON.stringify({ code: form.dataset.more ?? "more_than_there", counted: shown(counted), there: shown(there) });
    else delete one.dataset.ask;
  };

  const reckon = () => {
    const all = expected();
    const pieces = whole(good);
    const missing = all === null || pieces === null ? null : all - pieces;
    const left = missing === null ? null : missing - told();
    const wanted = shots ? missing > 0 : missing === null || missing > 0;
    rest.dataset.due = wanted || told() > 0 ? "yes" : "no";
    const lots = [...form.querySelectorAll("[data-card^=lot]")].some((one) => one.dataset.due !== "no");
    const more = wanted || lots || shots;

    const words = first.dataset;
    if (there === null || pieces === null) words.say = "";
    else if (missing > 0) words.say = say(words.sayLess, missing);
    else if (missing < 0) words.say = say(words.sayMore, missing);
    else words.say = more ? "" : say(words.sayAll, pieces);
    ask(first, pieces ?? 0);
    if (there !== null && left) rest.dataset.say = say(left > 0 && !lots ? rest.dataset.sayStay : left < 0 ? rest.dataset.sayMore : "", left);
    else rest.dataset.say = "";
    ask(rest, pieces === null || pieces > there ? 0 : pieces + told());

    heading.textContent = missing > 0 ? say(heading.dataset.sayMissing, missing, pieces) : say(heading.dataset.sayBesides, 0, pieces ?? 0);
    balance.hidden = left === null;
    if (left !== null) balance.textContent = say(left > 0 ? balance.dataset.sayLeft : left < 0 ? balance.dataset.sayOver : balance.dataset.sayEven, left);
    balance.toggleAttribute("data-even", left === 0);
    const line = shots?.querySelector("[data-yield]");
    if (line) {
      line.hidden = all === null;
      if (all !== null) line.textContent = say(missing < 0 ? line.dataset.sayOver : line.dataset.sayGave, missing < 0 ? missing : all);
    }
    form.dispatchEvent(new CustomEvent("cards"));
  };

  // A tap on a reason takes all that is left to it; the pad then changes the figure. Tabbing there takes nothing.
  for (const plate of rest.querySelectorAll("[data-plate]")) {
    plate.addEventListener("click", () => {
      const field = plate.querySelector("input");
      const all = expected();
      const left = all === null ? 0 : all - (whole(good) ?? 0) - told();
      if (field.value.trim() === "" && left > 0) {
        field.value = String(left);
        field.dispatchEvent(new Event("input", { bubbles: true }));
      }
      field.focus({ preventScroll: true });
      document.dispatchEvent(new CustomEvent("buzz", { detail: 12 }));
    });
  }
  form.addEventListener("input", reckon);
  reckon();
}

for (const form of document.querySelectorAll("form[data-count]")) wire(form);
