// What every sheet does: the footer's choices without a reload, forms that forget nothing, background work kept in view.

/** @param {string} name @param {string} value */
function setCookie(name, value) {
  document.cookie = `${name}=${value}; Path=/; Max-Age=31536000; SameSite=Strict`;
}

/** @param {string} name @returns {string | undefined} */
function cookie(name) {
  return document.cookie.split("; ").find((pair) => pair.startsWith(name + "="))?.slice(name.length + 1);
}

// --- the footer's choices -------------------------------------------------------------------------------------------

/** @param {HTMLFormElement} form */
function showChoices(form) {
  const chosen = { units: cookie("units") ?? "mm", light: cookie("light") ?? "auto" };
  for (const button of form.querySelectorAll("button")) {
    button.setAttribute("aria-pressed", String(chosen[button.name] === button.value));
  }
}

const manners = /** @type {HTMLFormElement | null} */ (document.querySelector("form.manners"));
manners?.addEventListener("submit", (event) => {
  const button = /** @type {HTMLButtonElement} */ (/** @type {SubmitEvent} */ (event).submitter);
  event.preventDefault();
  setCookie(button.name, button.value);
  if (button.name === "units") return location.reload();
  if (button.value === "auto") delete document.documentElement.dataset.light;
  else document.documentElement.dataset.light = button.value;
  showChoices(/** @type {HTMLFormElement} */ (manners));
});
if (manners) showChoices(manners);

// --- the way back from a refusal ------------------------------------------------------------------------------------

const back = /** @type {HTMLAnchorElement | null} */ (document.querySelector("a[data-back]"));
if (back && history.length > 1) {
  back.textContent = "Back to where you came from";
  back.addEventListener("click", (event) => {
    event.preventDefault();
    history.back();
  });
}

// --- forms that forget nothing --------------------------------------------------------------------------------------
// A form with data-keep="key" is copied to this browser at every change, and filled from there after a reload or a lost
// connection. The server's cookie saved=key says that it was accepted, and the copy is dropped.

/** @typedef {HTMLInputElement | HTMLTextAreaElement | HTMLSelectElement} Entry */

/** @param {HTMLFormElement} form @returns {Entry[]} */
function entries(form) {
  const all = /** @type {Entry[]} */ ([...form.elements].filter((e) => "name" in e && e.name && "value" in e));
  return all.filter((e) => !["file", "hidden", "submit", "password"].includes(e.type) && e.tagName !== "BUTTON");
}

/** @param {Entry} entry */
function valueOf(entry) {
  return entry instanceof HTMLInputElement && ["checkbox", "radio"].includes(entry.type) ? entry.checked : entry.value;
}

/** @param {Entry} entry @param {string | boolean} value */
function fill(entry, value) {
  if (typeof value === "boolean" && entry instanceof HTMLInputElement) entry.checked = value;
  else entry.value = String(value);
}

/** @param {HTMLFormElement} form */
function keep(form) {
  const key = "form:" + form.dataset.keep;
  const copy = () => {
    const values = entries(form).map((e) => [e.name, valueOf(e)]);
    try { localStorage.setItem(key, JSON.stringify(values)); } catch { /* a full store costs only the copy */ }
  };
  form.addEventListener("input", copy);
  form.addEventListener("change", copy);
  const kept = localStorage.getItem(key);
  if (!kept || form.querySelector(".wrong")) return;
  const found = entries(form);
  /** @type {[string, string | boolean][]} */
  const values = JSON.parse(kept);
  const differs = values.some(([name, value], i) => found[i]?.name === name && valueOf(found[i]) !== value);
  if (!differs || values.length !== found.length) return;
  const before = found.map(valueOf);
  values.forEach(([, value], i) => fill(found[i], value));
  const blank = before.every((value) => value === "" || typeof value === "boolean");
  form.prepend(restoredNote(key, blank, () => found.forEach((e, i) => fill(e, before[i]))));
  form.dispatchEvent(new Event("restored"));
}

/** @param {string} key @param {boolean} blank @param {() => void} undo */
function restoredNote(key, blank, undo) {
  const note = document.createElement("p");
  note.className = "note";
  note.setAttribute("role", "status");
  const discard = document.createElement("button");
  discard.type = "button";
  discard.className = "quiet";
  discard.textContent = blank ? "Empty the form" : "Put back what was saved";
  discard.addEventListener("click", () => { undo(); localStorage.removeItem(key); note.remove(); });
  note.append("What you had typed and not sent is here again. ", discard);
  return note;
}


