// The loupe: a window on the same spot of every picture, at the size on film or as in a print, while the pictures around it stay. How
// large this screen is says a card that is held against a line on it.

import { Viewer } from "./viewer.js";

/**
 * @typedef {import("./side.js").One} One
 * @typedef {{one: One, at: [number, number]}} Spot a place of one picture, in its pixels
 * @typedef {"off" | "film" | "print"} Kind
 */

const KEPT = "screen-px-per-mm";
/** CSS pixels for a millimetre where nobody has measured: 96 to the inch, as style sheets take every screen to be. */
const NOMINAL = 96 / 25.4;
/** CSS pixels that an arrow moves the loupe by. */
const STEP = 16;
/** The window's width: this share of a pane's smaller side, within these CSS pixels. */
const [SHARE, LEAST, MOST] = [0.5, 110, 280];
/** A finger hides what lies under it: the window stands so far above it. */
const ABOVE_FINGER = 28;

/**
 * @param {HTMLElement} side
 * @param {One[]} all
 * @param {{same(spot: Spot, one: One): [number, number], show(size: "film" | "frame", perUnit: number): void, picking(): boolean}} view
 * the picture pixels of another picture that show the same spot; the whole view at a size, in CSS pixels for one mm of film or one hundredth of the
 * frame's width; whether a click picks a detail
 */
