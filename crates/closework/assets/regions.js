// What is drawn over a scan: the places of measurements, and the region and the line that a person draws, moves and pulls
// by pointer or keys, in step with the number fields of the forms.

import { keyWish, twice, write } from "./viewer.js";

/** @typedef {{x: number, y: number, width: number, height: number}} Box @typedef {{x1: number, y1: number, x2: number, y2: number}} Line */
/** @typedef {{id: number, kind: string, label: string, place: any, trace: number[][]}} KeptMark kind: edge, scale, or found: proposed and not yet measured */

const inside = (/** @type {number} */ v, /** @type {number} */ end) => Math.min(Math.max(v, 0), end);
const drawn = (/** @type {object} */ place) => Object.values(place).every(Number.isFinite);
const tenth = (/** @type {number} */ v) => Math.round(v * 10) / 10;

const field = (/** @type {string} */ name) => /** @type {HTMLInputElement | null} */ (document.getElementById("field-" + name));

/** @param {string} name */
function value(name) {
  const text = field(name)?.value.trim().replace(",", ".") ?? "";
  return text === "" ? NaN : Number(text);
}

/** @param {string} name @param {number} number */
function put(name, number) {
  const input = field(name);
  if (input) { input.value = String(number); input.dispatchEvent(new Event("input", { bubbles: true })); }
}

/** @returns {Box} */
const region = () => ({ x: value("edge_x"), y: value("edge_y"), width: value("edge_width"), height: value("edge_height") });
/** @returns {Line} */
const ruler = () => ({ x1: value("ruler_x1"), y1: value("ruler_y1"), x2: value("ruler_x2"), y2: value("ruler_y2") });

