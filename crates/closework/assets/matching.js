// Scans matched to frames under the hand: press a scan and then a frame, or drag one onto the other. Without this script every
// scan has a list to choose from.

const board = /** @type {HTMLElement | null} */ (document.querySelector(".matching"));
const said = document.getElementById("matching-said");
/** The scan that is being moved. @type {HTMLElement | null} */
let held = null;

/** @param {string} words */
function say(words) {
  if (said) said.textContent = words;
}

/** Marks the scan that is held, and shows where it may go. @param {HTMLElement | null} card */
function hold(card) {
  held = card;
  for (const other of all(".match")) {
    const mine = other === card;
    other.classList.toggle("held", mine);
    other.querySelector(".take")?.setAttribute("aria-pressed", String(mine));
  }
  for (const put of all(".put")) put.hidden = card === null;
  say(card ? `${card.dataset.name} is held: choose a frame, or press Escape.` : "");
}

/** @param {string} selector @returns {HTMLElement[]} */
function all(selector) {
  return Array.from(/** @type {HTMLElement} */ (board).querySelectorAll(selector));
}

/** Sends the match as the plain form would. @param {string} scan @param {string} frame */
function send(scan, frame) {
  const form = document.createElement("form");
  form.method = "post";
  form.action = board?.dataset.set ?? "";
  for (const [name, value] of [["scan", scan], ["frame", frame], ["query", board?.dataset.query ?? ""]]) {
    const input = document.createElement("input");
    input.type = "hidden";
    input.name = name;
    input.value = value;
    form.append(input);
  }
  document.body.append(form);
  form.submit();
}

/** Where a place puts a scan: a frame's number, "" for none, nothing where there is no place. @param {EventTarget | null} target */
function frameAt(target) {
  const place = target instanceof Element ? target.closest(".slot, .loose") : null;
  return place ? /** @type {HTMLElement} */ (place).dataset.frame ?? "" : undefined;
}

function begin() {
  for (const words of document.querySelectorAll(".with-script")) /** @type {HTMLElement} */ (words).hidden = false;
  for (const take of all(".take")) {
    take.hidden = false;
    take.addEventListener("click", () => {
      const card = /** @type {HTMLElement} */ (take.closest(".match"));
      hold(held === card ? null : card);
      const first = held && all(".put").find((put) => put.closest(".slot.empty"));
      if (first) first.scrollIntoView({ block: "nearest" });
    });
  }
  for (const put of all(".put")) {
    put.addEventListener("click", () => { if (held) send(held.dataset.scan ?? "", put.dataset.frame ?? ""); });
  }
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && held) {
      const take = /** @type {HTMLElement | null} */ (held.querySelector(".take"));
      hold(null);
      take?.focus();
    }
  });
  for (const card of all(".match")) drag(card);
}

/** @param {HTMLElement} card */
function drag(card) {
  card.draggable = true;
  card.addEventListener("dragstart", (event) => {
    hold(card);
    event.dataTransfer?.setData("text/plain", card.dataset.name ?? "");
  });
  card.addEventListener("dragend", () => { hold(null); over(null); });
}

/** Marks the place that the scan is over. @param {Element | null} place */
function over(place) {
  for (const other of all(".slot, .loose")) other.classList.toggle("over", other === place);
}

if (board) {
  begin();
  board.addEventListener("dragover", (event) => {
    if (!held || frameAt(event.target) === undefined) return;
    event.preventDefault();
    over(/** @type {Element} */ (event.target).closest(".slot, .loose"));
  });
  board.addEventListener("drop", (event) => {
    const frame = frameAt(event.target);
    if (!held || frame === undefined) return;
    event.preventDefault();
    send(held.dataset.scan ?? "", frame);
  });
}
