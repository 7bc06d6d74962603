// The phone's own store: what was told and is not sent (entries), the pages of the open tasks, and a few notes.
// Only the keeper writes here; pages ask it by message. A phone that refuses storage works online as before:
// every call then fails, and whoever calls goes on without.

let opened = null;

function database() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open("traveller", 1);
    request.onupgradeneeded = () => {
      // The number that the phone itself counts up gives the order: its clock may jump.
      request.result.createObjectStore("entries", { keyPath: "seq", autoIncrement: true }).createIndex("id", "id", { unique: true });
      request.result.createObjectStore("pages", { keyPath: "path" }).createIndex("group", "group");
      request.result.createObjectStore("notes");
    };
    request.onsuccess = () => {
      // A newer keeper may want to change the store: never stand in its way.
      request.result.onversionchange = () => { request.result.close(); opened = null; };
      request.result.onclose = () => { opened = null; };
      resolve(request.result);
    };
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error("the store is in use"));
  });
  opened.catch(() => { opened = null; });
  return opened;
}

// One transaction; its result is there only once it is on the phone's disk.
async function within(store, mode, work) {
  const transaction = (await database()).transaction(store, mode, { durability: "strict" });
  return new Promise((resolve, reject) => {
    let result;
    transaction.oncomplete = () => resolve(result);
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
    work(transaction.objectStore(store), (request) => { request.onsuccess = () => { result = request.result; }; });
  });
}

const allEntries = () => within("entries", "readonly", (store, keep) => keep(store.getAll()));
const entryOf = (id) => within("entries", "readonly", (store, keep) => keep(store.index("id").get(id)));
const putEntry = (entry) => within("entries", "readwrite", (store, keep) => keep(store.put(entry)));
const dropEntry = (seq) => within("entries", "readwrite", (store) => store.delete(seq));

// The same form sent twice is the same news: the first stays.
async function addEntry(entry) {
  const known = await entryOf(entry.id);
  if (known) return known;
  // WebKit stores no file from a private window, but the bytes of one: heavier to read, so only where it must be.
  const seq = await putEntry(entry).catch(async (error) => {
    if (!entry.files.length) throw error;
    return putEntry({ ...entry, files: await Promise.all(entry.files.map(asBytes)) });
  });
  return { ...entry, seq };
}

const asBytes = async ({ field, name, blob }) => ({ field, name, type: blob.type, bytes: await blob.arrayBuffer() });
const blobOf = ({ blob, bytes, type }) => blob ?? new Blob([bytes], { type });

const note = (key) => within("notes", "readonly", (store, keep) => keep(store.get(key)));
const writeNote = (key, value) => within("notes", "readwrite", (store) => store.put(value, key));

const keptPage = (path) => within("pages", "readonly", (store, keep) => keep(store.get(path)));
const keptPaths = () => within("pages", "readonly", (store, keep) => keep(store.getAllKeys()));

async function keptGroups() {
  const groups = new Set();
  await within("pages", "readonly", (store) => {
    store.index("group").openKeyCursor(null, "nextunique").onsuccess = ({ target: { result: cursor } }) => {
      if (cursor) { groups.add(cursor.key); cursor.continue(); }
    };
  });
  return [...groups];
}

// All in one transaction: a phone that dies in between has the old pages or the new ones, never half of each.
const writePages = (pages, stay) => within("pages", "readwrite", (store) => {
  store.index("group").openKeyCursor().onsuccess = ({ target: { result: cursor } }) => {
    if (!cursor) { for (const page of pages) store.put(page); return; }
    if (!stay.includes(cursor.key)) store.delete(cursor.primaryKey);
    cursor.continue();
  };
});
