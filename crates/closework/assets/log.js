// The log at the camera: the frame at hand large and low, one tap for what went as planned. What is said is kept on the phone
// first (log-kept.js) and shown at once; the computer's answer only confirms it.

import * as kept from "./log-kept.js";

/** @typedef {{ parts: string[], name: string, focus: string, f_number: number | null, shutter_s: number | null, metered_s: number | null }} Set */
/** @typedef {{ id: number | null, number: number, label: string, purpose: string, state: string, set: Set, planned: Set | null, exposure: string, offset_mm: number | null, waits?: boolean }} Frame */
/** @typedef {{ roll: number, title: string, film: string, holds: number | null, frames: Frame[], set_ups: { parts: string[], name: string }[],
 *   f_numbers: number[], speeds: { s: number, text: string }[], last: number, phone: string, now: string }} Sheet */

/** Milliseconds in which a second tap on the same place counts as the first one's echo: the next frame has slid under the thumb. */
const ECHO = 700;
/** Seconds between looks at the computer while nothing happens. */
const LOOK = 20;
/** Longest side of a photo that is sent, px: the set-up and a lens's engravings can be read, and it is some 500 kB. */
const PHOTO_SIDE = 2048;

/** @type {Sheet} */
let sheet = JSON.parse(document.body.dataset.sheet ?? "{}");
/** What the computer's clock is ahead of the phone's, s, when this page was made. */
const ahead = (Date.parse(sheet.now) - Date.now()) / 1000;
/** The number of the frame in the panel; null: the next one to take. @type {number | null} */
let chosen = null;
/** What the panel shows. @type {"take" | "other" | "note"} */
let mode = "take";
let lastTap = 0;
/** @type {string | null} */
let trouble = null;
let pairAgain = false;
let waitingPhotos = 0;
/** What was said last on this page: for taking it back. @type {number | null} */
let lastSaid = null;

const byId = (/** @type {string} */ id) => /** @type {HTMLElement} */ (document.getElementById(id));
const panel = byId("panel");

/** @param {string} tag @param {Record<string, string>} attributes @param {(Node | string)[]} children */
function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

/** @param {string} words @param {string} kind @param {() => void} act */
function button(words, kind, act) {
  const element = make("button", { type: "button", class: kind }, words);
  element.addEventListener("click", () => {
    const now = performance.now();
    if (now - lastTap < ECHO) return;
    lastTap = now;
    act();
  });
  return element;
}

// --- the frames as they stand, with what is on its way -------------------------------------------------------------------

/** @returns {Frame[]} */
function frames() {
  const all = sheet.frames.map((frame) => ({ ...frame }));
  for (const entry of kept.queued().filter((entry) => entry.roll === sheet.roll)) told(all, entry);
  return all.sort((a, b) => a.number - b.number);
}

/** Does to the frames what the computer will do. @param {Frame[]} all @param {kept.Entry} entry */
function told(all, entry) {
  if (entry.said === "extra" && !all.some((frame) => frame.number === entry.number)) {
    all.push({ id: null, number: entry.number ?? 0, label: "", purpose: "", state: "planned", set: blank(), planned: null, exposure: "", offset_mm: null });
  }
  const frame = all.find((frame) => frame.id === entry.frame && frame.number === entry.number);
  if (!frame) return;
  frame.waits = true;
  if (entry.said === "note") return;
  const plan = frame.planned ?? frame.set;
  const set = withChange(plan, entry.set);
  frame.state = { taken: "shot", changed: "shot", extra: "shot", "left out": "left out" }[entry.said] ?? "planned";
  frame.set = ["changed", "extra"].includes(entry.said) ? set : plan;
  frame.planned = entry.said === "changed" ? plan : null;
}

/** @returns {Set} */
const blank = () => ({ parts: [], name: "", focus: "infinity", f_number: null, shutter_s: null, metered_s: null });

/** @param {Set} plan @param {kept.Change} change @returns {Set} */
function withChange(plan, change) {
  const set = { ...plan, ...change };
  return { ...set, name: change.parts ? nameOf(change.parts) : plan.name };
}

