// A form that must count once. Three duties:
// 1. its news gets an id made here, so that a retry is the same news and never counted twice;
// 2. the button cannot be pressed twice;
// 3. what was typed stays on this device until the server says that it has it.
// <form data-once="count"> with <input type="hidden" name="news_id">; the answer's <body data-confirmed="ID"> ends it.

const FIELD = "news_id";
const PREFIX = "once:";
const USED = "told-ids";
const USED_MOST = 100;

// randomUUID exists only over https; getRandomValues exists everywhere (RFC 9562, version 4).
function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 0x0f) | 0x40;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = Array.from(b, (x) => x.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

// A browser that refuses storage must still be able to send.
const store = {
  read(key) { try { return JSON.parse(sessionStorage.getItem(key)); } catch { return null; } },
  write(key, value) { try { sessionStorage.setItem(key, JSON.stringify(value)); } catch { /* full or refused */ } },
  drop(key) { try { sessionStorage.removeItem(key); } catch { /* refused */ } },
  keys() { try { return Object.keys(sessionStorage).filter((key) => key.startsWith(PREFIX)); } catch { return []; } },
};

const keepable = (el) => el.name && el.name !== "csrfmiddlewaretoken" && !/^(password|file|submit|button|hidden)$/.test(el.type);

function typed(form) {
  const values = {};
  for (const el of form.elements) {
    if (!keepable(el)) continue;
    if (el.type === "checkbox" || el.type === "radio") { if (el.checked) (values[el.name] ??= []).push(el.value); }
    else values[el.name] = el.value;
  }
  return values;
}

function putBack(form, values) {
  for (const el of form.elements) {
    if (!keepable(el)) continue;
    if (el.type === "checkbox" || el.type === "radio") el.checked = (values[el.name] ?? []).includes(el.value);
    else if (el.name in values) el.value = values[el.name];
    el.dispatchEvent(new Event("input", { bubbles: true })); // the pad and the great button follow
  }
}

function wire(form) {
  const key = PREFIX + location.pathname + ":" + form.dataset.once;
  const id = form.elements[FIELD];
  if (!id) return;
  const kept = store.read(key);
  // The server's own values win: a page that came back with errors already holds what was typed.
  const bound = form.hasAttribute("data-bound");
  if (kept && !bound) { putBack(form, kept.values); id.value = kept.id; }
  // A kept page carries none, one out of the browser's memory perhaps a used one: each sending is news of its own.
  if (!id.value || (!bound && used.has(id.value))) id.value = newId();
  // A page that came back says its next id.
  if (kept && bound) store.write(key, { id: id.value, values: kept.values });
  // A used id is never kept: it would be refused once more.
  const keep = () => { if (!used.has(id.value)) store.write(key, { id: id.value, values: typed(form) }); };
  form.addEventListener("input", (event) => {
    if (!event.isTrusted && !store.read(key)) return; // our own refresh is not typing
    keep();
  });
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent === "true") { event.preventDefault(); return; }
    form.dataset.sent = "true";
    keep();
    // aria-disabled, not disabled: a disabled button's own name and value would not be sent.
    for (const button of form.querySelectorAll("button:not([type='button'])")) button.setAttribute("aria-disabled", "true");
  });
}

function wake(form) {
  delete form.dataset.sent;
  // What was recorded, or kept by the phone, is forgotten here: sent once more it is news of its own.
  const id = form.elements[FIELD];
  if (id && store.read(PREFIX + location.pathname + ":" + form.dataset.once)?.id !== id.value) id.value = newId();
  for (const button of form.querySelectorAll("[aria-disabled]")) button.removeAttribute("aria-disabled");
}

// The page that an answer leads to lets its form go; a paper says it in a cookie.
const used = new Set(store.read(USED) ?? []);
const printed = /(?:^|; )told=([0-9a-f-]{36})(?:;|$)/.exec(document.cookie)?.[1];
for (const confirmed of [document.body.dataset.confirmed, printed]) {
  if (!confirmed) continue;
  for (const key of store.keys()) if (store.read(key)?.id === confirmed) store.drop(key);
  used.add(confirmed);
  store.write(USED, [...used].slice(-USED_MOST));
}
const forms = document.querySelectorAll("form[data-once]");
forms.forEach(wire);
// Back from a page that failed: the browser shows this page as it was left, with its button still dead.
window.addEventListener("pageshow", (event) => { if (event.persisted) forms.forEach(wake); });
