// The keeper: a service worker that lets the operator's pages work without a signal.
// Pages: the network first, with a short patience, else the copy kept on this phone, else a page in words.
// Forms that tell news: the network first; where it fails, the form itself is kept, and sent later in order.
// Served by traveller/web/keeper_files.py in one piece with keeper_store, keeper_codes and keeper_send before it,
// and with VERSION and STATICS, so that a change of any of the files is a new keeper.

const PATIENCE_PAGE_MS = 3_000;
const PATIENCE_FORM_MS = 6_000;
const PATIENCE_FILES_MS = 45_000;
// Once the network was silent, the next pages do not wait as long to learn the same.
const PATIENCE_DOWN_MS = 800;
const PATIENCE_KEEP_MS = 60_000;
const ASK_AGAIN_MS = 10_000;
const PICTURES_MAX = 60;
const LIST = "/here/", OWN = "/here/unsent";
const PAGES = /^\/((here|t)\/|(person|language)$)/;
const DOOR = /^\/(person|pass|sign-in)\b/;
const DOORS = new Set([401, 403, 429]);
// A page if the pass is good, and words for a machine if not: a stranger's page could be taken for an answer.
const ACCEPT = "application/json, text/html;q=0.9";
const STATICS_NAME = `statics-${VERSION}`, PICTURES = "pictures";

// What it cannot do without (README names the browsers that have it). Where something is missing it keeps nothing and
// stands in nobody's way; the pages then do not even ask for it.
const ABLE = Boolean(self.indexedDB && self.caches && self.AbortController && self.navigator.locks && self.crypto?.randomUUID);

let down = false;
const abouts = new Map(); // what a page says of the form it is about to send
const landed = new Map(); // pages fetched behind a form, until the browser asks for them a moment later

self.addEventListener("install", (event) => {
  self.skipWaiting();
  event.waitUntil(caches.open(STATICS_NAME).then((cache) => Promise.allSettled(STATICS.map((path) => cache.add(path)))));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name !== STATICS_NAME && name !== PICTURES) await caches.delete(name);
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const { method, mode } = event.request;
  const url = new URL(event.request.url);
  if (!ABLE || url.origin !== self.location.origin) return;
  if (method === "GET" && url.pathname.startsWith("/static/")) event.respondWith(fromCache(STATICS_NAME, event.request));
  else if (method === "GET" && url.pathname.startsWith("/picture/")) event.respondWith(fromCache(PICTURES, event.request));
  else if (mode !== "navigate") return;
  else if (method === "GET" && PAGES.test(url.pathname)) event.respondWith(page(event, url));
  else if (method === "POST" && url.pathname === "/person") event.respondWith(person(event, url));
  else if (method === "POST" && url.pathname.startsWith("/here/")) event.respondWith(form(event, url));
});

self.addEventListener("sync", (event) => { if (event.tag === "queue") event.waitUntil(sendOnSync()); });

// A browser that woke the keeper for this tries again by itself where it hears that it was not done.
async function sendOnSync() {
  await sendAndRefresh(true);
  if (trouble && (await waiting()).length) throw new Error("not yet");
}

// What stands behind a name with a digest never changes; without one, the keeper's own VERSION is the digest.
async function fromCache(name, request) {
  const cache = await caches.open(name);
  const kept = await cache.match(request);
  if (kept) return kept;
  const answer = await fetch(request);
  if (answer.ok) cache.put(request, answer.clone()).catch(() => { /* no room: it is fetched again */ });
  return answer;
}

async function patiently(promise, ms) {
  const patience = down ? Math.min(ms, PATIENCE_DOWN_MS) : ms;
  let timer;
  const silence = new Promise((_, reject) => { timer = setTimeout(() => reject(new Error("silence")), patience); });
  try {
    const answer = await Promise.race([promise, silence]);
    down = false;
    return answer;
  } catch (error) {
    down = true;
    throw error;
  } finally { clearTimeout(timer); }
}

// --- Pages -------------------------------------------------------------------------------------------------------

async function page(event, url) {
  const here = url.pathname + url.search;
  if (landed.has(here)) { const answer = landed.get(here); landed.delete(here); return answer; }
  if (url.pathname === OWN) { const own = await situation(url.searchParams.has("kept") ? "kept" : "list"); if (own) return own; }
  const network = fetch(url.href, { headers: { Accept: ACCEPT }, credentials: "same-origin", redirect: "manual", cache: "no-store" });
  network.catch(() => { /* told below, or after the patience is over: to nobody */ });
  const kept = await keptFor(url).catch(() => null);
  let answer;
  try {
    answer = await (kept ? patiently(network, PATIENCE_PAGE_MS) : network);
  } catch {
    down = true;
    return kept || notKept(url);
  }
  down = false;
  if (answer.status === 401) return passNeeded(event);
  if (kept && (answer.status >= 500 || answer.status === 429)) return kept;
  if (answer.ok) event.waitUntil(sendAndRefresh(true)); // somebody answers again: a good moment
  return (answer.ok && (await tapAgain(url))) || answer;
}