/** @param {string[]} parts */
function nameOf(parts) {
  const known = sheet.set_ups.find((one) => same(one.parts, parts));
  return known?.name ?? parts.slice(1).join(" · ");
}

const same = (/** @type {unknown} */ a, /** @type {unknown} */ b) => JSON.stringify(a) === JSON.stringify(b);
const done = (/** @type {Frame} */ frame) => frame.state !== "planned";

/** The frame in the panel. @param {Frame[]} all */
function atHand(all) {
  return all.find((frame) => frame.number === chosen) ?? all.find((frame) => !done(frame)) ?? null;
}

/** The number of a frame that nobody planned. @param {Frame[]} all */
const nextNumber = (all) => Math.max(0, ...all.map((frame) => frame.number)) + 1;

// --- saying -----------------------------------------------------------------------------------------------------------

/** @param {Frame | null} frame @param {string} said @param {{ set?: kept.Change, meter?: string, note?: string }} more */
function say(frame, said, more = {}) {
  const whole = { roll: sheet.roll, frame: frame?.id ?? null, number: frame?.number ?? null, said, set: more.set ?? {}, meter: more.meter ?? "", note: more.note ?? "" };
  kept.say(whole, sheet.last);
  if (said !== "note") lastSaid = said === "put back" ? null : frame?.number ?? null;
  chosen = said === "put back" ? frame?.number ?? null : null;
  mode = "take";
  // Not before the first real touch: browsers complain of that.
  if (navigator.userActivation?.hasBeenActive) navigator.vibrate?.(20);
  draw();
  send();
}

const send = kept.sender({
  arrived: (fresh) => { if (fresh.roll === sheet.roll) { sheet = fresh; draw(); } },
  changed: () => { countPhotos(); },
  trouble: (words, pair) => { trouble = words; pairAgain = pair; standing(); },
});

async function countPhotos() {
  waitingPhotos = (await kept.photos()).length;
  standing();
}

// --- drawing ----------------------------------------------------------------------------------------------------------

/** Draws all but a panel in which somebody is writing. */
function draw() {
  const all = frames();
  list(all);
  if (mode === "take") take(all);
  standing();
}

const engraved = (/** @type {number | null} */ f) => (f === null ? "" : `f/${f}`);

/** @param {number | null} s */
function time(s) {
  if (s === null) return "";
  const named = sheet.speeds.find((speed) => Math.abs(speed.s - s) < 1e-9 * s);
  if (named) return named.text;
  return s < 0.4 ? `1/${Math.round(1 / s)} s` : `${s} s`;
}

/** @param {Set} set */
function focus(set) {
  const [what, mm] = set.focus.split("=");
  return mm === undefined ? what : `${what} ${mm} mm`;
}

/** @param {Set} set */
function numbers(set) {
  return [engraved(set.f_number), time(set.shutter_s)].filter(Boolean).join(" · ");
}

/** @param {Frame} frame */
function stateOf(frame) {
  if (frame.state === "shot") return frame.planned ? "taken, changed" : "taken";
  return frame.state === "planned" ? "" : frame.state;
}

/** @param {Frame[]} all */
function list(all) {
  const hand = atHand(all);
  const rows = all.map((frame) => {
    const state = make("span", { class: "state" }, stateOf(frame), frame.waits ? make("span", { class: "waits" }, (stateOf(frame) ? " · " : "") + "kept here") : "");
    const first = make("span", { class: "first" }, make("b", {}, String(frame.number)), " ", numbers(frame.set));
    const second = make("span", { class: "second" }, [frame.label, frame.set.name].filter(Boolean).join(", "));
    const row = button("", "row" + (done(frame) ? " done" : ""), () => { chosen = frame.number; mode = "take"; draw(); });
    row.append(first, state, second);
    if (frame.number === hand?.number) row.setAttribute("aria-current", "true");
    return make("li", {}, row);
  });
  const before = document.activeElement?.closest("#frames") ? [...byId("frames").querySelectorAll("button")].indexOf(/** @type {HTMLButtonElement} */ (document.activeElement)) : -1;
  byId("frames").replaceChildren(...rows);
  if (before >= 0) byId("frames").querySelectorAll("button")[before]?.focus();
  byId("frames").querySelector("[aria-current]")?.scrollIntoView({ block: "nearest" });
}

