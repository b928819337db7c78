// Scans side by side: one view over all panes, beside each other or over each other. A place is told in common units (mm of the
// subject, pixels, hundredths of the frame's width, mm of film), counted from a point of each picture that shows the same
// detail: its anchor.

import { Viewer as Pane, buttonWish, twice, write } from "./viewer.js";
import { wakeLoupe } from "./side-loupe.js";
import { wakeOver } from "./side-over.js";

/**
 * @typedef {{pane: Pane, scale: number, cos: number, sin: number, mirrored: boolean, anchor: [number, number], home: [number, number], points: [number, number][]}} One
 * how it lies on the first: scale, turn, mirrored or not; anchor, its place at the start and picked points in picture pixels
 */

const MM_PER_INCH = 25.4;

const side = /** @type {HTMLElement | null} */ (document.querySelector(".side"));
if (side) start(side);

/** @param {HTMLElement} side */
function start(side) {
  for (const part of /** @type {NodeListOf<HTMLElement>} */ (side.querySelectorAll(".waking"))) part.hidden = false;
  const where = /** @type {HTMLOutputElement} */ (side.querySelector(".where"));
  /** @type {One[]} */
  const all = [...side.querySelectorAll(".pane")].map((element) => laidOut(/** @type {HTMLElement} */ (element)));
  for (const one of all) one.anchor = one.home = onEach(all[0], one);
  /** Middle of all panes in common units, and CSS pixels for one unit. */
  const view = { x: 0, y: 0, scale: 1 };
  let size = "subject";
  let tool = "move";
  let whole = true;
  /** @type {{one: One, at: [number, number]} | null} */
  let hover = null;
  /** @type {{one: One, at: [number, number]} | null} */
  let mark = null;

  // --- units and the one view --------------------------------------------------------------------------------------------

  /** Picture pixels for one common unit. @param {One} one */
  function unit({ pane, scale }) {
    // At one size of subject the way in which they were laid over each other gives the scale, and the first its millimetres.
    if (size === "subject") return scale * (Number(all[0].pane.element.dataset.pxPerMm) || 1);
    if (size === "film") return 1000 / Number(pane.element.dataset.pitchUm);
    return size === "frame" ? pane.width / 100 : 1;
  }

  /** A place of one picture in common units. @param {One} one @param {[number, number]} at @returns {[number, number]} */
  function common(one, at) {
    const u = unit(one), [dx, dy] = [at[0] - one.anchor[0], at[1] - one.anchor[1]];
    const across = (one.cos * dx + one.sin * dy) / u;
    return [one.mirrored ? -across : across, (one.cos * dy - one.sin * dx) / u];
  }

  /** A place in common units in one picture. @param {One} one @param {[number, number]} at @returns {[number, number]} */
  function inPicture(one, [x, y]) {
    const u = unit(one), across = one.mirrored ? -x : x;
    return [one.anchor[0] + u * (one.cos * across - one.sin * y), one.anchor[1] + u * (one.sin * across + one.cos * y)];
  }

  /** Frame edges of all pictures in common units. */
  function extent() {
    const corners = all.flatMap((one) => {
      const { width, height } = one.pane;
      return /** @type {[number, number][]} */ ([[0, 0], [width, 0], [0, height], [width, height]]).map((at) => common(one, at));
    });
    const [xs, ys] = [corners.map(([x]) => x), corners.map(([, y]) => y)];
    return { left: Math.min(...xs), top: Math.min(...ys), right: Math.max(...xs), bottom: Math.max(...ys) };
  }

  function fitScale() {
    const e = extent();
    return Math.min(...all.map(({ pane }) => Math.min(pane.size[0] / (e.right - e.left), pane.size[1] / (e.bottom - e.top)))) || 1;
  }

  function fit() {
    const e = extent();
    view.x = (e.left + e.right) / 2;
    view.y = (e.top + e.bottom) / 2;
    view.scale = fitScale();
    whole = true;
  }

  function apply() {
    for (const one of all) {
      [one.pane.x, one.pane.y] = inPicture(one, [view.x, view.y]);
      one.pane.scale = view.scale / unit(one);
      one.pane.draw();
    }
    loupe.draw();
    tell();
  }

  function redraw() { for (const { pane } of all) pane.draw(); }

  /** @param {number} scale @param {One} one @param {[number, number]} at */
  function zoomTo(scale, one, at) {
    const most = 32 * Math.max(...all.map(unit));
    const wanted = Math.min(Math.max(scale, fitScale() / 4), most);
    const [dx, dy] = [at[0] - one.pane.size[0] / 2, at[1] - one.pane.size[1] / 2];
    view.x += dx / view.scale - dx / wanted;
    view.y += dy / view.scale - dy / wanted;
    view.scale = wanted;
  }

  /** @param {One} one @param {import("./viewer.js").Wish} wish */
  function follow(one, wish) {
    const at = wish.at ?? middleOf(one);
    if (wish.fit) fit(); else whole = false;
    if (wish.one) zoomTo(unit(one) / devicePixelRatio, one, at);
    if (wish.zoom) zoomTo(view.scale * wish.zoom, one, at);
    if (wish.pan && (wish.alone || tool === "line-up")) {
      moveAlone(one, wish.pan);
      remember();
    } else if (wish.pan) {
      view.x -= wish.pan[0] / view.scale;
      view.y -= wish.pan[1] / view.scale;
    }
    const e = extent();
    view.x = Math.min(Math.max(view.x, e.left), e.right);
    view.y = Math.min(Math.max(view.y, e.top), e.bottom);
    apply();
  }

  /** @param {One} one @param {[number, number]} pan CSS pixels */
  function moveAlone(one, [dx, dy]) {
    const across = (one.mirrored ? -dx : dx) / one.pane.scale, down = dy / one.pane.scale;
    one.anchor = [one.anchor[0] - one.cos * across + one.sin * down, one.anchor[1] - one.sin * across - one.cos * down];
  }

  // --- lining up and marking ---------------------------------------------------------------------------------------------

  /** How many details each picture waits for. */
  function waiting() { return { "line-up": 1, two: 2 }[tool] ?? 0; }

  /** @param {One} one @param {[number, number]} at */
  function point(one, at) {
    if (tool === "mark") mark = { one, at };
    if (!waiting()) return redraw();
    one.points = one.points.length < waiting() ? [...one.points, at] : [at];
    if (all.every(({ points }) => points.length === waiting())) return tool === "two" ? sendTwo() : lineUp();
    redraw();
    tell();
  }

  function lineUp() {
    for (const one of all) {
      one.anchor = one.points[0] ?? one.anchor;
      one.points = [];
    }
    [view.x, view.y, whole] = [0, 0, false];
    remember();
    choose("move");
    apply();
    where.textContent = "Lined up: the same detail is in the middle of each.";
  }

  /** Both details are written into the form, which keeps them with the scans. */
  function sendTwo() {
    const form = /** @type {HTMLFormElement} */ (document.querySelector("form.points"));
    all.forEach(({ points }, k) => {
      points.forEach(([x, y], detail) => {
        const field = (/** @type {string} */ axis) => /** @type {HTMLInputElement} */ (form.elements.namedItem(`${"ab"[detail]}${axis}${k + 1}`));
        field("x").value = x.toFixed(1);
        field("y").value = y.toFixed(1);
      });
    });
    localStorage.removeItem(key);
    form.requestSubmit();
  }

  /** @param {string} word */
  function choose(word) {
    tool = word;
    for (const one of all) {
      one.pane.element.dataset.tool = word === "two" ? "line-up" : word;
      one.points = [];
    }
    for (const radio of radios("tool")) radio.checked = radio.value === word;
    redraw();
    tell();
  }

  /** Each picture's own sharpest place comes into the middle of its pane. */
  async function toSharpest() {
    where.textContent = "Looking where each is sharpest …";
    const words = await Promise.all(all.map(async (one, k) => {
      const answer = await fetch(`/side-by-side/sharpest?scan=${one.pane.element.dataset.scan}`).catch(() => null);
      if (!answer?.ok) return `${k + 1}: it could not be found`;
      const found = /** @type {{at_px: [number, number], words: string}} */ (await answer.json());
      one.anchor = found.at_px;
      return `${k + 1}: ${found.words}`;
    }));
    [view.x, view.y, whole] = [0, 0, false];
    const narrowest = Math.min(...all.map(({ pane }) => Math.min(...pane.size)));
    view.scale = Math.max(view.scale, 4 * narrowest / Math.max(...all.map((one) => Math.max(one.pane.width, one.pane.height) / unit(one))));
    apply();
    where.textContent = "Each at its own sharpest place, no longer laid over each other. " + words.join(". ") + ".";
  }

  // --- what is drawn over the pictures -----------------------------------------------------------------------------------

  /** A place of one picture as it lies in another pane. @param {One} from @param {[number, number]} at @param {One} one */
  function same(from, at, one) { return one.pane.toScreen(...inPicture(one, common(from, at))); }

  /** @param {CanvasRenderingContext2D} c @param {[number, number]} at @param {number} inner @param {number} outer */
  function cross(c, [x, y], inner, outer) {
    twice(c, () => {
      for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
        c.moveTo(x + dx * inner, y + dy * inner);
        c.lineTo(x + dx * outer, y + dy * outer);
      }
    });
  }

  /** @param {CanvasRenderingContext2D} c @param {One} one */
  function overlay(c, one) {
    if (hover && hover.one !== one) cross(c, same(hover.one, hover.at, one), 4, 14);
    if (mark) {
      const at = same(mark.one, mark.at, one);
      twice(c, () => c.arc(at[0], at[1], 10, 0, 7));
      cross(c, at, 10, 20);
    }
    one.points.forEach((at, k) => {
      const [x, y] = one.pane.toScreen(...at);
      cross(c, [x, y], 0, 16);
      if (tool === "two") write(c, "AB"[k], x + 8, y - 8);
    });
    if (waiting() && !one.points.length && document.activeElement === one.pane.element) cross(c, middleOf(one), 3, 12);
    bar(c, one);
  }

  /** The largest round length of at most this many common units, with its name. @param {number} units */
  function round(units) {
    const inch = (size === "subject" || size === "film") && side.dataset.unit === "in";
    const most = inch ? units / MM_PER_INCH : units;
    const ten = 10 ** Math.floor(Math.log10(most));
    const length = Number(((most >= 5 * ten ? 5 : most >= 2 * ten ? 2 : 1) * ten).toPrecision(1));
    const known = Number(all[0].pane.element.dataset.pxPerMm) > 0;
    const mm = inch ? "in" : "mm";
    const name = { subject: known ? `${mm} on the subject` : "px of 1", frame: "% of the frame", pixels: "px", film: `${mm} on film` }[size];
    return { units: inch ? length * MM_PER_INCH : length, text: `${length} ${name}` };
  }

  /** The scale bar, of one length in all panes. @param {CanvasRenderingContext2D} c @param {One} one */
  function bar(c, one) {
    const narrowest = Math.min(...all.map(({ pane }) => pane.size[0]));
    const { units, text } = round(Math.min(narrowest / 3, 200) / view.scale);
    const [x, y, length] = [16, one.pane.size[1] - 18, units * view.scale];
    c.fillStyle = "#000";
    c.fillRect(x - 1.5, y - 4.5, length + 3, 8);
    c.fillStyle = "#fff";
    c.fillRect(x, y - 3, length, 5);
    write(c, text, x, y - 12);
  }

  let told = "";
  function tell() {
    const shares = all.map(({ pane }) => `${Math.round(pane.scale * devicePixelRatio * 1000) / 10} %`);
    const set = all.reduce((sum, { points }) => sum + points.length, 0);
    const details = tool === "two" ? "detail A, then detail B," : "the same detail";
    const words = waiting()
      ? `Click ${details} in each picture (Enter takes the middle). ${set} of ${waiting() * all.length} set.`
      : "Pixels shown at " + shares.join(", ");
    // A text that stays costs a layout when it is written again.
    if (words !== told) where.textContent = told = words;
  }

  // --- kept in this browser: what was moved apart ------------------------------------------------------------------------

  const key = "side:" + side.dataset.key;

  function remember() {
    try { localStorage.setItem(key, JSON.stringify(all.map(({ anchor }) => anchor))); } catch { /* it costs only the memory */ }
  }

  function recall() {
    /** @type {unknown} */
    const kept = JSON.parse(localStorage.getItem(key) ?? "null");
    if (!Array.isArray(kept) || kept.length !== all.length || !kept.flat().every(Number.isFinite)) return;
    all.forEach((one, i) => { one.anchor = [kept[i][0], kept[i][1]]; });
  }

  // --- waking up ---------------------------------------------------------------------------------------------------------

  function radios(/** @type {string} */ name) {
    return /** @type {NodeListOf<HTMLInputElement>} */ (side.querySelectorAll(`input[name=${name}]`));
  }

  /** Another size, with the first picture left as it is. @param {string} word */
  function resize(word) {
    const [first] = all;
    const [x, y, scale] = [first.pane.x, first.pane.y, first.pane.scale];
    size = word;
    const u = unit(first);
    Object.assign(view, { x: (x - first.anchor[0]) / u, y: (y - first.anchor[1]) / u, scale: scale * u });
    for (const radio of radios("size")) radio.checked = radio.value === word;
    if (whole) fit();
    apply();
  }

  for (const one of all) {
    const { pane } = one;
    pane.overlay = (c) => overlay(c, one);
    pane.underlay = () => dropStill(pane);
    pane.onWish = (wish) => follow(one, wish);
    pane.onHover = (x, y) => {
      hover = { one, at: [x, y] };
      loupe.hover(one, [x, y]);
      redraw();
    };
    pane.onLeave = () => { hover = null; redraw(); };
    pane.onClick = (x, y) => point(one, [x, y]);
    pane.onResize = () => { if (whole) fit(); apply(); };
    pane.onKey = (event) => {
      if (event.key === "Enter" && tool !== "move") point(one, [pane.x, pane.y]);
      else return loupe.key(event, one) || over.key(event.key);
      return true;
    };
    pane.element.addEventListener("focus", () => pane.draw());
    pane.element.addEventListener("blur", () => pane.draw());
  }
  for (const radio of radios("size")) radio.addEventListener("change", () => resize(radio.value));
  for (const radio of radios("tool")) radio.addEventListener("change", () => choose(radio.value));
  for (const button of side.querySelectorAll("[data-wish]")) {
    button.addEventListener("click", () => follow(all[0], buttonWish(/** @type {HTMLElement} */ (button).dataset.wish)));
  }
  side.querySelector("[data-sharpest]")?.addEventListener("click", toSharpest);
  side.querySelector("[data-undo]")?.addEventListener("click", () => {
    for (const one of all) one.anchor = one.home;
    localStorage.removeItem(key);
    fit();
    apply();
  });
  const over = wakeOver(side, all.map(({ pane }) => pane.element));
  const loupe = wakeLoupe(side, all, {
    same: (spot, one) => inPicture(one, common(spot.one, spot.at)),
    picking: () => tool !== "move",
    show(word, perUnit) {
      resize(word);
      whole = false;
      view.scale = perUnit;
      apply();
    },
  });
  // A reload may bring back a choice that no event tells of.
  size = side.hasAttribute("data-scaled") ? "subject" : "pixels";
  for (const radio of radios("size")) radio.checked = radio.value === size;
  recall();
  choose("move");
  fit();
  apply();
}