export function wakeLoupe(side, all, view) {
  const part = (/** @type {string} */ css) => /** @type {HTMLElement} */ (side.querySelector(css));
  const field = (/** @type {string} */ name) => /** @type {HTMLInputElement} */ (side.querySelector(`[name=${name}]`));
  const radios = /** @type {NodeListOf<HTMLInputElement>} */ (side.querySelectorAll("input[name=loupe]"));
  const words = part(".loupe-words");
  /** @type {Kind} */
  let kind = "off";
  /** What the key takes up again. @type {Kind} */
  let last = all.every(({ pane }) => Number(pane.element.dataset.pitchUm) > 0) ? "film" : "print";
  /** @type {Spot | null} */
  let spot = null;
  let finger = false;
  /** One window for each pane, made when first asked for. @type {Viewer[]} */
  let windows = [];
  let radius = 0;

  // --- this screen -------------------------------------------------------------------------------------------------------

  const screen = wakeScreen(side, () => { tell(); draw(); });

  // --- sizes -------------------------------------------------------------------------------------------------------------

  /** Of the print: width, distance, the eye's distance from the screen, cm; null where one is no length. */
  function printed() {
    const [print, distance, eye] = ["print-cm", "distance-cm", "eye-cm"].map((name) => Number(field(name).value));
    return print > 0 && distance > 0 && eye > 0 ? { print, distance, eye, width: print * eye / distance } : null;
  }

  function times() { return Number(field("film-times").value) || 0; }

  /** CSS pixels for one mm of film, or for a hundredth of the frame's width; 0 where a number is missing. @param {Kind} of */
  function perUnit(of) {
    if (of === "film") return screen.perMm() * times();
    return screen.perMm() * 10 * (printed()?.width ?? 0) / 100;
  }

  /** CSS pixels for one pixel of a picture. @param {One} one */
  function scale({ pane }) {
    return kind === "film" ? perUnit(kind) * Number(pane.element.dataset.pitchUm) / 1000 : perUnit(kind) * 100 / pane.width;
  }

  function tell() {
    words.textContent = kind === "off" ? "" : `${sized(kind)} ${pixels()} ${screen.words()}`;
  }

  /** @param {Kind} of */
  function sized(of) {
    const p = printed();
    if (of === "film") return times() > 0 ? `As on film, ${times()} times: a millimetre of film takes ${times()} mm of this screen.` : "Enter how many times.";
    if (!p) return "Enter the print's width and both distances, in cm.";
    return `As in a print ${p.print} cm wide at ${p.distance} cm, seen by an eye ${p.eye} cm from the screen: the frame's width takes ${digits(p.width)} cm of this screen.`;
  }

  /** A pixel of a scan that is larger than the screen's shows as a square: the scan, not the film, ends there. */
  function pixels() {
    const shown = all.map((one) => scale(one) * devicePixelRatio);
    if (!shown.every((one) => one > 0)) return "";
    return `Pixels of the scans are shown at ${shown.map((one) => `${digits(100 * one)} %`).join(", ")}.`;
  }

  // --- the windows -------------------------------------------------------------------------------------------------------

  function make() {
    windows = all.map(({ pane }) => {
      const element = document.createElement("div");
      element.className = "loupe-window";
      element.append(document.createElement("canvas"));
      Object.assign(element.dataset, pane.element.dataset);
      pane.element.append(element);
      const shown = new Viewer(element);
      shown.turn = pane.turn;
      shown.onResize = () => shown.draw();
      shown.overlay = (c) => middle(c, shown);
      return shown;
    });
    measure();
    new ResizeObserver(() => { measure(); draw(); }).observe(all[0].pane.element);
  }

  /** All windows are of one size, so that they compare. */
  function measure() {
    const smallest = Math.min(...all.flatMap(({ pane }) => [pane.element.clientWidth, pane.element.clientHeight]).filter((side) => side > 0));
    radius = Math.round(Math.min(Math.max(SHARE * smallest, LEAST), MOST) / 2);
    for (const shown of windows) {
      shown.element.style.setProperty("--loupe", `${2 * radius}px`);
      shown.size = [2 * radius, 2 * radius];
    }
  }

  /** Four short marks that point to the spot and leave it free. @param {CanvasRenderingContext2D} c @param {Viewer} shown */
  function middle(c, shown) {
    const [x, y] = [shown.size[0] / 2, shown.size[1] / 2];
    c.strokeStyle = "#fff";
    c.globalCompositeOperation = "difference";
    c.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      c.moveTo(x + dx * (x - 9), y + dy * (y - 9));
      c.lineTo(x + dx * x, y + dy * y);
    }
    c.stroke();
    c.globalCompositeOperation = "source-over";
  }

  function draw() {
    const seen = kind !== "off" && spot !== null;
    if (seen && !windows.length) make();
    windows.forEach((shown, k) => {
      shown.element.classList.toggle("seen", seen);
      if (!seen || !spot) return;
      const one = all[k], at = view.same(spot, one);
      shown.setView({ x: at[0], y: at[1], scale: scale(one) || 1 });
      place(shown, one, one.pane.toScreen(...at));
    });
  }

  /** @param {Viewer} shown @param {One} one @param {[number, number]} at in the pane, CSS pixels */
  function place(shown, { pane }, [x, y]) {
    const [w, h] = pane.size;
    const within = (/** @type {number} */ v, /** @type {number} */ end) => Math.round(Math.min(Math.max(v - radius, 0), Math.max(end - 2 * radius, 0)));
    shown.element.style.transform = `translate(${within(x, w)}px, ${within(finger ? y - radius - ABOVE_FINGER : y, h)}px)`;
  }

  /** @param {One} one @param {[number, number]} at */
  function moveTo(one, at) {
    if (kind === "off") return;
    spot = { one, at };
    draw();
  }

  /** @param {Kind} to @param {One} [one] where it begins when it was nowhere yet */
  function choose(to, one = all[0]) {
    kind = to;
    if (to !== "off") last = to;
    for (const radio of radios) radio.checked = radio.value === to;
    if (to !== "off") spot ??= { one, at: [one.pane.x, one.pane.y] };
    tell();
    draw();
  }

  for (const radio of radios) radio.addEventListener("change", () => choose(/** @type {Kind} */ (radio.value)));
  for (const name of ["film-times", "print-cm", "distance-cm", "eye-cm"]) field(name).addEventListener("input", () => { tell(); draw(); });
  for (const button of /** @type {NodeListOf<HTMLElement>} */ (side.querySelectorAll("[data-whole]"))) {
    button.addEventListener("click", () => {
      const of = /** @type {Kind} */ (button.dataset.whole), unit = perUnit(of);
      if (unit > 0) view.show(of === "film" ? "film" : "frame", unit);
      words.textContent = `The whole view. ${sized(of)} ${screen.words()}`;
    });
  }
  for (const one of all) {
    // A finger moves the loupe, a mouse has it under it anyway.
    one.pane.element.addEventListener("pointerdown", (event) => {
      finger = event.pointerType === "touch";
      one.pane.tool = finger && kind !== "off" && !view.picking() ? { down: take, move: take, up: () => {} } : null;
    }, { capture: true });
    /** @param {number} x @param {number} y */
    const take = (x, y) => { moveTo(one, [x, y]); return true; };
  }
  // A reload may bring back a choice that no event tells of.
  choose("off");

  return {
    draw,
    /** The pointer is over a picture. @param {One} one @param {[number, number]} at */
    hover(one, at) { if (!finger) moveTo(one, at); },
    /** @param {KeyboardEvent} event @param {One} one the picture with the keys @returns {boolean} whether the key was taken */
    key(event, one) {
      if (event.key.toLowerCase() === "l") {
        choose(kind === "off" ? last : "off", one);
        return true;
      }
      const step = { ArrowLeft: [-STEP, 0], ArrowRight: [STEP, 0], ArrowUp: [0, -STEP], ArrowDown: [0, STEP] }[event.key];
      if (kind === "off" || !step || !spot || event.shiftKey) return false;
      finger = false;
      const [x, y] = one.pane.toScreen(...view.same(spot, one)), [w, h] = one.pane.size;
      const within = (/** @type {number} */ v, /** @type {number} */ end) => Math.min(Math.max(v, 0), end);
      moveTo(one, one.pane.toPicture(within(x + step[0], w), within(y + step[1], h)));
      return true;
    },
  };
}

