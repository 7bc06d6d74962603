// Sending what waits: in the phone's own order, each kept until the server says that it has it.
// An entry leaves the phone only on the expected answer, "stored" or "parked" under its own id; a sign-in page, a
// proxy's error or half an answer delete nothing, and an answer that was lost is harmless, since ids are the phone's.

// Order is strict: what failed because nobody answered, or with a fault of the server's, is never overtaken by what was
// told after it. Only what the server refuses in so many words is passed by.

const QUEUE = "/here/queue";
const BATCH = 50;
const PATIENCE_SEND_MS = 30_000;
// Files are given longer by their size, as over a slow line; not for ever, because all else waits behind them.
const SLOW_BYTES_PER_MS = 40;
const PATIENCE_UPLOAD_MS = 180_000;
const WAIT_LEAST_MS = 2_000;
const WAIT_MOST_MS = 60_000;
// Between two tries a page that stands open may ask whether somebody answers again: that costs next to nothing.
const ASK_MS = 3_000;
const PATIENCE_ASK_MS = 8_000;

let failures = 0; // runs that failed, one after another
let notBefore = 0; // no run of its own accord before; by a clock that never jumps
let askFrom = 0; // and no question before
// Why the last run stopped: "away": nobody answers, or with a fault; "busy": it answers "later".
let trouble = "";
// Where the server would have led on to, by id; only for the form that is being answered just now.
const ledTo = new Map();

const isWaiting = (entry) => entry.state === "waiting";

async function waiting() {
  const site = await note("site");
  return (await allEntries()).filter((entry) => isWaiting(entry) && (!site || !entry.site || entry.site === site));
}

// The next to go together: files go alone, and nothing overtakes what was told before it.
function nextBatch(entries, most) {
  if (!entries.length) return [];
  if (entries[0].files.length) return [entries[0]];
  const until = entries.findIndex((entry) => entry.files.length);
  return entries.slice(0, Math.min(most, until < 0 ? entries.length : until));
}

const plain = ({ id, seq, at, path, person, fields }) => ({ id, seq, at, path, person, fields });

function posted(batch) {
  const envelope = JSON.stringify({ site: batch[0].site, sent_at: Date.now(), entries: batch.map(plain) });
  const headers = { Accept: "application/json", "X-Queue": "1" };
  if (!batch[0].files.length) return { headers: { ...headers, "Content-Type": "application/json" }, body: envelope };
  const body = new FormData();
  body.append("envelope", envelope);
  for (const file of batch[0].files) body.append(file.field, blobOf(file), file.name);
  return { headers, body };
}

// What was answered, with its body, if it is there in time. AbortSignal.timeout came only with Safari 16.
async function heard(path, options, patienceMs) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), patienceMs);
  try {
    const answer = await fetch(path, { credentials: "same-origin", redirect: "manual", cache: "no-store", signal: stop.signal, ...options });
    const json = (answer.headers.get("Content-Type") || "").startsWith("application/json");
    return { status: answer.status, wait: Number(answer.headers.get("Retry-After")) || 0, data: json ? await answer.json() : null };
  } finally { clearTimeout(timer); }
}

function ask(batch) {
  const bytes = batch[0].files.reduce((sum, file) => sum + blobOf(file).size, 0);
  const patience = Math.min(PATIENCE_UPLOAD_MS, PATIENCE_SEND_MS + bytes / SLOW_BYTES_PER_MS);
  return heard(QUEUE, { method: "POST", ...posted(batch) }, patience);
}

// One back-off a run: 2 s, doubling to 60 s, and no sooner than the server asks for; reset by whatever is settled.
function holdBack(why, seconds, asked) {
  failures += 1;
  trouble = why;
  const told = Math.min(seconds * 1000, WAIT_MOST_MS);
  const wait = Math.min(WAIT_MOST_MS, WAIT_LEAST_MS * 2 ** Math.min(failures - 1, 10));
  const now = performance.now();
  // Fifty phones that lost the same network must not come back in the same second.
  notBefore = now + Math.max(told, wait * (0.75 + Math.random() / 4));
  // Whoever answers a question and then takes nothing is not asked again before the next try.
  askFrom = why === "away" && !asked ? now + Math.max(told, ASK_MS) : notBefore;
}