/** The panel for one tap. @param {Frame[]} all */
function take(all) {
  const frame = atHand(all);
  if (!frame) return none(all);
  const head = make("h2", {}, chosen === null ? "Next: frame " : "Frame ", String(frame.number), make("span", { class: "soft" }, " " + stateOf(frame)));
  const main = done(frame)
    ? button("Put it back to be taken", "big", () => say(frame, "put back"))
    : button("Taken as planned", "main big", () => say(frame, "taken"));
  panel.replaceChildren(head, facts(frame), main, small(all, frame));
}

/** @param {Frame} frame */
function facts(frame) {
  const lines = [
    make("p", { class: "numbers" }, numbers(frame.set) || "aperture and shutter are not planned"),
    make("p", {}, [frame.set.name, focus(frame.set)].filter(Boolean).join(", ")),
  ];
  if (frame.planned) lines.push(make("p", { class: "soft" }, "Planned: " + [numbers(frame.planned), frame.planned.name, focus(frame.planned)].filter(Boolean).join(", ")));
  if (frame.offset_mm) lines.push(make("p", {}, `Focus set off by ${frame.offset_mm} mm`));
  const words = [frame.purpose || frame.label, frame.exposure].filter(Boolean).join(" ");
  if (words) lines.push(make("p", { class: "soft" }, words));
  return make("div", { class: "facts" }, ...lines);
}

/** @param {Frame[]} all @param {Frame} frame */
function small(all, frame) {
  const row = make("div", { class: "small-ones" });
  row.append(button("Otherwise", "", () => other(frame)));
  if (!done(frame)) row.append(button("Leave out", "", () => say(frame, "left out")));
  row.append(button("Note", "", () => note(frame)), photoButton(frame), ...undo(all));
  if (chosen !== null) row.append(button("To the next", "", () => { chosen = null; draw(); }));
  return row;
}

/** Taking back what was said last. @param {Frame[]} all */
function undo(all) {
  const last = all.find((frame) => frame.number === lastSaid);
  return last && done(last) ? [button(`Undo frame ${last.number}`, "", () => say(last, "put back"))] : [];
}

/** The panel when every frame has been dealt with. @param {Frame[]} all */
function none(all) {
  const number = nextNumber(all);
  const full = sheet.holds !== null && number > sheet.holds;
  const row = make("div", { class: "small-ones" });
  row.append(button("Note", "", () => note(null)), photoButton(null), ...undo(all));
  const words = full ? `The roll holds ${sheet.holds} frames: it is full.` : "Another frame can be logged all the same.";
  const more = button(`Log a frame ${number}`, "big", () => extra(all, number));
  panel.replaceChildren(make("h2", {}, all.length ? "Every planned frame is done" : "No frame is planned"), make("p", { class: "soft" }, words), more, row);
}

// --- otherwise than planned -------------------------------------------------------------------------------------------

/** @param {Frame[]} all @param {number} number */
function extra(all, number) {
  const last = all.at(-1);
  other({ id: null, number, label: "", purpose: "", state: "extra", set: last?.set ?? blank(), planned: null, exposure: "", offset_mm: null });
}

/** A number between two large keys. @param {string} label @param {string} shown @param {(by: number) => string} step */
function stepper(label, shown, step) {
  const id = "step-" + label.replace(/\W/g, "");
  const input = /** @type {HTMLInputElement} */ (make("input", { type: "text", id, autocomplete: "off" }));
  input.value = shown;
  const key = (/** @type {string} */ sign, /** @type {number} */ by, /** @type {string} */ words) => {
    const element = make("button", { type: "button", "aria-label": `${label}: ${words}` }, sign);
    element.addEventListener("click", () => { input.value = step(by); });
    return element;
  };
  const row = make("div", { class: "stepper" }, make("label", { for: id }, label), key("−", -1, "down"), input, key("+", 1, "up"));
  return { row, input };
}

/** The neighbour of a number in a series. @param {number[]} series @param {number | null} now @param {number} by */
function neighbour(series, now, by) {
  if (now === null) return series[Math.floor(series.length / 2)];
  const beyond = series.filter((one) => (by > 0 ? one > now * 1.001 : one < now / 1.001));
  return beyond.length ? (by > 0 ? Math.min(...beyond) : Math.max(...beyond)) : now;
}

