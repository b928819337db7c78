// Scans side by side: one view over all panes. A place is told in common units (mm of the subject, pixels, or hundredths
// of the frame's width), counted from a point of each picture that shows the same detail: its anchor.

import { Viewer as Pane, buttonWish, twice, write } from "./viewer.js";

/** @typedef {{pane: Pane, anchor: [number, number], point: [number, number] | null}} One anchor and point in picture pixels */

const MM_PER_INCH = 25.4;

const side = /** @type {HTMLElement | null} */ (document.querySelector(".side"));
if (side) start(side);

/** @param {HTMLElement} side */
function start(side) {
  const tools = /** @type {HTMLElement} */ (side.querySelector(".tools"));
  const where = /** @type {HTMLOutputElement} */ (tools.querySelector(".where"));
  tools.hidden = false;
  /** @type {One[]} */
  const all = [...side.querySelectorAll(".pane")].map((element) => {
    const pane = new Pane(/** @type {HTMLElement} */ (element));
    return { pane, anchor: middle(pane), point: null };
  });
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
  function unit({ pane }) {
    if (size === "subject") return Number(pane.element.dataset.pxPerMm);
    return size === "frame" ? pane.width / 100 : 1;
  }

  /** Frame edges of all pictures in common units. */
  function extent() {
    const ends = all.map((one) => {
      const u = unit(one), [ax, ay] = one.anchor;
      return [-ax / u, -ay / u, (one.pane.width - ax) / u, (one.pane.height - ay) / u];
    });
    const pick = (/** @type {number} */ i, /** @type {(...n: number[]) => number} */ of) => of(...ends.map((e) => e[i]));
    return { left: pick(0, Math.min), top: pick(1, Math.min), right: pick(2, Math.max), bottom: pick(3, Math.max) };
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
      const u = unit(one);
      one.pane.x = one.anchor[0] + view.x * u;
      one.pane.y = one.anchor[1] + view.y * u;
      one.pane.scale = view.scale / u;
      one.pane.draw();
    }
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
    const at = wish.at ?? /** @type {[number, number]} */ ([one.pane.size[0] / 2, one.pane.size[1] / 2]);
    if (wish.fit) fit(); else whole = false;
    if (wish.one) zoomTo(unit(one) / devicePixelRatio, one, at);
    if (wish.zoom) zoomTo(view.scale * wish.zoom, one, at);
    if (wish.pan && (wish.alone || tool === "line-up")) {
      one.anchor = [one.anchor[0] - wish.pan[0] / one.pane.scale, one.anchor[1] - wish.pan[1] / one.pane.scale];
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

  // --- lining up and marking ---------------------------------------------------------------------------------------------

  /** @param {One} one @param {[number, number]} at */
  function point(one, at) {
    if (tool === "mark") mark = { one, at };
    if (tool !== "line-up") return redraw();
    one.point = at;
    if (all.every((each) => each.point)) return lineUp();
    redraw();
    tell();
  }

  function lineUp() {
    for (const one of all) {
      one.anchor = one.point ?? one.anchor;
      one.point = null;
    }
    [view.x, view.y, whole] = [0, 0, false];
    remember();
    choose("move");
    apply();
    where.textContent = "Lined up: the same detail is in the middle of each.";
  }

  /** @param {string} word */
  function choose(word) {
    tool = word;
    for (const one of all) {
      one.pane.element.dataset.tool = word;
      one.point = null;
    }
    for (const radio of radios("tool")) radio.checked = radio.value === word;
    redraw();
    tell();
  }

  // --- what is drawn over the pictures -----------------------------------------------------------------------------------

  /** A place of one picture as it lies in another pane. @param {One} from @param {[number, number]} at @param {One} one */
  function same(from, at, one) {
    const k = unit(one) / unit(from);
    return one.pane.toScreen(one.anchor[0] + (at[0] - from.anchor[0]) * k, one.anchor[1] + (at[1] - from.anchor[1]) * k);
  }

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
    if (one.point) cross(c, one.pane.toScreen(...one.point), 0, 16);
    else if (tool === "line-up" && document.activeElement === one.pane.element) {
      cross(c, /** @type {[number, number]} */ ([one.pane.size[0] / 2, one.pane.size[1] / 2]), 3, 12);
    }
    bar(c, one);
  }

  /** The largest round length of at most this many common units, with its name. @param {number} units */
  function round(units) {
    const inch = size === "subject" && side.dataset.unit === "in";
    const most = inch ? units / MM_PER_INCH : units;
    const ten = 10 ** Math.floor(Math.log10(most));
    const length = Number(((most >= 5 * ten ? 5 : most >= 2 * ten ? 2 : 1) * ten).toPrecision(1));
    const name = { subject: inch ? "in" : "mm", frame: "% of the frame", pixels: "px" }[size];
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
    write(c, size === "subject" ? `${text} on the subject` : text, x, y - 12);
  }

  function tell() {
    if (tool === "line-up") {
      const set = all.filter(({ point }) => point).length;
      where.textContent = `Click the same detail in each picture (Enter takes the middle); dragging moves one alone. ${set} of ${all.length} set.`;
      return;
    }
    const shares = all.map(({ pane }) => `${Math.round(pane.scale * devicePixelRatio * 1000) / 10} %`);
    where.textContent = "Pixels shown at " + shares.join(", ");
  }

  // --- kept in this browser: how these scans were lined up ---------------------------------------------------------------

  const key = "side:" + all.map(({ pane }) => pane.element.dataset.scan).join(",");

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
    return /** @type {NodeListOf<HTMLInputElement>} */ (tools.querySelectorAll(`input[name=${name}]`));
  }

  /** Another size, with the first picture left as it is. @param {string} word */
  function resize(word) {
    const [first] = all;
    const [x, y, scale] = [first.pane.x, first.pane.y, first.pane.scale];
    size = word;
    const u = unit(first);
    Object.assign(view, { x: (x - first.anchor[0]) / u, y: (y - first.anchor[1]) / u, scale: scale * u });
    if (whole) fit();
    apply();
  }

  for (const one of all) {
    const { pane } = one;
    pane.overlay = (c) => overlay(c, one);
    pane.onWish = (wish) => follow(one, wish);
    pane.onHover = (x, y) => { hover = { one, at: [x, y] }; redraw(); };
    pane.onLeave = () => { hover = null; redraw(); };
    pane.onClick = (x, y) => point(one, [x, y]);
    pane.onResize = () => { if (whole) fit(); apply(); };
    pane.onKey = (event) => {
      if (event.key !== "Enter" || tool === "move") return false;
      point(one, [pane.x, pane.y]);
      return true;
    };
    pane.element.addEventListener("focus", () => pane.draw());
    pane.element.addEventListener("blur", () => pane.draw());
  }
  for (const radio of radios("size")) radio.addEventListener("change", () => resize(radio.value));
  for (const radio of radios("tool")) radio.addEventListener("change", () => choose(radio.value));
  for (const button of tools.querySelectorAll("[data-wish]")) {
    button.addEventListener("click", () => follow(all[0], buttonWish(/** @type {HTMLElement} */ (button).dataset.wish)));
  }
  tools.querySelector("[data-undo]")?.addEventListener("click", () => {
    for (const one of all) one.anchor = middle(one.pane);
    localStorage.removeItem(key);
    fit();
    apply();
  });
  // A reload may bring back a choice that no event tells of.
  size = side.hasAttribute("data-scaled") ? "subject" : "pixels";
  for (const radio of radios("size")) radio.checked = radio.value === size;
  recall();
  choose("move");
  fit();
  apply();
}

/** @param {Pane} pane @returns {[number, number]} */
function middle(pane) { return [pane.width / 2, pane.height / 2]; }
