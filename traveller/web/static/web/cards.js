// One question at a time. The page is one document whose questions are sections; this script shows them one by one,
// so that a tap answers at once, with a network or without. Where it does not run they stand in a list, in one form.
// <form data-cards data-say-next data-say-done> around <section data-card="good">, in .thumb [data-back] and .go.
// data-due="no": not asked on the way, because its answer is offered ([data-go] leads to it) or not needed.
// data-send: its great button sends the form, though other cards stand behind it.
// data-low, data-high, or data-ask='{"code": …}': what is asked once more before the answer counts.

// Digits of Arabic keyboards and wide ones as the server reads them (rules/numbers.py).
const plain = (text) => text.normalize("NFKC").replace(/[٠-٩۰-۹]/g, (c) => c.charCodeAt(0) & 15).replace(/[\s'’٬]/g, "").replace("٫", ".").replace("−", "-");
const mark = () => document.querySelector("[name=mark]")?.value ?? ".";
// What a figure can mean that can mean two things, such as 1,234: as its buttons write it.
const ways = (text) => {
  const found = plain(text).match(/^(-?[1-9]\d{0,2})([.,])(\d{3})$/);
  return found && found[2] !== mark() ? [found[1] + mark() + found[3], found[1] + found[3]] : [];
};
// A figure as typed: null for none, and for one that could mean two.
const number = (text) => {
  const found = plain(text).match(/^([+-]?)(\d[\d.,]*|[.,]\d+)$/);
  if (!found) return null;
  const [, sign, body] = found;
  const marks = body.match(/[.,]/g) ?? [];
  if (marks.length < 2) return ways(text).length ? null : Number(sign + body.replace(",", "."));
  const [group, point] = [marks[0], marks.at(-1)];
  const [whole, rest, more] = point === group ? [body, "0"] : body.split(point);
  if (more !== undefined || !new RegExp(`^\\d{1,3}(\\${group}\\d{3})+$`).test(whole)) return null;
  return Number(`${sign}${whole.replaceAll(group, "")}.${rest || 0}`);
};
const fill = (words, figures) => words.replace(/\{(\w+)\}/g, (all, name) => figures[name] ?? all);

function wire(form) {
  const cards = [...form.querySelectorAll("[data-card]")];
  const go = form.querySelector(".thumb .go");
  const row = go?.closest("[data-row]");
  if (!cards.length || !row) return;
  const back = row.querySelector("[data-back]");
  const last = go.dataset.sayLast;
  const progress = form.querySelector("[data-progress]");
  let now = cards[0];

  const named = (name) => cards.find((card) => card.dataset.card === name);
  const due = (card) => card.dataset.due !== "no";
  const first = () => cards.find(due) ?? cards[0];
  const after = (card) => cards.slice(cards.indexOf(card) + 1).find(due);
  const before = (card) => cards.slice(0, cards.indexOf(card)).findLast(due);
  const field = (card) => card.querySelector("input:not([type=hidden], [type=radio], [type=checkbox])");
  const depth = () => history.state?.depth ?? 0;

  // What must be asked once more before this card's answer counts; null when nothing, or when it was answered.
  const asks = (card) => {
    let asked = card.dataset.ask ? JSON.parse(card.dataset.ask) : null;
    const value = field(card) ? number(field(card).value.trim()) : null;
    const { low, high, limits, unit } = card.dataset;
    // Limits are in the check's own unit; a value in the other one is judged by the server, exactly.
    const own = (card.querySelector("[data-unit-of]")?.value ?? unit) === unit;
    if (!asked && own && value !== null && ((low && value < Number(low)) || (high && value > Number(high)))) {
      asked = { code: "outside_limits", value: `${field(card).value.trim()} ${unit ?? ""}`.trim(), limits };
    }
    if (!asked || card.dataset.sure === JSON.stringify(asked)) return null;
    return form.querySelector(`[data-really="${asked.code}"]`) ? asked : null;
  };

  const refresh = () => {
    const next = after(now);
    const astray = !due(now);
    const ends = !next || now.dataset.send !== undefined;
    const { total, sayAll } = now.dataset;
    const full = ends && total && field(now)?.value.trim() === total ? fill(sayAll ?? "", { n: Number(total).toLocaleString(document.documentElement.dataset.locale || undefined) }) : "";
    go.textContent = now.dataset.say || full || (astray ? form.dataset.sayDone : next ? form.dataset.sayNext : last);
    go.dataset.ask = String(asks(now) !== null);
    back.hidden = now === first() && !depth();
    for (const one of form.querySelectorAll("[data-leave]")) one.hidden = !back.hidden;
    for (const one of form.querySelectorAll("[data-last]")) one.hidden = !ends || astray;
    for (const one of form.querySelectorAll("[data-offer]")) one.hidden = one.dataset.offer === now.dataset.card;
    for (const one of form.querySelectorAll("[data-shows]")) {
      one.textContent = document.getElementById(one.dataset.shows).value || one.dataset.sayNone || "–";
    }
    if (progress) {
      const way = cards.filter((card) => due(card) || card === now);
      progress.textContent = fill(progress.dataset.say, { n: way.indexOf(now) + 1, m: way.length });
      progress.hidden = way.length < 2;
    }
  };

  const show = (card, focus = true) => {
    now = card;
    for (const one of cards) one.hidden = one !== card;
    document.body.dataset.card = cards.indexOf(card) ? "later" : "first";
    refresh();
    if (!focus) return;
    window.scrollTo(0, 0);
    (card.querySelector("[data-focus]") ?? field(card) ?? go).focus({ preventScroll: true });
  };
  // Each card is a step of the browser's own way back, so that going back is free by any means.
  const forward = (card) => {
    history.pushState({ card: card.dataset.card, depth: depth() + 1 }, "");
    show(card);
  };
  const goBack = () => {
    if (depth()) history.back();
    else show(before(now) ?? first());
  };

  const question = () => form.querySelector("[data-really]:not([hidden])");
  const answer = () => {
    const open = question();
    if (open) open.hidden = true;
    row.hidden = false;
  };
  const ask = (asked) => {
    const open = form.querySelector(`[data-really="${asked.code}"]`);
    for (const words of open.querySelectorAll("[data-words]")) words.textContent = fill(words.dataset.words, asked);
    open.hidden = false;
    row.hidden = true;
    open.querySelector("[data-no]").focus();
  };
  const sure = (asked) => {
    now.dataset.sure = JSON.stringify(asked);
    const name = `sure:${asked.code}`;
    if (form.elements[name]) return;
    const yes = Object.assign(document.createElement("input"), { type: "hidden", name, value: "yes" });
    form.append(yes);
  };
  // What is no answer is said here: without a signal nobody else would say it before it is kept as news.
  const missing = (card) => {
    const one = field(card);
    const text = one?.value.trim() ?? "";
    const { sayEmpty, sayBad, whole: pieces } = card.dataset;
    const good = pieces === undefined ? number(text) !== null : /^(\d+|\d{1,3}([.,]\d{3})+)$/.test(plain(text));
    const two = pieces === undefined && card.dataset.sayTwo ? ways(text) : [];
    const words = text ? (sayBad && !good && fill(two.length ? card.dataset.sayTwo : sayBad, { text })) : (!card.dataset.passed && sayEmpty);
    if (!words || !one) return false;
    card.querySelector("[role=alert]")?.remove();
    const line = document.createElement("div");
    const list = Object.assign(document.createElement("ul"), { className: "errors" });
    const said = document.createElement("li");
    if (two.length) said.append(Object.assign(document.createElement("span"), { className: "asked", textContent: words }));
    else said.textContent = words;
    for (const way of two) {
      const button = Object.assign(document.createElement("button"), { type: "button", className: "alt", textContent: way });
      button.addEventListener("click", () => {
        one.value = way;
        line.remove();
        one.dispatchEvent(new Event("input", { bubbles: true }));
      });
      said.append(button);
    }
    list.append(said);
    line.setAttribute("role", "alert");
    line.append(list);
    (one.closest(".ask") ?? one).after(line);
    one.focus();
    return true;
  };

  // Before all others that listen: what only leads on to the next card is not yet the sending of the form.
  document.addEventListener("submit", (event) => {
    if (event.target !== form || (event.submitter && event.submitter !== go)) return;
    const asked = asks(now);
    const next = due(now) && now.dataset.send === undefined ? after(now) : null;
    const held = missing(now);
    if (held || asked || next || !due(now)) {
      event.preventDefault();
      event.stopImmediatePropagation();
      if (held) return;
      if (asked) ask(asked);
      else if (next) forward(next);
      else goBack();
      return;
    }
    for (const one of form.querySelectorAll("[data-sends]")) one.value = one.dataset.sends; // it holds all answers
  }, true);

  form.addEventListener("click", (event) => {
    const key = event.target.closest("button");
    if (!key) return;
    if (key === back) goBack();
    else if (key.dataset.go !== undefined) forward(named(key.dataset.go));
    else if (key.dataset.skip !== undefined) {
      now.dataset.passed = "yes";
      if (field(now)) field(now).value = "";
      form.requestSubmit(go);
    } else if (key.dataset.no !== undefined) { answer(); field(now)?.focus(); }
    else if (key.dataset.yes !== undefined) {
      const asked = asks(now);
      answer();
      if (asked) sure(asked);
      form.requestSubmit(go);
    }
  });
  form.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && question()) { answer(); field(now)?.focus(); }
  });
  form.addEventListener("input", (event) => {
    if (event.isTrusted || event.target === field(now)) delete now.dataset.passed;
    now.querySelector("[role=alert]")?.remove();
    answer();
    refresh();
  });
  form.addEventListener("cards", refresh); // a script of the page has reckoned anew what is due
  window.addEventListener("popstate", () => { answer(); show(named(history.state?.card) ?? first()); });

  for (const one of form.querySelectorAll("[data-unfold]")) one.hidden = false;
  const wrong = cards.find((card) => card.querySelector("[aria-invalid=true]"));
  const left = named(history.state?.card);
  // Back by reload: where one was, if all before it is still answered; else from the start.
  const open = (card) => card.dataset.sayEmpty && field(card) && !field(card).value.trim();
  const whole = left && !cards.slice(0, cards.indexOf(left)).some((card) => due(card) && open(card));
  if (!whole) history.replaceState(null, "");
  show(wrong ?? (whole ? left : first()), false);
}

for (const form of document.querySelectorAll("form[data-cards]")) wire(form);