/** @param {number} number */
function digits(number) { return String(Number(number.toPrecision(3))); }

/** The line that a card is held against. @param {HTMLElement} side @param {() => void} changed */
function wakeScreen(side, changed) {
  const field = (/** @type {string} */ name) => /** @type {HTMLInputElement} */ (side.querySelector(`[name=${name}]`));
  const [pixels, mm] = [field("line-px"), field("line-mm")];
  const line = /** @type {HTMLElement} */ (side.querySelector(".screen-line"));
  const told = /** @type {HTMLElement} */ (side.querySelector(".screen-words"));
  let kept = Number(localStorage.getItem(KEPT));
  const isMeasured = () => kept > 1 && kept < 40;
  const perMm = () => isMeasured() ? kept : NOMINAL;

  function tell() {
    line.style.width = `${pixels.value}px`;
    told.textContent = isMeasured()
      ? `As you measured: ${digits(kept)} CSS pixels on a millimetre, ${digits(1000 / kept / devicePixelRatio)} µm from one pixel of this screen to the next. Kept in this browser.`
      : `Not measured: taken as 96 CSS pixels to the inch, ${digits(NOMINAL)} on a millimetre, which is right for few screens.`;
  }

  function taken() {
    const length = Number(mm.value);
    if (length >= 10 && length <= 300) {
      kept = Number(pixels.value) / length;
      try { localStorage.setItem(KEPT, String(kept)); } catch { /* it costs only the memory */ }
    }
    tell();
    if (!(length >= 10 && length <= 300)) told.textContent = "The line's length must be between 10 and 300 mm.";
    changed();
  }

  pixels.value = String(Math.round(perMm() * Number(mm.value)));
  pixels.addEventListener("input", taken);
  mm.addEventListener("input", taken);
  tell();
  return { perMm, words: () => isMeasured() ? "" : "This screen's size is not measured: see below." };
}
