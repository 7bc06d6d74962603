// Sending what waits: in the phone's own order, each kept until the server says that it has it.
// An entry leaves the phone only on the expected answer, "stored" or "parked" under its own id; a sign-in page, a
// proxy's error or half an answer delete nothing, and an answer that was lost is harmless, since ids are the phone's.

const QUEUE = "/here/queue";
const BATCH = 50;
const PATIENCE_SEND_MS = 30_000;
const PATIENCE_UPLOAD_MS = 180_000;
const WAIT_LEAST_MS = 2_000;
const WAIT_MOST_MS = 300_000;

let failures = 0;
let notBefore = 0;
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
  for (const file of batch[0].files) body.append(file.field, file.blob, file.name);
  return { headers, body };
}

async function ask(batch) {
  const answer = await fetch(QUEUE, {
    method: "POST", credentials: "same-origin", redirect: "manual", cache: "no-store",
    signal: AbortSignal.timeout(batch[0].files.length ? PATIENCE_UPLOAD_MS : PATIENCE_SEND_MS), ...posted(batch),
  });
  const json = (answer.headers.get("Content-Type") || "").startsWith("application/json");
  return { status: answer.status, wait: Number(answer.headers.get("Retry-After")) || 0, data: json ? await answer.json() : null };
}

function later(seconds = 0) {
  failures += 1;
  const wait = Math.min(WAIT_MOST_MS, WAIT_LEAST_MS * 2 ** Math.min(failures - 1, 10));
  // Fifty phones that lost the same network must not come back in the same second.
  notBefore = Date.now() + Math.max(seconds * 1000, wait * (0.75 + Math.random() / 2));
}

// What the server said of one entry; true when it need not be sent again.
async function settle(entry, said) {
  if (said.state === "stored" || said.state === "parked") {
    ledTo.set(entry.id, said.state === "stored" ? said.href || "" : "");
    await dropEntry(entry.seq);
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

// One exchange. "on": there may be more; "stop": not now; "split": the batch as a whole was not understood;
// "odd": this one alone was not, and must not hold up the rest.
async function exchange(batch) {
  let answer;
  try {
    answer = await ask(batch);
  } catch {
    later();
    return "stop";
  }
  const { status, data } = answer;
  if (status === 200 && Array.isArray(data?.answers)) return settleAll(batch, data.answers);
  if (status === 401 || status === 409) await writeNote("stopped", status === 401 ? "pass_needed" : data?.error || "");
  const faulty = status === 400 || status === 413 || status === 422 || status === 500;
  if (faulty && batch.length > 1) return "split";
  if (faulty && status !== 500 && data) {
    await settle(batch[0], { state: "refused", code: data.error || String(status), words: data.words || "" });
    return "on";
  }
  later(answer.wait);
  return faulty ? "odd" : "stop";
}

async function settleAll(batch, answers) {
  const said = new Map(answers.map((answer) => [answer.id, answer]));
  let settled = 0;
  for (const entry of batch) if (said.has(entry.id) && (await settle(entry, said.get(entry.id)))) settled += 1;
  await writeNote("stopped", "");
  if (settled) { failures = 0; notBefore = 0; } else later();
  return settled ? "on" : "stop";
}

async function sendAll(force) {
  if (!force && Date.now() < notBefore) return false;
  const passed = new Set(); // what failed alone in this run must not hold up the rest
  let most = BATCH, sent = false;
  for (;;) {
    const batch = nextBatch((await waiting()).filter((entry) => !passed.has(entry.seq)), most);
    if (!batch.length) break;
    const outcome = await exchange(batch);
    if (outcome === "stop") break;
    if (outcome === "split") { most = 1; continue; }
    if (outcome === "odd") {
      passed.add(batch[0].seq);
      continue;
    }
    sent = true;
    await changed();
  }
  return sent;
}

let sending = null;

// One sender on this phone: two tabs and an old and a new keeper ask the same lock.
function send(force = false) {
  sending ??= (async () => {
    try {
      if (!(await waiting()).length) return false;
      const locks = self.navigator.locks;
      const sent = locks ? await locks.request("traveller-queue", () => sendAll(force)) : await sendAll(force);
      if (sent) await refresh(true);
      return sent;
    } catch {
      return false; // no storage: nothing was kept, so nothing waits
    } finally {
      sending = null;
      await changed();
    }
  })();
  return sending;
}