/** The still picture goes once the whole is painted. @param {Pane} pane */
function dropStill(pane) {
  if (!pane.tiles.get(`${pane.levels.levels - 1}/0_0`)) return;
  pane.element.querySelector(".still")?.remove();
  pane.underlay = null;
}

/** A pane as the server laid it on the first. @param {HTMLElement} element @returns {One} */
function laidOut(element) {
  const pane = new Pane(element);
  const [a, b, , , mirrored] = (element.dataset.laid ?? "1 0 0 0 0").split(" ").map(Number);
  const scale = Math.hypot(a, b), cos = a / scale, sin = b / scale;
  pane.turn = { cos, sin, mirrored: mirrored === 1 };
  return { pane, scale, cos, sin, mirrored: mirrored === 1, anchor: [0, 0], home: [0, 0], points: [] };
}

/** Where the middle of the first lies in another. @param {One} first @param {One} one @returns {[number, number]} */
function onEach(first, one) {
  const [a, b, ox, oy] = (one.pane.element.dataset.laid ?? "1 0 0 0 0").split(" ").map(Number);
  const [x, y] = [(one.mirrored ? -1 : 1) * first.pane.width / 2, first.pane.height / 2];
  return [ox + a * x - b * y, oy + b * x + a * y];
}

/** @param {One} one @returns {[number, number]} */
function middleOf({ pane }) { return [pane.size[0] / 2, pane.size[1] / 2]; }
