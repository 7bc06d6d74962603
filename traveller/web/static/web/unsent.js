// What this phone has told and not yet sent: the number in the header, the list, what was told of the step that stands
// open, and the page after a form that was kept. The store is the keeper's (keeper.js); this script asks it by message.
// Words come from the page (they are translated there); only {n}, {q}, {t} and the like are filled in here.

const body = document.body;
const keeperThere = "serviceWorker" in navigator && window.isSecureContext;
// The same list as the keeper's own: a browser without one of these keeps nothing, and the list of tasks says so.
const able = Boolean(window.indexedDB && window.caches && window.AbortController && navigator.locks && crypto.randomUUID);
const tell = (message) => navigator.serviceWorker.ready.then((registration) => registration.active?.postMessage(message));
const lang = document.documentElement.dataset.locale || undefined;
const one = (query, within = document) => within.querySelector(query);
const fill = (words, figures) => (words ?? "").replace(/\{(\w+)\}/g, (all, name) => figures[name] ?? all);
const clock = (at) => new Date(at).toLocaleTimeString(lang, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
const moment = (at) => (Date.now() - at < 12 * 3600e3 ? clock(at) : new Date(at).toLocaleString(lang, { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23" }));
const newId = () => crypto.randomUUID(); // the keeper runs only where this exists
const ASK_MS = 4_000;
const STEP = /^\/here\/step\/\d+/;

// --- What a form says of itself, in the words of its page -----------------------------------------------------------

const textOf = (element) => element?.innerText?.trim().replace(/\s+/g, " ") ?? "";

function labelOf(form, name, value) {
  const all = [...form.elements].filter((el) => el.name === name && el.type !== "hidden");
  const el = all.find((choice) => choice.value === value) ?? all[0];
  if (!el || el.type === "submit" || el.tagName === "BUTTON") return null;
  const label = el.labels?.[0];
  const words = [...(label?.childNodes ?? [])].filter((node) => !node.classList?.contains("field-help")).map((node) => node.textContent).join(" ");
  const said = words.trim().replace(/\s+/g, " ") || el.getAttribute("aria-label") || "";
  if (el.type === "radio" || el.type === "checkbox") return [textOf(el.closest("fieldset")?.querySelector("legend")), said];
  return [said, el.type === "datetime-local" ? value.replace("T", " ") : value];
}

function aboutOf(form, submitter) {
  const lines = [];
  for (const [name, value] of new FormData(form)) {
    if (typeof value !== "string" || !value.trim()) continue;
    const line = labelOf(form, name, value.trim());
    if (line) lines.push(line);
  }
  const back = [...document.querySelectorAll("main a[href]")].map((link) => link.pathname).find((path) => STEP.test(path));
  const step = (STEP.exec(location.pathname) || STEP.exec(back ?? ""))?.[0] ?? "";
  return {
    at: Date.now(),
    site: Number(body.dataset.site),
    person: body.dataset.person,
    title: document.title.split(" · ")[0],
    thing: textOf(one(".thing h1, .thing .name-of")),
    code: textOf(one(".thing .code")),
    said: textOf(submitter),
    form: form.dataset.once ?? "",
    quantity: form.elements.quantity?.value ?? "",
    lines: lines.slice(0, 40),
    step,
  };
}

// --- The number in the header ---------------------------------------------------------------------------------------

// Still to be sent, or not taken.
const isOpen = ({ state }) => state === "waiting" || state === "refused";

function showNumber({ entries, stopped }) {
  const place = one("[data-unsent]");
  if (!place) return;
  const open = entries.filter(isOpen).length;
  const all = { say: open };
  for (const { state } of entries) if (state !== "waiting") all[`say-${state}`] = (all[`say-${state}`] ?? 0) + 1;
  const [first, ...more] = Object.entries(all).map(([say, n]) => n && fill(place.getAttribute(`data-${say}`), { n: n.toLocaleString(lang) })).filter(Boolean);
  place.hidden = !first;
  place.dataset.state = all["say-refused"] ? "refused" : (open && stopped) || "waiting";
  one("[data-unsent-words]", place).textContent = first ?? "";
  one("[data-unsent-more]", place).textContent = more.join(" · ");
}

// --- The list -------------------------------------------------------------------------------------------------------

function line(name, words) {
  const row = document.createElement("p");
  if (name) row.append(Object.assign(document.createElement("span"), { className: "soft", textContent: `${name} ` }));
  row.append(Object.assign(document.createElement("b"), { textContent: words }));
  return row;
}

// The same form again, with what was typed and as news of its own; the old entry stays until the new one is told.
function openAgain(entry) {
  const id = newId();
  const values = {};
  for (const [name, value] of entry.fields) values[name] = name in values ? [values[name], value].flat() : value;
  const path = entry.path.split("?")[0];
  try {
    sessionStorage.setItem(`once:${path}:${entry.about.form}`, JSON.stringify({ id, values }));
  } catch { /* refused: the page opens empty, and the list still says what was typed */ }
  tell({ type: "again", id: entry.id, as: id });
  location.assign(entry.path);
}

function itemOf(entry, list) {
  const item = one("template", list).content.cloneNode(true).firstElementChild;
  const { about } = entry;
  const other = list.dataset.site && entry.site !== Number(list.dataset.site);
  item.dataset.state = other ? "other" : entry.state;
  one("[data-title]", item).textContent = other ? list.dataset.sayOther : about.title || entry.path;
  one("[data-thing]", item).textContent = other ? "" : [about.thing, about.code].filter(Boolean).join(" · ");
  one("[data-told-at]", item).textContent = [moment(entry.at), other ? "" : entry.person].filter(Boolean).join(" · ");
  const typed = one("[data-typed]", item);
  if (!other) {
    typed.replaceChildren(...(about.lines ?? []).map(([name, value]) => line(name, value)), ...entry.files.map((name) => line("", name)));
    if (!typed.childElementCount && about.said) typed.append(line("", about.said));
  }
  const why = one("[data-why]", item);
  if (entry.state === "refused") why.textContent = fill(list.dataset.sayWhy, { why: entry.words || entry.code });
  else why.textContent = other || isOpen(entry) ? "" : entry.words ?? "";
  for (const way of item.querySelectorAll("[data-way]")) way.hidden = entry.state !== (way.dataset.for ?? "refused") || other;
  one("[data-for]", item).addEventListener("click", () => tell({ type: "seen", seq: entry.seq }));
  one('[data-way="open"]', item).addEventListener("click", () => openAgain(entry));
  one('[data-way="retry"]', item).addEventListener("click", () => tell({ type: "retry", id: entry.id }));
  const aside = one('[data-way="aside"]', item);
  aside.addEventListener("click", () => {
    // Two taps: it leaves the list of what is to be sent, and no server will ever hear of it.
    if (aside.dataset.sure) tell({ type: "aside", id: entry.id });
    else { aside.dataset.sure = "yes"; aside.textContent = aside.dataset.saySure; }
  });
  if (entry.state === "aside" && entry.anew) one("[data-state-words]", item).textContent = list.dataset.sayAnew;
  else one("[data-state-words]", item).textContent = list.dataset[`say${entry.state[0].toUpperCase()}${entry.state.slice(1)}`] ?? "";
  return item;
}

let drawn = "";
function showList({ entries, stopped, site }) {
  const list = one("[data-unsent-list]");
  if (!list) return;
  list.dataset.site = site ?? "";
  // A list that is drawn anew under the thumb would undo a first tap.
  const now = JSON.stringify([entries, stopped, site]);
  if (now === drawn) return;
  drawn = now;
  const open = entries.filter(isOpen);
  const aside = entries.filter((entry) => entry.state === "aside");
  const reviews = entries.filter((entry) => entry.words && !isOpen(entry) && entry.state !== "aside");
  const n = reviews.filter((entry) => entry.state === "review").length;
  const place = one("[data-reviews]", list);
  place.hidden = !reviews.length;
  one("h2", place).textContent = fill(place.dataset[n > 1 ? "sayMany" : n ? "sayOne" : "sayDecided"], { n: n.toLocaleString(lang) });
  one("[data-review-items]", place).replaceChildren(...reviews.map((entry) => itemOf(entry, list)));
  one("[data-items]", list).replaceChildren(...open.map((entry) => itemOf(entry, list)));
  one("[data-aside-items]", list).replaceChildren(...aside.map((entry) => itemOf(entry, list)));
  one("[data-none]", list).hidden = open.length > 0 || n > 0;
  const goes = open.some((entry) => entry.state === "waiting");
  for (const way of document.querySelectorAll("[data-send-now]")) way.hidden = !goes;
  for (const way of document.querySelectorAll("[data-all-sent]")) way.hidden = goes;
  one("[data-aside]", list).hidden = !aside.length;
  for (const words of list.querySelectorAll("[data-stopped]")) words.hidden = words.dataset.stopped !== stopped;
}

// --- After a form that was kept ---------------------------------------------------------------------------------------

function showKept({ entries }) {
  const place = one("[data-kept-entry]");
  const id = new URLSearchParams(location.search).get("kept");
  if (!place || !id) return;
  const entry = entries.find((one) => one.id === id);
  body.dataset.situation = { aside: "sent", refused: "list", decided: "list", review: "review", waiting: "kept" }[entry?.state] ?? "sent";
  one("[data-review-why]").textContent = entry?.words ?? "";
  if (!entry) return;
  const { about } = entry;
  const typed = (about.lines ?? []).filter(([, value]) => value).map(([name, value]) => line(name, value));
  place.replaceChildren(line("", about.title || entry.path), line("", [about.thing, about.code].filter(Boolean).join(" · ")), ...typed, ...entry.files.map((name) => line("", name)));
  const next = one("[data-kept-next]");
  const load = new URLSearchParams(entry.path.split("?")[1]).get("load");
  const out = /\/out$/.test(entry.path.split("?")[0]) && about.step;
  next.href = out && load ? `${about.step}/count?load=${load}` : about.step || "/here/";
  next.textContent = next.dataset[out && load ? "sayCount" : about.step ? "sayStep" : "sayList"];
}

// What was typed is on the phone's disk now, so its form must not offer it again.
function forget(id) {
  try {
    for (const key of Object.keys(sessionStorage)) {
      if (key.startsWith("once:") && JSON.parse(sessionStorage.getItem(key))?.id === id) sessionStorage.removeItem(key);
    }
  } catch { /* refused */ }
}

// --- On a step's page: what this phone has told of it -------------------------------------------------------------------

const loadOf = (entry) => new URLSearchParams(entry.path.split("?")[1]).get("load") || entry.fields.find(([name]) => name === "load")?.[1];
const isLoadIn = (entry) => /\/load$/.test(entry.path.split("?")[0]);
const isLoadOut = (entry) => /\/out$/.test(entry.path.split("?")[0]);

function loadLine(entry, place, out) {
  const row = one("template", place).content.cloneNode(true).firstElementChild;
  const words = entry.about.quantity ? place.dataset.sayLoad : place.dataset.sayBareLoad;
  one("[data-line]", row).textContent = fill(words, { t: clock(entry.at), q: Number(entry.about.quantity).toLocaleString(lang) });
  const way = one("[data-out]", row);
  way.hidden = out;
  way.href = `${entry.about.step}/out?load=${entry.id}`;
  const timer = one(".timer", row);
  if (out || !timer) { timer?.remove(); return row; }
  Object.assign(timer.dataset, { load: entry.id, start: new Date(entry.at).toISOString(), now: new Date().toISOString(), needS: timerNeed() });
  // After it stands in the page: timer.js hears of it there.
  queueMicrotask(() => timer.dispatchEvent(new CustomEvent("timer", { bubbles: true })));
  return row;
}

const timerNeed = () => body.dataset.loadSeconds || one("[data-load-seconds]")?.dataset.loadSeconds || one(".timer[data-need-s]")?.dataset.needS || 0;

let told = "";
function showStep({ entries }) {
  const place = one("[data-told-here]");
  const step = STEP.exec(location.pathname)?.[0];
  if (!place || location.pathname !== step) return;
  const here = entries.filter((entry) => entry.state === "waiting" && entry.about.step === step);
  const now = here.map((entry) => entry.id).join();
  if (now === told) return;
  told = now;
  const over = new Set(here.filter(isLoadOut).map(loadOf));
  place.hidden = !here.length;
  one("[data-lines]", place).replaceChildren(...here.map((entry) => {
    if (isLoadIn(entry)) return loadLine(entry, place, over.has(entry.id));
    const { about } = entry;
    const lines = (about.lines ?? []).map(([name, value]) => [name, value].filter(Boolean).join(" "));
    const row = document.createElement("li");
    row.append(line(`${clock(entry.at)} · ${about.title}`, [...lines, ...entry.files].join(", ") || about.said));
    return row;
  }));
}

// A kept page of a load that no server knows yet: its number is unknown, its start is in the queue.
function showLoad({ entries }) {
  const id = new URLSearchParams(location.search).get("load");
  const form = one("form[data-once]");
  if (!id || !form) return;
  if (!form.elements.load) form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "load", value: id }));
  const entry = entries.find((one) => one.id === id && isLoadIn(one));
  const place = one("[data-load-unsent]");
  if (!entry || !place || place.dataset.load === id) return;
  place.dataset.load = id;
  place.hidden = false;
  const words = one("[data-load-words]", place);
  if (words) words.textContent = fill(words.dataset.say, { t: clock(entry.at), q: entry.about.quantity });
  const timer = one(".timer", place);
  if (!timer) return;
  Object.assign(timer.dataset, { load: id, start: new Date(entry.at).toISOString(), now: new Date().toISOString() });
  timer.dispatchEvent(new CustomEvent("timer", { bubbles: true }));
}

// Why nothing goes just now, where the server is the reason.
function showTrouble({ entries, trouble, site }) {
  const place = one("[data-trouble]");
  if (!place) return;
  const waiting = entries.filter((entry) => entry.state === "waiting" && (!site || !entry.site || entry.site === site)).length;
  const words = { away: place.dataset.sayAway, busy: place.dataset.sayBusy }[trouble];
  place.hidden = !words || !waiting;
  const text = place.hidden ? "" : fill(words, { n: waiting.toLocaleString(lang) });
  if (place.textContent !== text) place.textContent = text;
}

function show(message) {
  for (const deed of [showNumber, showTrouble, showList, showKept, showStep, showLoad]) deed(message);
  for (const place of document.querySelectorAll("[data-waiting]")) {
    place.textContent = message.entries.filter(isOpen).length.toLocaleString(lang);
  }
}

// --- Beginning --------------------------------------------------------------------------------------------------------

function showCopy() {
  const place = one("[data-copy]");
  if (!place || !body.dataset.kept) return;
  place.textContent = fill(place.dataset.say, { t: moment(Number(body.dataset.kept)) });
  place.hidden = false;
}

// The code that was scanned while its page is not here, and those that are here and nearly the same.
function showCode() {
  const place = one("[data-scanned]");
  if (!place || !body.dataset.code) return;
  const grouped = (code) => (code.length === 7 ? `${code.slice(0, 3)}-${code.slice(3, 6)}-${code.slice(6)}` : code);
  place.hidden = false;
  one("[data-scanned-code]", place).textContent = grouped(body.dataset.code);
  const near = (body.dataset.near ?? "").split(" ").filter(Boolean);
  one("[data-near]", place).hidden = !near.length;
  one("[data-near] ul", place).replaceChildren(...near.map((code) => {
    const item = document.createElement("li");
    item.append(Object.assign(document.createElement("a"), { className: "button", href: `/here/t/${code}`, textContent: grouped(code) }));
    return item;
  }));
}

function begin() {
  const here = { type: "here", site: Number(body.dataset.site), person: body.dataset.person, kept: Boolean(body.dataset.kept) };
  navigator.serviceWorker.addEventListener("message", ({ data }) => { if (data?.type === "queue") show(data); });
  navigator.serviceWorker.register("/keeper.js", { scope: "/", updateViaCache: "none" }).catch(() => { /* refused, or no signal just now */ });
  tell(here);
  window.addEventListener("online", () => tell({ type: "send", now: true }));
  document.addEventListener("visibilitychange", () => { if (!document.hidden) tell({ type: "send", now: true }); });
  // The keeper may have been put to sleep; while something waits, a page that stands open wakes it, and has it ask
  // whether the server is back.
  setInterval(() => { if (!one("[data-unsent]")?.hidden) tell({ type: "send", now: false }); }, ASK_MS);
  document.addEventListener("submit", (event) => {
    const id = event.target.elements?.news_id?.value;
    if (!id) return;
    // To the keeper that will answer this form; asked for at once, so that it knows before the form comes.
    navigator.serviceWorker.controller?.postMessage({ type: "about", id, about: aboutOf(event.target, event.submitter) });
  });
  for (const button of document.querySelectorAll("[data-send-now]")) button.addEventListener("click", () => tell({ type: "send", now: true }));
  const kept = new URLSearchParams(location.search).get("kept");
  if (kept) forget(kept);
  showCopy();
  showCode();
  // Only where the browser wakes the keeper by itself does it go without a page of ours.
  navigator.serviceWorker.ready.then((registration) => {
    for (const words of document.querySelectorAll("[data-by-itself]")) words.hidden = (words.dataset.byItself === "yes") !== ("sync" in registration);
  });
  // Asked each time: a browser that refused may grant it once the pages are used daily.
  navigator.storage?.persisted?.().then((safe) => safe || navigator.storage.persist()).then((safe) => {
    for (const words of document.querySelectorAll("[data-unsafe]")) words.hidden = safe;
  }).catch(() => {});
}

if (body.dataset.site && !body.hasAttribute("data-by-phone")) {
  if (keeperThere && able) begin();
  else {
    const why = window.isSecureContext ? "[data-too-old]" : "[data-no-keeper]";
    for (const words of document.querySelectorAll(why)) words.hidden = location.pathname !== "/here/";
  }
}

// A tap is answered at once, whatever the network does: what was tapped looks tapped until the next page is there.
function going(element) { element?.setAttribute("data-going", ""); }
document.addEventListener("click", (event) => {
  const link = event.target.closest("a[href]");
  if (link && !event.defaultPrevented && !link.target && !event.ctrlKey && !event.metaKey) going(link);
});
document.addEventListener("submit", (event) => { if (!event.defaultPrevented) going(event.submitter ?? event.target.querySelector("button")); });
window.addEventListener("pageshow", () => { for (const element of document.querySelectorAll("[data-going]")) element.removeAttribute("data-going"); });