/** What people write for a number: a fraction, a decimal comma, a unit behind it. @param {string} text @returns {number | null} */
function numberOf(text) {
  const plain = text.replace(/^f\/?/i, "").replace(/(mm|s)$/i, "").trim().replace(",", ".");
  const [above, below] = plain.split("/").map((part) => (part.trim() === "" ? NaN : Number(part)));
  const number = below === undefined ? above : above / below;
  return Number.isFinite(number) && number > 0 ? number : null;
}

/** The part of a set-up that has a length set on it, or the lens's own travel. @param {Set} set */
function movable(set) {
  const at = set.parts.findIndex((word) => /=\d/.test(word));
  if (at >= 0) return { at, label: "Draw", mm: Number(set.parts[at].split("=")[1]) };
  const travel = /^travel=(.*)$/.exec(set.focus);
  return { at: -1, label: "Travel", mm: travel ? Number(travel[1]) : null };
}

/** @param {Frame} frame */
function other(frame) {
  mode = "other";
  const set = frame.set;
  const f = stepper("Aperture", engraved(set.f_number), (by) => engraved(neighbour(sheet.f_numbers, numberOf(f.input.value), by)));
  // A longer time is more light: the right-hand key lets in more.
  const times = sheet.speeds.map((speed) => speed.s);
  const shutter = stepper("Shutter", time(set.shutter_s), (by) => time(neighbour(times, secondsOf(shutter.input.value), by)));
  const moved = movable(set);
  const length = stepper(moved.label, moved.mm === null ? "" : `${moved.mm} mm`, (by) => `${Math.max(0, (numberOf(length.input.value) ?? 0) + by / (moved.at < 0 ? 2 : 1))} mm`);
  const setUp = chooser(set);
  setUp?.select.addEventListener("change", () => { length.row.hidden = true; });
  const meter = line("The meter said", "1/60, or EV 9.7");
  const words = line("Note", "");
  const wrong = make("p", { class: "wrong", role: "alert" });
  const save = button(frame.state === "extra" ? `Frame ${frame.number} was taken so` : "It was taken so", "main big", () => {
    const change = { ...changed(set, f.input, shutter.input, length, moved, setUp) };
    if (typeof change.wrong === "string") { wrong.textContent = change.wrong; return; }
    const whole = frame.state === "extra" ? { ...settings(set), ...change } : change;
    say(frame, frame.state === "extra" ? "extra" : "changed", { set: againstPlan(frame, whole), meter: meter.input.value.trim(), note: words.input.value.trim() });
  });
  const rows = [f.row, shutter.row, ...(set.parts.length ? [length.row] : []), ...(setUp ? [setUp.row] : []), meter.row, words.row, wrong];
  panel.replaceChildren(make("h2", {}, `Frame ${frame.number}, as it was taken`), ...rows, save, back());
}

/** A changed frame that is changed again says all that is unlike its plan. @param {Frame} frame @param {kept.Change} change */
function againstPlan(frame, change) {
  if (!frame.planned) return change;
  const now = /** @type {Record<string, unknown>} */ ({ ...settings(frame.set), ...change });
  const plan = /** @type {Record<string, unknown>} */ (settings(frame.planned));
  return Object.fromEntries(Object.entries(now).filter(([name, value]) => value !== undefined && !same(value, plan[name])));
}

/** @param {Set} set @returns {kept.Change} */
function settings(set) {
  return { parts: set.parts, focus: set.focus, f_number: set.f_number ?? undefined, shutter_s: set.shutter_s ?? undefined };
}

/** The time of a field: one of the shutter's own by its name, else as written. @param {string} text */
function secondsOf(text) {
  return sheet.speeds.find((speed) => speed.text === text)?.s ?? numberOf(text);
}

/** What was set otherwise, or what is wrong with it.
 * @param {Set} set @param {HTMLInputElement} f @param {HTMLInputElement} shutter @param {{ row: HTMLElement, input: HTMLInputElement }} length
 * @param {{ at: number, label: string, mm: number | null }} moved @param {{ select: HTMLSelectElement } | null} setUp
 * @returns {kept.Change & { wrong?: string }} */
