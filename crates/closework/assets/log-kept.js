// What was said and has not arrived: kept on the phone, sent in order, once.
//
// Entries lie in localStorage, where they are the moment they are said and stay through a reload, a closed browser and an
// empty battery; photos lie in IndexedDB. Both work on a plain address of the local network, where no service worker does.
// Every entry has a name made here, so that the computer knows a second arrival, and a number, so that it knows the order.

/** @typedef {{ parts?: string[], focus?: string, f_number?: number, shutter_s?: number }} Change */
/** @typedef {{ uid: string, roll: number, frame: number | null, number: number | null, sequence: number, said: string,
 *   set: Change, meter: string, note: string, said_at: string }} Entry */
/** @typedef {{ uid: string, roll: number, frame: number | null, number: number | null, at: string, bytes: ArrayBuffer }} Photo */

const QUEUE = "closework-log-queue";
const REFUSED = "closework-log-refused";
const SEQUENCE = "closework-log-sequence";
/** Entries in one go, and bytes of a photo in one piece. */
const BATCH = 40;
const PIECE = 256 * 1024;
/** Seconds between tries while nothing answers, at most. */
const LONGEST = 15;
/** Seconds after which a request counts as lost. */
const PATIENCE = 20;

/** What is held when the browser keeps nothing at all. @type {Map<string, string>} */
const memory = new Map();
export let keeps = true;

/** @param {string} key @returns {any} */
function read(key) {
  try {
    return JSON.parse((keeps ? localStorage.getItem(key) : memory.get(key)) ?? "null");
  } catch {
    return null;
  }
}

/** @param {string} key @param {unknown} value */
function write(key, value) {
  const text = JSON.stringify(value);
  try {
    localStorage.setItem(key, text);
  } catch {
    // No room, or a browser that is told to keep nothing: the open page goes on, and says so.
    keeps = false;
    memory.set(key, text);
  }
}

/** A random UUID (version 4 of RFC 9562); the browser's own maker of them is not to be had on a plain address. */
export function newUid() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

/** @returns {Entry[]} */
export const queued = () => read(QUEUE) ?? [];
/** Entries that the computer will not have, with the reason. @returns {{ entry: Entry, why: string }[]} */
export const refused = () => read(REFUSED) ?? [];

/** The next number of this phone. @param {number} arrived the last one that the computer has */
function nextNumber(arrived) {
  const next = Math.max(read(SEQUENCE) ?? 0, arrived) + 1;
  write(SEQUENCE, next);
  return next;
}

/** Keeps an entry. @param {Omit<Entry, "uid" | "sequence" | "said_at">} said @param {number} arrived */
export function say(said, arrived) {
  const entry = { ...said, uid: newUid(), sequence: nextNumber(arrived), said_at: new Date().toISOString() };
  write(QUEUE, [...queued(), entry]);
  return entry;
}

/** Puts what was refused back in line. */
export function sayAgain() {
  write(QUEUE, [...queued(), ...refused().map((one) => one.entry)].sort((a, b) => a.sequence - b.sequence));
  write(REFUSED, []);
}

/** Another tab may have said something meanwhile: what is written is always what is there less what has gone.
 * @param {string[]} kept @param {{ uid: string, why: string }[]} notKept */
function gone(kept, notKept) {
  const all = queued();
  const why = new Map(notKept.map((one) => [one.uid, one.why]));
  const out = all.filter((entry) => why.has(entry.uid)).map((entry) => ({ entry, why: why.get(entry.uid) ?? "" }));
  if (out.length) write(REFUSED, [...refused(), ...out]);
  write(QUEUE, all.filter((entry) => !kept.includes(entry.uid) && !why.has(entry.uid)));
}

// --- photos -----------------------------------------------------------------------------------------------------------

/** Photos where IndexedDB is not to be had. @type {Map<string, Photo>} */
const loose = new Map();

/** @returns {Promise<IDBDatabase>} */
function store() {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open("closework-log", 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore("photos", { keyPath: "uid" });
    opening.onsuccess = () => resolve(opening.result);
    opening.onerror = () => reject(opening.error);
  });
}

/** @template T @param {IDBTransactionMode} mode @param {(photos: IDBObjectStore) => IDBRequest<T>} act @returns {Promise<T>} */
async function withPhotos(mode, act) {
  const db = await store();
  return new Promise((resolve, reject) => {
    const transaction = db.transaction("photos", mode);
    const asked = act(transaction.objectStore("photos"));
    transaction.oncomplete = () => { db.close(); resolve(asked.result); };
    transaction.onerror = transaction.onabort = () => { db.close(); reject(transaction.error); };
  });
}

/** @param {Omit<Photo, "uid" | "at">} taken */
export async function keepPhoto(taken) {
  const photo = { ...taken, uid: newUid(), at: new Date().toISOString() };
  await withPhotos("readwrite", (photos) => photos.put(photo)).catch(() => { keeps = false; loose.set(photo.uid, photo); });
  return photo;
}