/** Ties a viewer to the fields. @param {import("./viewer.js").Viewer} pane @returns {{choose(tool: string): void}} */
export function regions(pane) {
  const element = pane.element;
  let chosen = "move";
  /** Parsed once for each answer of the server, not for each frame. @type {{text: string | undefined, all: KeptMark[]}} */
  let kept = { text: undefined, all: [] };

  function keptMarks() {
    const text = document.getElementById("work")?.dataset.marks;
    if (kept.text !== text) kept = { text, all: JSON.parse(text ?? "[]") };
    return kept.all;
  }

  // --- what is drawn over the picture: black and white lines, to be seen on any ground ---------------------------------

  /** @param {CanvasRenderingContext2D} c @param {{x: number, y: number, width: number, height: number}} r */
  function box(c, r) {
    const [sx, sy] = pane.toScreen(r.x, r.y);
    twice(c, () => c.rect(sx, sy, r.width * pane.scale, r.height * pane.scale));
    return [sx, sy];
  }

  /** The handles of a region that can be pulled. @param {CanvasRenderingContext2D} c @param {number} x @param {number} y @param {number} w @param {number} h */
  function corners(c, x, y, w, h) {
    c.fillStyle = "#fff";
    for (const [cx, cy] of [[x, y], [x + w, y], [x, y + h], [x + w, y + h]]) twice(c, () => { c.rect(cx - 4, cy - 4, 8, 8); c.fill(); });
  }

  /** @param {CanvasRenderingContext2D} c @param {number[][]} points */
  function line(c, points) {
    twice(c, () => points.forEach(([x, y], i) => i ? c.lineTo(...pane.toScreen(x, y)) : c.moveTo(...pane.toScreen(x, y))));
  }

  pane.overlay = (c) => {
    for (const mark of keptMarks()) {
      c.setLineDash(mark.kind === "found" ? [1, 3] : [5, 4]);
      if (mark.kind !== "scale") {
        const [sx, sy] = box(c, mark.place);
        c.setLineDash([]);
        if (mark.label) write(c, mark.label, sx, sy - 6);
      }
      c.setLineDash([]);
      if (mark.trace?.length) line(c, mark.trace);
      if (mark.kind === "scale") line(c, [[mark.place.x1, mark.place.y1], [mark.place.x2, mark.place.y2]]);
    }
    const r = region();
    if (drawn(r)) {
      const [sx, sy] = box(c, r);
      if (chosen === "region") corners(c, sx, sy, r.width * pane.scale, r.height * pane.scale);
    }
    const l = ruler();
    if (Object.values(l).every(Number.isFinite)) {
      line(c, [[l.x1, l.y1], [l.x2, l.y2]]);
      for (const [x, y] of [[l.x1, l.y1], [l.x2, l.y2]]) {
        const [sx, sy] = pane.toScreen(x, y);
        twice(c, () => c.arc(sx, sy, 6, 0, 7));
      }
    }
  };

  /** Whole pixels within the picture, at least one. @param {number} xa @param {number} ya @param {number} xb @param {number} yb */
  function putRegion(xa, ya, xb, yb) {
    const side = (/** @type {number} */ a, /** @type {number} */ b, /** @type {number} */ end) => {
      const first = Math.floor(inside(Math.min(a, b), end - 1)), last = Math.ceil(inside(Math.max(a, b), end));
      return [first, Math.max(1, last - first)];
    };
    const [x, width] = side(xa, xb, pane.width), [y, height] = side(ya, yb, pane.height);
    put("edge_x", x); put("edge_y", y); put("edge_width", width); put("edge_height", height);
    pane.draw();
  }

  /** @param {Line} l */
  function putRuler(l) {
    for (const [name, end] of /** @type {["x1" | "y1" | "x2" | "y2", number][]} */ ([["x1", pane.width], ["y1", pane.height], ["x2", pane.width], ["y2", pane.height]])) {
      put("ruler_" + name, tenth(inside(l[name], end)));
    }
    pane.draw();
  }

  /** Moves a box within the picture without changing its size. @param {Box} r @param {number} dx @param {number} dy */
  function moveRegion(r, dx, dy) {
    const x = inside(Math.round(r.x + dx), pane.width - r.width), y = inside(Math.round(r.y + dy), pane.height - r.height);
    putRegion(x, y, x + r.width, y + r.height);
  }

  /** How near counts as on a corner or an end, in picture pixels: more for a finger than for a mouse, less where the
   * whole is small, so that a new one can be drawn beside it. @param {number} side */
  function reach(side) {
    const finger = matchMedia("(pointer: coarse)").matches ? 22 : 11;
    return Math.min(finger, Math.max(5, 0.35 * side * pane.scale)) / pane.scale;
  }

  /** Draws a region anew, pulls one of its corners, or moves it. @returns {import("./viewer.js").Tool} */
  function regionTool() {
    let from = [0, 0];
    /** @type {Box | null} */
    let moved = null;
    return {
      down(x, y) {
        const r = region();
        const [right, bottom] = [r.x + r.width, r.y + r.height];
        const far = (/** @type {number[]} */ [cx, cy]) => Math.hypot(x - cx, y - cy);
        // Each corner with the one across, which stays where it is.
        const corners = [[r.x, r.y, right, bottom], [right, r.y, r.x, bottom], [r.x, bottom, right, r.y], [right, bottom, r.x, r.y]];
        const nearest = corners.sort((a, b) => far(a) - far(b))[0];
        const corner = drawn(r) && far(nearest) < reach(Math.min(r.width, r.height)) ? nearest : null;
        moved = drawn(r) && !corner && x > r.x && x < right && y > r.y && y < bottom ? r : null;
        from = corner ? [corner[2], corner[3]] : [x, y];
        return true;
      },
      move(x, y) {
        if (moved) moveRegion(moved, x - from[0], y - from[1]);
        else putRegion(from[0], from[1], x, y);
      },
      up() {},
    };
  }

  /** Draws a line anew, or pulls one of its ends. @returns {import("./viewer.js").Tool} */
  function rulerTool() {
    let from = [0, 0];
    return {
      down(x, y) {
        const l = ruler();
        const long = Math.hypot(l.x2 - l.x1, l.y2 - l.y1);
        const near = (/** @type {number} */ ex, /** @type {number} */ ey) => Math.hypot(x - ex, y - ey) < reach(long);
        if (drawn(l) && near(l.x1, l.y1)) from = [l.x2, l.y2];
        else if (drawn(l) && near(l.x2, l.y2)) from = [l.x1, l.y1];
        else from = [x, y];
        return true;
      },
      move(x, y) { putRuler({ x1: from[0], y1: from[1], x2: x, y2: y }); },
      up() {},
    };
  }

  // Keys do what the pointer does: Enter puts a region or a line into the middle of what is shown, Shift with an arrow moves
  // it, Control with an arrow pulls its lower right corner, or the line's second end.
  pane.onKey = (event) => {
    if (chosen !== "region" && chosen !== "ruler") return false;
    if (event.key === "Enter") { putMiddle(); return true; }
    const pan = event.shiftKey || event.ctrlKey ? keyWish(event.key)?.pan : undefined;
    if (!pan) return false;
    const [dx, dy] = pan.map((v) => -Math.sign(v) * Math.max(1, Math.round(4 / pane.scale)));
    const [r, l] = [region(), ruler()];
    const [x0, y0] = event.ctrlKey ? [0, 0] : [dx, dy];
    if (chosen === "ruler" && drawn(l)) putRuler({ x1: l.x1 + x0, y1: l.y1 + y0, x2: l.x2 + dx, y2: l.y2 + dy });
    if (chosen === "region" && drawn(r)) {
      if (event.ctrlKey) putRegion(r.x, r.y, Math.max(r.x + 1, r.x + r.width + dx), Math.max(r.y + 1, r.y + r.height + dy));
      else moveRegion(r, dx, dy);
    }
    return true;
  };

  function putMiddle() {
    const [w, h] = pane.size.map((v) => v / pane.scale / 8);
    if (chosen === "region") putRegion(pane.x - w, pane.y - h, pane.x + w, pane.y + h);
    else putRuler({ x1: pane.x - 2 * w, y1: pane.y, x2: pane.x + 2 * w, y2: pane.y });
  }

  // In the number fields, up and down change the number by 1 pixel, with Shift by 10; the drawing follows.
  document.addEventListener("keydown", (event) => {
    const input = /** @type {HTMLInputElement} */ (event.target);
    const step = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (!step || !/^field-(edge_(x|y|width|height)|ruler_[xy][12])$/.test(input.id)) return;
    const now = Number(input.value.replace(",", "."));
    if (!Number.isFinite(now)) return;
    event.preventDefault();
    put(input.id.slice("field-".length), tenth(Math.max(0, now + step * (event.shiftKey ? 10 : 1))));
  });

  return {
    choose(tool) {
      chosen = tool;
      pane.tool = tool === "region" ? regionTool() : tool === "ruler" ? rulerTool() : null;
      element.dataset.tool = tool;
      pane.draw();
    },
  };
}