function changed(set, f, shutter, length, moved, setUp) {
  /** @type {kept.Change} */
  const change = {};
  const read = /** @type {[string, HTMLInputElement, (text: string) => number | null][]} */ ([["aperture", f, numberOf], ["shutter time", shutter, secondsOf], [moved.label.toLowerCase(), length.input, (text) => (/^0+([.,]0*)?( ?mm)?$/.test(text.trim()) ? 0 : numberOf(text))]]);
  for (const [name, input, number] of read) {
    if (input.value.trim() !== "" && number(input.value) === null) return { wrong: `“${input.value}” is no ${name}. Write it like ${name === "shutter time" ? "1/60 or 2" : "8 or 5.6"}.` };
  }
  const [fNumber, seconds, mm] = read.map(([, input, number]) => (input.value.trim() === "" ? null : number(input.value)));
  if (fNumber !== null && fNumber !== set.f_number) change.f_number = fNumber;
  if (seconds !== null && seconds !== set.shutter_s) change.shutter_s = seconds;
  const picked = setUp ? sheet.set_ups[Number(setUp.select.value)]?.parts : undefined;
  if (picked && !same(picked, set.parts)) change.parts = picked;
  else if (mm !== null && mm !== moved.mm && moved.at >= 0) change.parts = set.parts.map((word, at) => (at === moved.at ? `${word.split("=")[0]}=${mm}` : word));
  else if (mm !== null && mm !== moved.mm && set.parts.length) change.focus = `travel=${mm}`;
  return change;
}

/** A choice among the roll's set-ups, when there are several. @param {Set} set */
function chooser(set) {
  if (sheet.set_ups.length < 2) return null;
  const select = /** @type {HTMLSelectElement} */ (make("select", { id: "set-up" }));
  if (!sheet.set_ups.some((one) => same(one.parts, set.parts))) select.append(make("option", { value: "-1" }, set.name || "none"));
  sheet.set_ups.forEach((one, at) => {
    const option = make("option", { value: String(at) }, one.name);
    if (same(one.parts, set.parts)) option.setAttribute("selected", "");
    select.append(option);
  });
  return { row: make("div", { class: "line" }, make("label", { for: "set-up" }, "Set-up"), select), select };
}

/** @param {string} label @param {string} example */
function line(label, example) {
  const id = "line-" + label.replace(/\W/g, "");
  const input = /** @type {HTMLInputElement} */ (make("input", { type: "text", id, autocomplete: "off", placeholder: example }));
  return { row: make("div", { class: "line" }, make("label", { for: id }, label), input), input };
}

const back = () => button("Back", "", () => { mode = "take"; draw(); });

// --- words and pictures -----------------------------------------------------------------------------------------------

/** @param {Frame | null} frame */
function note(frame) {
  mode = "note";
  const area = /** @type {HTMLTextAreaElement} */ (make("textarea", { id: "words", rows: "4", maxlength: "4000" }));
  const head = make("h2", {}, make("label", { for: "words" }, frame ? `Note for frame ${frame.number}` : "Note for the roll"));
  const save = button("Keep the note", "main big", () => { if (area.value.trim()) say(frame, "note", { note: area.value.trim() }); else area.focus(); });
  panel.replaceChildren(head, area, save, back());
  area.focus();
}

/** @param {Frame | null} frame */
function photoButton(frame) {
  const input = /** @type {HTMLInputElement} */ (make("input", { type: "file", accept: "image/*", capture: "environment", class: "unseen", id: "photo" }));
  input.addEventListener("change", async () => {
    const file = input.files?.[0];
    if (!file) return;
    try {
      const bytes = await smaller(file);
      await kept.keepPhoto({ roll: sheet.roll, frame: frame?.id ?? null, number: frame?.number ?? null, bytes });
      await countPhotos();
      send();
    } catch {
      trouble = "This picture cannot be read here. Take it with the phone's camera.";
      standing();
    }
    input.value = "";
  });
  return make("label", { class: "button", for: "photo" }, "Photo", input);
}