const html = (text, status = 200) => new Response(text, { status, headers: { "Content-Type": "text/html; charset=utf-8", "Cache-Control": "no-store" } });

// The kept copy says that it is one and since when: its clocks go on from there.
async function asKept(row) {
  return html((await named(row.html)).replace("<body", `<body data-kept="${row.at}"`));
}

const escaped = (text) => text.replace(/[&<>"]/g, (c) => `&#${c.charCodeAt(0)};`);

// The kept pages carry the name that was tapped last: while nobody could be told of it, or else with a signal, when
// most of them were kept under another name already.
async function named(text) {
  const name = escaped((await note("tapped").catch(() => "")) || (await note("person").catch(() => "")) || "");
  if (!name) return text;
  const header = text.replace(/(<a class="person"[^>]*>[^<]*<b>)[^<]*/, (whole, before) => before + name);
  return header.replace(/ data-person="[^"]*"/, () => ` data-person="${name}"`);
}

// Once the server is there again it has to hear the name, too: it alone remembers it for its own pages, and it is asked
// for until the server has heard it.
async function tapAgain(url) {
  const tapped = await note("tapped").catch(() => "");
  if (!tapped || !url.pathname.startsWith(LIST)) return null;
  return Response.redirect(`/person?next=${encodeURIComponent(url.pathname + url.search)}`, 303);
}

async function person(event) {
  const typed = await event.request.clone().formData().catch(() => new FormData());
  try {
    const answer = await patiently(fetch(event.request), PATIENCE_PAGE_MS);
    // A form's redirect comes as it is: the browser follows it. A name that was refused comes back with its page.
    if (answer.type === "opaqueredirect" || answer.redirected) await writeNote("tapped", "").catch(() => {});
    return answer;
  } catch {
    const name = String(typed.get("new_name") || typed.get("name") || "").normalize("NFC").trim().split(/\s+/).join(" ");
    // By letters: half an emoji is no text that the server takes.
    if (!name || !(await writeNote("tapped", [...name].slice(0, 80).join("")).then(() => true, () => false))) return notPossible();
    return Response.redirect(LIST, 303);
  }
}

async function keptFor(url) {
  const scanned = scanOf(url);
  if (scanned) return keptScan(url, scanned);
  // A step's page has a copy without what its address adds; the page's own script reads the rest.
  const row = (await keptPage(url.pathname + url.search)) || (await keptPage(url.pathname));
  if (!row) return null;
  return row.to ? Response.redirect(row.to, 303) : asKept(row);
}

function scanOf(url) {
  const path = /^(?:\/here)?\/t\/(.+)$/.exec(url.pathname);
  if (path) return readCode(`/t/${decodeURIComponent(path[1])}`);
  return url.pathname === "/here/scan" ? readCode(url.searchParams.get("code") || "") : null;
}

async function keptScan(url, { code, step }) {
  if (!code) return null;
  for (const path of [step === null ? null : `/here/t/${code}/${step}`, `/here/t/${code}`]) {
    const row = path && (await keptPage(path));
    if (!row) continue;
    if (row.to) return Response.redirect(row.to, 303);
    return url.pathname === path ? asKept(row) : Response.redirect(path, 303);
  }
  return null;
}

// The phone's own page, which says several things: what waits, that this was kept, that a page is not here.
async function situation(name, more = "") {
  const row = await keptPage(OWN).catch(() => null);
  return row && html((await named(row.html)).replace('data-situation="list"', `data-situation="${name}"${more}`));
}

const BARE = (words) => html(`<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>Traveller</title><h1>${words}</h1><p><a href="${LIST}">Back to the list</a></p></html>`, 503);

async function notKept(url) {
  const scanned = scanOf(url);
  const text = scanned ? scanned.code || scanned.text : "";
  const codes = (await keptPaths().catch(() => [])).map((path) => /^\/here\/t\/(\w+)$/.exec(path)?.[1]).filter(Boolean);
  const near = scanned?.text ? codes.filter((code) => isNear(scanned.text, code)) : [];
  const more = text.match(/^[0-9A-Z]+$/) ? ` data-code="${text}" data-near="${near.join(" ")}"` : "";
  return (await situation("not-kept", more)) || BARE("No signal, and this page is not kept on this phone.");
}

// The pass is no longer good: what belongs to the site goes from this phone, what was told here stays.
async function passNeeded(event) {
  const own = await keptPage(OWN).catch(() => null);
  event.waitUntil(writePages(own ? [own] : [], []).catch(() => {}));
  await writeNote("version", "").catch(() => {});
  await writeNote("stopped", "pass_needed").catch(() => {});
  return (await situation("pass")) || BARE("Open your site pass again.");
}

// --- Forms -------------------------------------------------------------------------------------------------------

let turn = Promise.resolve();

// One form after another: one that is still on its way may yet have to be kept, and then nothing overtakes it.
async function form(event, url) {
  const typed = await event.request.clone().formData().catch(() => null);
  const id = typed?.get("news_id");
  if (!id) return fetch(event.request).catch(() => notKept(url));
  const mine = turn.then(() => tellOrKeep(event, url, typed, id));
  turn = mine.catch(() => {});
  return mine;
}

async function tellOrKeep(event, url, typed, id) {
  const entry = await entryFrom(url, [...typed], id);
  const before = await waiting().catch(() => []);
  // What was told before goes first: news that overtakes its cause would have to be parked.
  if (before.length) return (await keepAndSend(event, entry)) || fetch(event.request).catch(notPossible);
  let answer, text;
  try {
    if (!self.navigator.onLine) throw new Error("offline");
    const headers = { "Content-Type": event.request.headers.get("Content-Type"), Accept: ACCEPT };
    const body = await event.request.clone().blob();
    const network = fetch(url.href, { method: "POST", body, headers, credentials: "same-origin", cache: "no-store" });
    const whole = network.then(async (found) => [found, await found.text()]);
    [answer, text] = await patiently(whole, entry.files.length ? PATIENCE_FILES_MS : PATIENCE_FORM_MS);
  } catch {
    return (await keepIt(event, entry)) || notPossible();
  }
  const away = answer.redirected && DOOR.test(new URL(answer.url).pathname);
  const waits = answer.status >= 500 || DOORS.has(answer.status);
  if (away || waits) return (await keepAndSend(event, entry)) || shown(answer, text);
  if (answer.redirected) event.waitUntil(toldAgain(id).then(() => refresh(true)).then(changed).catch(() => {}));
  return shown(answer, text);
}

// The page that the form led to is here already; the browser asks for it by its own address and gets it.
function shown(answer, text) {
  return answer.redirected ? landedOn(answer, text) : html(text, answer.status);
}

function landedOn(answer, text) {
  const to = new URL(answer.url);
  landed.clear();
  landed.set(to.pathname + to.search, html(text, answer.status));
  return Response.redirect(to.href, 303);
}

async function entryFrom(url, typed, id) {
  const about = abouts.get(id) || {};
  abouts.delete(id);
  const fields = [], files = [];
  for (const [name, value] of typed) {
    if (name === "csrfmiddlewaretoken") continue;
    if (typeof value === "string") fields.push([name, value]);
    else if (value.size) files.push({ field: name, name: value.name, blob: value });
  }
  const site = about.site || (await note("site").catch(() => 0)) || 0;
  const person = about.person || (await note("person").catch(() => "")) || "";
  return { id, at: about.at || Date.now(), site, person, path: url.pathname + url.search, fields, files, about, state: "waiting" };
}

async function keepIt(event, entry) {
  try {
    await addEntry(entry);
  } catch {
    return null;
  }
  event.waitUntil(changed());
  self.registration.sync?.register("queue").catch(() => { /* the page asks instead */ });
  return Response.redirect(`${OWN}?kept=${entry.id}`, 303);
}

// The network is there, but this news must wait its turn or its door: it goes by the queue, and mostly at once.
async function keepAndSend(event, entry) {
  const kept = await keepIt(event, entry);
  if (!kept) return null;
  const sent = (async () => {
    await send(true);
    if ((await entryOf(entry.id))?.state === "waiting") await send(true);
  })();
  event.waitUntil(sent.then(() => refresh(true)));
  await patiently(sent, PATIENCE_PAGE_MS).catch(() => {});
  const to = ledTo.get(entry.id);
  ledTo.clear();
  return (to && (await ledThere(to))) || kept;
}

// Where the news led to, if that can be drawn just now: that page lets the form go, and so does ours in its place. A
// form that nothing lets go would lend its id to the next count, which would be refused as the first with other figures.
async function ledThere(to) {
  const whole = fetch(to, { headers: { Accept: ACCEPT }, credentials: "same-origin", cache: "no-store" }).then(async (found) => [found, await found.text()]);
  const [answer, text] = await patiently(whole, PATIENCE_PAGE_MS).catch(() => [null, ""]);
  return answer?.ok ? landedOn(answer, text) : null;
}

// The phone refuses storage and the network is gone: what was typed stays on the page behind.
const notPossible = async () => (await situation("refused")) || BARE("No signal, and this phone keeps nothing. Go back: what you typed is still there.");

// --- What pages ask and are told -----------------------------------------------------------------------------------

// The pages of the open tasks, when something has changed since they were fetched.
let asked = 0, refreshing = null, anew = false;
async function refresh(now) {
  if (!now && Date.now() - asked < ASK_AGAIN_MS) return;
  asked = Date.now();
  anew = true;
  refreshing ??= (async () => { while (anew) { anew = false; await fetchPages(); } })().finally(() => { refreshing = null; });
  await refreshing;
}

// What was sent changes the pages. They are fetched beside the sending, since that may take a minute, for which nothing
// that is told meanwhile has to wait.
async function sendAndRefresh(force) {
  if (await send(force)) await refresh(true);
}

async function fetchPages() {
  try {
    const version = await note("version");
    const has = version ? { "If-None-Match": `"${version}"`, "X-Kept": (await keptGroups()).join() } : {};
    const { status, data } = await heard("/here/keep", { headers: { Accept: "application/json", ...has } }, PATIENCE_KEEP_MS);
    if (status !== 200 || !data) return;
    const at = Date.now();
    const rows = Object.entries(data.ways).map(([path, to]) => ({ path, to, at, group: "ways" }));
    for (const [group, path, text] of data.pages) rows.push({ path, html: text, at, group });
    await writePages(rows, data.stay);
    await writeNote("version", data.version);
    for (const { id, words } of data.decided ?? []) await restate(id, ["review"], { state: "decided", words });
    await keepPictures(data.pictures);
  } catch { /* no network or no storage: the pages that are here stay */ }
}

async function keepPictures(paths) {
  const cache = await caches.open(PICTURES);
  const kept = await cache.keys();
  for (const request of kept.slice(0, Math.max(0, kept.length - PICTURES_MAX))) await cache.delete(request);
  for (const path of paths) if (!(await cache.match(path))) await cache.add(path).catch(() => {});
}

const told = ({ id, seq, at, path, person, site, fields, files, about, state, code, words, href, again, told: anew }) =>
  ({ id, seq, at, path, person, site, fields, about, state, code, words, href, again, anew, files: files.map((file) => file.name) });

async function summary() {
  const entries = (await allEntries()).map(told);
  return { type: "queue", entries, site: await note("site"), stopped: (await note("stopped")) || "", trouble };
}

async function changed() {
  const message = await summary().catch(() => null);
  if (!message) return;
  for (const client of await self.clients.matchAll({ includeUncontrolled: true, type: "window" })) client.postMessage(message);
}

const asks = {
  about: async ({ id, about }) => { abouts.clear(); abouts.set(id, about); },
  // A page of the operator stands open: whose it is, and a good moment to send and to fetch.
  here: async ({ site, person, kept }) => {
    const before = await note("site");
    if (before && before !== site) { await writePages([], []); await writeNote("version", ""); }
    await writeNote("site", site);
    await writeNote("person", person);
    if (!kept) await writeNote("stopped", "");
    await changed();
    await sendAndRefresh(!kept);
    await refresh(before !== site);
  },
  send: ({ now }) => sendAndRefresh(now),
  aside: async ({ id }) => { await restate(id, ["refused"], { state: "aside" }); },
  retry: async ({ id }) => { if (await restate(id, ["refused"], { state: "waiting" })) await sendAndRefresh(true); },
  seen: async ({ seq }) => { await dropEntry(seq); await changed(); },
  again: async ({ id, as }) => { await restate(id, ["refused"], { again: as }); },
};

async function restate(id, from, change) {
  const entry = await entryOf(id);
  if (!entry || !from.includes(entry.state)) return false;
  await putEntry({ ...entry, ...change });
  await changed();
  return true;
}

self.addEventListener("message", (event) => {
  const deed = asks[event.data?.type];
  if (deed) event.waitUntil(deed(event.data).catch(() => { /* no storage: nothing to do */ }));
});
