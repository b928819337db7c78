// Frames of a test plan dragged by their number, with a mouse, a pen or a finger. Dropping one presses the same button that
// the server offers for the keyboard: the page itself decides nothing.

/** @type {HTMLFormElement | null} */
const form = document.querySelector("form.test-frames");

/** @param {Element} item @returns {string} roll and place */
function spot(item) {
  const list = /** @type {HTMLElement} */ (item.closest("ol"));
  return `${list.dataset.roll}.${/** @type {HTMLElement} */ (item).dataset.place}`;
}

/** The gap nearest to a point: the list, and the frame that follows it.
 * @param {number} x @param {number} y @returns {{ list: HTMLElement, before: HTMLElement | null } | null} */
function gapAt(x, y) {
  const under = document.elementFromPoint(x, y)?.closest("ol.test-frames");
  if (!(under instanceof HTMLElement)) return null;
  const items = /** @type {HTMLElement[]} */ ([...under.querySelectorAll("li[data-place]")]);
  const below = items.find((item) => {
    const box = item.getBoundingClientRect();
    return y < box.top + box.height / 2;
  });
  return { list: under, before: below ?? null };
}

/** @param {HTMLElement} item @param {{ list: HTMLElement, before: HTMLElement | null }} gap */
function drop(item, gap) {
  const count = gap.list.querySelectorAll("li[data-place]").length;
  const place = gap.before ? gap.before.dataset.place : String(count);
  if (gap.list === item.closest("ol") && [item.dataset.place, String(Number(item.dataset.place) + 1)].includes(place)) return;
  const action = document.createElement("input");
  action.type = "hidden";
  action.name = "do";
  action.value = `move.${spot(item)}.${gap.list.dataset.roll}.${place}`;
  form?.append(action);
  form?.submit();
}

/** @param {PointerEvent} event */
function take(event) {
  const handle = /** @type {HTMLElement} */ (event.currentTarget);
  const item = /** @type {HTMLElement} */ (handle.closest("li"));
  /** @type {ReturnType<typeof gapAt>} */
  let gap = null;
  const mark = document.createElement("li");
  mark.className = "gap";
  mark.setAttribute("aria-hidden", "true");
  event.preventDefault();
  handle.setPointerCapture(event.pointerId);
  item.classList.add("held");

  /** @param {PointerEvent} move */
  const moved = (move) => {
    if (move.clientY < 60) window.scrollBy(0, -12);
    if (move.clientY > window.innerHeight - 60) window.scrollBy(0, 12);
    gap = gapAt(move.clientX, move.clientY) ?? gap;
    if (gap) gap.list.insertBefore(mark, gap.before);
  };
  /** @param {Event} [end] */
  const done = (end) => {
    handle.removeEventListener("pointermove", moved);
    item.classList.remove("held");
    mark.remove();
    if (gap && end?.type === "pointerup") drop(item, gap);
    gap = null;
  };
  handle.addEventListener("pointermove", moved);
  handle.addEventListener("pointerup", done, { once: true });
  handle.addEventListener("pointercancel", done, { once: true });
}

for (const handle of form?.querySelectorAll("li[data-place] > .number") ?? []) {
  handle.classList.add("handle");
  handle.addEventListener("pointerdown", (event) => take(/** @type {PointerEvent} */ (event)));
}