/** A photo as a JPEG no larger than needed; what the browser cannot draw goes as it is. @param {File} file @returns {Promise<ArrayBuffer>} */
async function smaller(file) {
  const address = URL.createObjectURL(file);
  try {
    const image = new Image();
    image.src = address;
    await image.decode();
    const scale = Math.min(1, PHOTO_SIDE / Math.max(image.naturalWidth, image.naturalHeight));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(image.naturalWidth * scale));
    canvas.height = Math.max(1, Math.round(image.naturalHeight * scale));
    canvas.getContext("2d")?.drawImage(image, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise((/** @type {(blob: Blob | null) => void} */ resolve) => canvas.toBlob(resolve, "image/jpeg", 0.85));
    if (!blob) throw new Error("no picture");
    return await blob.arrayBuffer();
  } finally {
    URL.revokeObjectURL(address);
  }
}

// --- how it stands ----------------------------------------------------------------------------------------------------

function standing() {
  const waiting = kept.queued().length;
  const parts = [];
  if (waiting) parts.push(`${waiting} ${waiting === 1 ? "entry" : "entries"}`);
  if (waitingPhotos) parts.push(`${waitingPhotos} ${waitingPhotos === 1 ? "photo" : "photos"}`);
  const line = byId("standing");
  const words = parts.length ? `Kept on the phone: ${parts.join(", ")}` : "All arrived";
  if (line.textContent !== words) line.textContent = words;
  line.classList.toggle("waiting", parts.length > 0);
  troubles();
}

function troubles() {
  const box = byId("trouble");
  /** @type {(Node | string)[]} */
  const said = [];
  if (trouble) said.push(make("p", {}, trouble, pairAgain ? make("a", { href: "/pair" }, " Pair again") : ""));
  if (!kept.keeps) said.push(make("p", {}, "This browser keeps nothing (is the window a private one, or the phone full?). Leave this page open until all has arrived."));
  if (Math.abs(ahead) > 120) said.push(make("p", {}, `This phone's clock is ${Math.round(Math.abs(ahead) / 60)} minutes ${ahead > 0 ? "behind" : "ahead of"} the computer's. Both times are kept.`));
  for (const why of kept.refusedPhotos) said.push(make("p", {}, `A photo was not kept: ${why}`));
  const out = kept.refused();
  if (out.length) said.push(refusedBox(out));
  box.hidden = said.length === 0;
  box.replaceChildren(...said);
}

/** Entries that the computer would not have: nothing is dropped. @param {{ entry: kept.Entry, why: string }[]} out */
function refusedBox(out) {
  const lines = out.map(({ entry, why }) => make("li", {}, `Frame ${entry.number ?? "–"}, ${entry.said}${entry.note ? `: “${entry.note}”` : ""}. ${why}`));
  const again = button("Send them again", "quiet", () => { kept.sayAgain(); draw(); send(); });
  return make("details", {}, make("summary", {}, `${out.length} not taken by the computer, kept here`), make("ul", {}, ...lines), again);
}

// --- light and life ---------------------------------------------------------------------------------------------------

/** Paper, dim, red, in turn. */
function nextLight() {
  const lights = ["paper", "dim", "red"];
  const now = document.documentElement.dataset.light ?? "paper";
  const next = lights[(lights.indexOf(now) + 1) % lights.length];
  document.documentElement.dataset.light = next;
  document.cookie = `light=${next}; Path=/; Max-Age=31536000; SameSite=Strict`;
}

/** Now and then a look at the computer: what was changed there, and whether it can be reached. */
async function watch() {
  if (!document.hidden && !kept.queued().length) {
    try {
      sheet = await kept.look(sheet.roll);
      trouble = null;
      pairAgain = false;
      draw();
    } catch {
      // Not there, or no longer for this phone: sending says in words which.
      await send();
      if (!trouble) { trouble = "No connection to the computer. What you log is kept on the phone."; standing(); }
    }
  }
  setTimeout(watch, LOOK * 1000);
}

byId("light").addEventListener("click", nextLight);
addEventListener("online", () => send());
addEventListener("offline", () => { trouble = "No connection to the computer. What you log is kept on the phone."; standing(); });
document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
draw();
send();
setTimeout(watch, LOOK * 1000);