/** @returns {Promise<Photo[]>} in the order in which they were taken */
export async function photos() {
  const kept = await withPhotos("readonly", (all) => /** @type {IDBRequest<Photo[]>} */ (all.getAll())).catch(() => []);
  return [...kept, ...loose.values()].sort((a, b) => a.at.localeCompare(b.at));
}

/** @param {string} uid */
async function dropPhoto(uid) {
  loose.delete(uid);
  await withPhotos("readwrite", (all) => all.delete(uid)).catch(() => undefined);
}

// --- sending ----------------------------------------------------------------------------------------------------------

/** The sentence on an error page. @param {string} text */
function sentence(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  const said = [...page.querySelectorAll(".refusal p")].map((p) => p.textContent).join(" ");
  return said || "The computer did not say why.";
}

/** A refusal that sending again will not change by itself. */
class Refusal extends Error {
  /** @param {number} status @param {string} why */
  constructor(status, why) {
    super(why);
    this.status = status;
  }
}

/** @param {string} path @param {RequestInit} [options] @returns {Promise<Response>} */
async function ask(path, options = {}) {
  const patience = new AbortController();
  const timer = setTimeout(() => patience.abort(), PATIENCE * 1000);
  try {
    const answer = await fetch(path, { ...options, signal: patience.signal, cache: "no-store", redirect: "error" });
    if (answer.ok) return answer;
    throw new Refusal(answer.status, sentence(await answer.text()));
  } finally {
    clearTimeout(timer);
  }
}

/** @param {(sheet: any) => void} arrived */
async function sendEntries(arrived) {
  for (let waiting = queued(); waiting.length; waiting = queued()) {
    const roll = waiting[0].roll;
    const other = waiting.findIndex((entry) => entry.roll !== roll);
    const batch = waiting.slice(0, other < 0 ? BATCH : Math.min(other, BATCH));
    const body = JSON.stringify({ entries: batch });
    try {
      const answer = await ask(`/rolls/${roll}/entries`, { method: "POST", body, headers: { "content-type": "application/json" } });
      const { kept, refused: notKept, sheet } = await answer.json();
      gone(kept, notKept);
      arrived(sheet);
    } catch (error) {
      // A roll that was closed must not hold up the others; an entry that makes the computer stumble must not either.
      if (!(error instanceof Refusal) || ![403, 413, 422].includes(error.status)) throw error;
      gone([], batch.map((entry) => ({ uid: entry.uid, why: error.message })));
    }
  }
}

/** @param {Photo} photo */
async function sendPhoto(photo) {
  const size = photo.bytes.byteLength;
  const place = (/** @type {number} */ offset) => {
    const query = new URLSearchParams({ bytes: String(size), offset: String(offset), at: photo.at });
    if (photo.frame !== null) query.set("frame", String(photo.frame));
    if (photo.number !== null) query.set("number", String(photo.number));
    return `/rolls/${photo.roll}/photos/${photo.uid}?${query}`;
  };
  // An empty piece asks how much is there: what arrived before the connection went is not sent again.
  let standing = await (await ask(place(0), { method: "POST" })).json();
  while (!standing.done) {
    const piece = photo.bytes.slice(standing.have, standing.have + PIECE);
    standing = await (await ask(place(standing.have), { method: "POST", body: piece })).json();
  }
}

/** Photos that the computer will not have. @type {string[]} */
export const refusedPhotos = [];

/** @param {() => void} changed */
async function sendPhotos(changed) {
  for (const photo of await photos()) {
    try {
      await sendPhoto(photo);
    } catch (error) {
      if (!(error instanceof Refusal) || ![413, 422].includes(error.status)) throw error;
      refusedPhotos.push(error.message);
    }
    await dropPhoto(photo.uid);
    changed();
  }
}

/** Sends whatever is kept, again and again until all has arrived; says how it goes.
 * @param {{ arrived: (sheet: any) => void, changed: () => void, trouble: (words: string | null, pair: boolean) => void }} hears */
export function sender(hears) {
  let busy = false;
  let again = false;
  let wait = 1;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;

  async function go() {
    clearTimeout(timer);
    if (busy) { again = true; return; }
    busy = true;
    try {
      await sendEntries(hears.arrived);
      await sendPhotos(hears.changed);
      wait = 1;
      hears.trouble(null, false);
    } catch (error) {
      later(error);
    } finally {
      busy = false;
      hears.changed();
    }
    if (again) { again = false; go(); }
  }

  /** @param {unknown} error */
  function later(error) {
    const told = error instanceof Refusal;
    hears.trouble(told ? error.message : "No connection to the computer. The phone tries again by itself.", told && error.status === 401);
    timer = setTimeout(go, wait * 1000);
    wait = Math.min(2 * wait, LONGEST);
  }

  return () => { wait = 1; return go(); };
}

/** The roll as it stands at the computer. @param {number} roll */
export async function look(roll) {
  return (await ask(`/rolls/${roll}/sheet`)).json();
}
