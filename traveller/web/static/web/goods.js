// What was weighed or stamped becomes pieces while it is typed, so that nobody has to reckon. The server does it again.
// Fields marked data-quantity hold pieces, gross weights or shots, by the method; + stands between totes.

const GRAMS = { kg: 1000, g: 1, lb: 453.59237, oz: 28.349523125 };
const lang = document.documentElement.dataset.locale || undefined;
const shown = (n) => n.toLocaleString(lang);
// A figure that can be read in two ways (1,200) is reckoned by the server alone, which asks.
const number = (text) => {
  const packed = text.replace(/[\s'’]/g, "").replace(",", ".");
  if (/^\d{1,3}\.\d{3}$/.test(packed) && !packed.startsWith("0")) return null;
  return /^(\d+\.?\d*|\.\d+)$/.test(packed) ? Number(packed) : null;
};
const grams = (text, unit) => {
  const typed = /^\s*([^A-Za-z]+?)\s*([A-Za-z]*)\s*$/.exec(text);
  const value = typed ? number(typed[1]) : null;
  const size = GRAMS[(typed?.[2] || unit).toLowerCase()];
  return value === null || !size ? null : value * size;
};

export function wire(form) {
  const of = (name) => form.elements[name]?.value ?? "";
  const method = () => of("method") || "hand";
  // What is typed for one tote -> its pieces; null where that is not to be reckoned, or cannot be.
  const pieces = (text) => {
    if (method() === "shots") {
      const [shots, cavities] = [number(text), number(of("cavities"))];
      return shots === null || !cavities ? null : shots * cavities;
    }
    const [one, sample] = [grams(of("sample_weight"), of("sample_unit")), number(of("sample"))];
    const gross = grams(text, of("weight_unit"));
    const net = gross === null ? null : gross - (grams(of("tare"), of("weight_unit")) ?? 0);
    return !one || !sample || net === null || net < 0 ? null : Math.round((net * sample) / one);
  };
  // As traveller.rules.counts reckons it: what pieces differ by (cv), and the steps of both scales.
  const spread = (n, totes, cv) => {
    const sample = number(of("sample")) || 10;
    const weight = grams(of("sample_weight"), of("sample_unit"));
    const steps = [grams(of("sample_step"), of("sample_unit")), grams(of("step"), of("weight_unit"))];
    const [fine, coarse] = [steps[0] ?? steps[1] ?? 0, steps[1] ?? steps[0] ?? 0];
    const readings = totes + (of("tare").trim() === "" ? 0 : totes ** 2);
    const pieces = cv ** 2 * (n ** 2 / sample + n);
    const scale = weight ? ((n * fine) / weight) ** 2 / 12 + (readings * ((coarse * sample) / weight) ** 2) / 12 : 0;
    return n ? Math.ceil(2 * Math.sqrt(pieces + scale)) : 0;
  };
  const reckons = () => (method() === "weight" && of("sample_weight").trim() !== "") || (method() === "shots" && of("cavities").trim() !== "");

  const refresh = () => {
    const now = method();
    const figure = reckons() ? now : "hand";
    for (const one of form.querySelectorAll("[data-by]")) one.hidden = one.dataset.by !== figure;
    for (const one of form.querySelectorAll("[data-weight-unit]")) one.textContent = of("weight_unit");
    for (const one of form.querySelectorAll("[data-method]")) one.textContent = one.dataset[now];
    for (const one of form.querySelectorAll("[data-point]")) one.hidden = figure !== "weight";
    for (const field of form.querySelectorAll("[data-quantity]")) {
      const line = field.parentElement.querySelector("[data-makes]");
      const totes = field.value.split("+").map((text) => (figure === "hand" ? number(text) : pieces(text)));
      const whole = field.value.trim() !== "" && totes.every((n) => n !== null);
      const sum = whole ? totes.reduce((all, n) => all + n, 0) : 0;
      line.hidden = !whole || (figure === "hand" && totes.length < 2);
      const words = now === "weight" ? line.dataset.saySpread : line.dataset.say;
      line.textContent = words.replaceAll("{n}", shown(sum)).replaceAll("{s}", shown(spread(sum, totes.length, line.dataset.cv / 1e6)));
    }
    for (const card of form.querySelectorAll("[data-mix]")) {
      const mixed = card.querySelector("[data-quantity]").value.trim() !== "";
      for (const name of card.dataset.mix.trim().split(" ")) {
        form.querySelector(`[data-card="${name}"]`).dataset.due = mixed ? "no" : "yes";
      }
      card.dataset.due = mixed ? "yes" : "no";
    }
    form.dispatchEvent(new CustomEvent("cards"));
  };
  form.addEventListener("input", refresh);
  form.addEventListener("change", refresh);
  // What stood beside the field, or was passed over by a tap, need not be asked once more.
  form.addEventListener("submit", () => {
    const seen = [...form.querySelectorAll("[data-quantity]")].every(
      (field) => field.value.trim() === "" || !field.parentElement.querySelector("[data-makes]").hidden,
    );
    const sure = reckons() && seen ? [method() === "weight" ? "by_weight" : "by_shots"] : [];
    if (form.querySelector("[data-not-come]")) sure.push("lines_left");
    for (const code of sure) {
      const name = `sure:${code}`;
      if (!form.elements[name]) form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value: "yes" }));
    }
  });
  refresh();
}

const form = document.querySelector("form[data-cards]");
if (form) wire(form);