// Is somebody there again, and with a database? An envelope with nothing in it tells.
async function isBack(site) {
  const body = JSON.stringify({ site, sent_at: Date.now(), entries: [] });
  const headers = { Accept: "application/json", "X-Queue": "1", "Content-Type": "application/json" };
  const { status, wait } = await heard(QUEUE, { method: "POST", headers, body }, PATIENCE_ASK_MS).catch(() => ({ status: 0, wait: 0 }));
  askFrom = performance.now() + Math.max(ASK_MS, Math.min(wait * 1000, WAIT_MOST_MS));
  return status > 0 && status < 500 && status !== 429;
}

// What the server said of one entry; true when it need not be sent again.
async function settle(entry, said) {
  if (said.state === "stored" || said.state === "parked") {
    ledTo.set(entry.id, said.state === "stored" ? said.href || "" : "");
    // What waits for review is the server's now, with its files; the phone still says that it is not booked.
    if (said.state === "parked") await putEntry({ ...entry, files: [], state: "review", words: said.words || "" });
    else await dropEntry(entry.seq);
    await toldAgain(entry.id);
    return true;
  }
  if (said.state !== "refused") return false;
  await putEntry({ ...entry, state: "refused", code: said.code || "", words: said.words || "", href: said.href || "" });
  return true;
}

// A refused entry that was opened again and told anew is done with; it stays among what was set aside.
async function toldAgain(id) {
  for (const entry of await allEntries()) {
    if (entry.again === id && entry.state === "refused") await putEntry({ ...entry, state: "aside", told: true });
  }
}

// One exchange. "on": there may be more; "away", "busy": not now; "split": the batch as a whole was not understood;
// "odd": this one alone was not, by somebody who is not our server, and must not hold up the rest.
async function exchange(batch) {
  let answer;
  try {
    answer = await ask(batch);
  } catch {
    return { outcome: "away", wait: 0 };
  }
  const { status, wait, data } = answer;
  if (status === 200 && Array.isArray(data?.answers)) return { outcome: await settleAll(batch, data.answers), wait };
  if (status === 401 || status === 409) await writeNote("stopped", status === 401 ? "pass_needed" : data?.error || "");
  const refused = status === 400 || status === 413 || status === 422;
  if (refused && batch.length > 1) return { outcome: "split", wait };
  if (refused && data) {
    await settle(batch[0], { state: "refused", code: data.error || String(status), words: data.words || "" });
    return { outcome: "on", wait };
  }
  if (refused) return { outcome: "odd", wait };
  // A door that is shut (401, 403, 409) is no trouble of the server's: the page says what it is.
  return { outcome: status >= 500 || status < 400 ? "away" : status === 429 ? "busy" : "shut", wait };
}

// In the order in which they were sent; what the server left for later stays, and all behind it waits with it.
async function settleAll(batch, answers) {
  const byId = new Map(answers.map((answer) => [answer.id, answer]));
  let left = 0;
  for (const entry of batch) {
    const answer = byId.get(entry.id);
    if (!answer || !(await settle(entry, answer))) left += 1;
  }
  await writeNote("stopped", "");
  if (left < batch.length) { failures = 0; notBefore = 0; trouble = ""; }
  return left ? "busy" : "on";
}

async function sendAll(force) {
  const first = await waiting();
  const now = performance.now();
  const asked = !force && now < notBefore;
  if (!first.length || (asked && (now < askFrom || !(await isBack(first[0].site))))) return false;
  const passed = new Set(); // what was odd in this run
  let most = BATCH, sent = false;
  for (;;) {
    const batch = nextBatch((await waiting()).filter((entry) => !passed.has(entry.seq)), most);
    if (!batch.length) break;
    const { outcome, wait } = await exchange(batch);
    if (outcome === "split") { most = 1; continue; }
    if (outcome === "odd") { passed.add(batch[0].seq); continue; }
    if (outcome !== "on") { holdBack(outcome, wait, asked); return sent; }
    sent = true;
    await changed();
  }
  if (passed.size) holdBack("odd", 0, asked);
  else trouble = "";
  return sent;
}

let sending = null;

// One sender on this phone: two tabs and an old and a new keeper ask the same lock. Was anything sent?
function send(force = false) {
  sending ??= (async () => {
    try {
      if (!(await waiting()).length) return false;
      const locks = self.navigator.locks;
      return await (locks ? locks.request("traveller-queue", () => sendAll(force)) : sendAll(force));
    } catch {
      return false; // no storage: nothing was kept, so nothing waits
    } finally {
      sending = null;
      await changed();
    }
  })();
  return sending;
}