// --- deleting asks once more, in the button itself: the second press does it ------------------------------------------

/** @param {HTMLButtonElement} button */
function askOnceMore(button) {
  button.addEventListener("click", (event) => {
    if (button.hasAttribute("data-armed")) return;
    event.preventDefault();
    const label = [...button.childNodes];
    button.setAttribute("data-armed", "");
    button.textContent = button.dataset.sure ?? "Really?";
    setTimeout(() => { button.removeAttribute("data-armed"); button.replaceChildren(...label); }, 4000);
  });
}

// --- a form that is on its way is not sent again: two presses of a button would make two of what it makes ----------------

/** As long as an answer is waited for before the same may be sent once more, ms. */
const SENT_MS = 4000;
/** @type {Map<HTMLFormElement, string>} */
const sent = new Map();

/** What a form would send, files by their names. @param {HTMLFormElement} form @param {HTMLElement | null} submitter */
function content(form, submitter) {
  const fields = [...new FormData(form, submitter)].map(([name, value]) => [name, value instanceof File ? value.name : value]);
  return JSON.stringify([form.action, fields]);
}

// On the window: whoever sends a form in another way has said so by then.
addEventListener("submit", (event) => {
  const form = /** @type {HTMLFormElement} */ (event.target);
  if (event.defaultPrevented || form.method !== "post") return;
  const now = content(form, event.submitter);
  if (sent.get(form) === now) return event.preventDefault();
  sent.set(form, now);
  setTimeout(() => sent.delete(form), SENT_MS);
});
// Back from another page everything may be sent anew.
addEventListener("pageshow", () => sent.clear());

/** In a list of messages each says which field it is about. @param {ParentNode} root */
function nameFields(root) {
  for (const link of /** @type {NodeListOf<HTMLAnchorElement>} */ (root.querySelectorAll('.refusal a[href^="#field-"]'))) {
    const field = document.getElementById(link.hash.slice(1));
    const label = document.querySelector(`label[for="${link.hash.slice(1)}"]`)?.firstChild?.textContent?.trim();
    if (label && !link.textContent?.startsWith(label)) link.prepend(label + ": ");
    link.addEventListener("click", (event) => { event.preventDefault(); field?.focus(); });
  }
}

/** Wakes up what a page, or a part of one that was put in later, holds. @param {ParentNode} root */
export function wake(root) {
  for (const form of root.querySelectorAll("form[data-keep]")) keep(/** @type {HTMLFormElement} */ (form));
  for (const button of root.querySelectorAll("button[data-sure]")) askOnceMore(/** @type {HTMLButtonElement} */ (button));
  nameFields(root);
  for (const box of root.querySelectorAll("[data-task]")) follow(/** @type {HTMLElement} */ (box));
  /** @type {HTMLElement | null} */ (root.querySelector("[data-focus]"))?.focus();
}

/** Drops the kept copy of a form that the server has just accepted. */
export function dropAccepted() {
  const savedKey = cookie("saved");
  if (!savedKey) return;
  localStorage.removeItem("form:" + savedKey);
  document.cookie = "saved=; Path=/; Max-Age=0; SameSite=Strict";
}

// --- background work ------------------------------------------------------------------------------------------------

/** @param {HTMLElement} box */
async function follow(box) {
  const bar = /** @type {HTMLProgressElement} */ (box.querySelector("progress"));
  for (;;) {
    await new Promise((resolve) => setTimeout(resolve, 500));
    const answer = await fetch(`/tasks/${box.dataset.task}`).catch(() => null);
    if (!answer) continue; // the connection is lost: the work goes on, and so does the asking
    if (!answer.ok) return location.reload();
    const report = await answer.json();
    if (report.share !== null) bar.value = report.share;
    if (report.state !== "running") return ended();
  }
}

/** Reloads for the result, unless that would take away something half-typed. */
function ended() {
  const typing = document.activeElement?.matches("input, textarea, select");
  if (!typing) location.reload();
  else setTimeout(ended, 1000);
}

dropAccepted();
wake(document);
