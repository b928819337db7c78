// Pictures over each other: wiped, blinked, or their difference. Style alone does it; nothing is drawn anew.

const WORDS = ["beside", "wipe", "blink", "difference"];
/** The keys of the views, in the order of WORDS. */
const KEYS = ["s", "w", "b", "d"];
/** Share of the width, per cent, that a key moves the wipe's line. */
const STEP = 5;
/** Once a second: slow enough for anyone (flashes up to three a second are held to be safe, WCAG 2.2, 2.3.1). */
const BLINK_MS = 1000;

/** @param {HTMLElement} side @param {HTMLElement[]} panes @returns {{key(key: string): boolean}} what takes a key that moved nothing */
export function wakeOver(side, panes) {
  const frame = /** @type {HTMLElement} */ (side.querySelector(".panes"));
  const line = /** @type {HTMLElement} */ (side.querySelector(".wipe-line"));
  const range = /** @type {HTMLInputElement} */ (line.querySelector("input"));
  const blinking = /** @type {HTMLElement} */ (side.querySelector(".blinking"));
  const itself = /** @type {HTMLInputElement} */ (blinking.querySelector("[name=by-itself]"));
  const told = /** @type {HTMLOutputElement} */ (blinking.querySelector("[data-front]"));
  const select = /** @type {HTMLSelectElement | null} */ (side.querySelector("[name=over]"));
  const radios = /** @type {NodeListOf<HTMLInputElement>} */ (side.querySelectorAll("input[name=view]"));
  let view = "beside";
  /** Which picture is in front while blinking. */
  let front = 0;

  /** @param {string} word */
  function show(word) {
    view = word;
    frame.dataset.view = word;
    line.hidden = word !== "wipe";
    blinking.hidden = word !== "blink";
    for (const radio of radios) radio.checked = radio.value === word;
    stack();
  }

  /** Which panes are seen, and which lies over. */
  function stack() {
    const over = Number(select?.value ?? 2) - 1;
    panes.forEach((pane, k) => {
      const seen = view === "beside" || (view === "blink" ? k === front : k === 0 || k === over);
      pane.classList.toggle("away", !seen);
      pane.classList.toggle("above", view !== "beside" && view !== "blink" && k === over);
    });
    told.textContent = `${front + 1} of ${panes.length}`;
  }

  function next() {
    front = (front + 1) % panes.length;
    stack();
  }

  /** @param {number} percent */
  function wipeTo(percent) {
    range.value = String(percent);
    frame.style.setProperty("--wipe", `${range.value}%`);
  }

  for (const radio of radios) radio.addEventListener("change", () => show(radio.value));
  select?.addEventListener("change", stack);
  range.addEventListener("input", () => wipeTo(Number(range.value)));
  side.querySelector("[data-next]")?.addEventListener("click", next);
  setInterval(() => { if (view === "blink" && itself.checked) next(); }, BLINK_MS);
  wipeTo(50);
  show("beside");

  return {
    key(key) {
      const word = WORDS[KEYS.indexOf(key.toLowerCase())];
      if (word === "blink" && view === "blink") next();
      else if (word) show(word);
      else if (view === "wipe" && (key === "," || key === ".")) wipeTo(Number(range.value) + (key === "," ? -STEP : STEP));
      else return false;
      // The picture with the keys may just have gone from sight.
      panes.find((pane) => !pane.classList.contains("away") && pane.contains(document.activeElement)) ??
        panes.find((pane) => !pane.classList.contains("away"))?.focus({ preventScroll: true });
      return true;
    },
  };
}
