// The page of one scan: pane, region and ruler tools in step with the number fields, forms that answer without a reload.

import { wake, dropAccepted } from "./sheet.js";
import { Pane, buttonWish, keyWish, twice, write } from "./tiles.js";

const element = /** @type {HTMLElement | null} */ (document.querySelector(".pane.single"));
if (element) start(element);

/** @param {HTMLElement} element */
function start(element) {
  const pane = new Pane(element);
  const tools = /** @type {HTMLElement} */ (document.querySelector(".tools"));
  tools.hidden = false;
  const where = /** @type {HTMLOutputElement} */ (tools.querySelector(".where"));

  const field = (/** @type {string} */ name) => /** @type {HTMLInputElement | null} */ (document.getElementById("field-" + name));
  const value = (/** @type {string} */ name) => {
    const text = field(name)?.value.trim().replace(",", ".") ?? "";
    return text === "" ? NaN : Number(text);
  };
  const put = (/** @type {string} */ name, /** @type {number} */ number) => {
    const input = field(name);
    if (input) { input.value = String(number); input.dispatchEvent(new Event("input", { bubbles: true })); }
  };

  const region = () => ({ x: value("edge_x"), y: value("edge_y"), width: value("edge_width"), height: value("edge_height") });
  const ruler = () => ({ x1: value("ruler_x1"), y1: value("ruler_y1"), x2: value("ruler_x2"), y2: value("ruler_y2") });

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
    for (const mark of marks()) {
      c.setLineDash([5, 4]);
      if (mark.kind === "edge") {
        const [sx, sy] = box(c, mark.place);
        c.setLineDash([]);
        if (mark.label) write(c, mark.label, sx, sy - 6);
      }
      c.setLineDash([]);
      if (mark.trace.length) line(c, mark.trace);
      if (mark.kind === "scale") line(c, [[mark.place.x1, mark.place.y1], [mark.place.x2, mark.place.y2]]);
    }
    const r = region();
    if (drawn(r)) {
      const [sx, sy] = box(c, r);
      if (element.dataset.tool === "region") corners(c, sx, sy, r.width * pane.scale, r.height * pane.scale);
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

  /** @typedef {{id: number, kind: string, label: string, place: any, trace: number[][]}} KeptMark @returns {KeptMark[]} */
  function marks() {
    return JSON.parse(document.getElementById("work")?.dataset.marks ?? "[]");
  }

  // --- tools -----------------------------------------------------------------------------------------------------------

  const inside = (/** @type {number} */ v, /** @type {number} */ end) => Math.min(Math.max(v, 0), end);

  /** @typedef {{x: number, y: number, width: number, height: number}} Box @typedef {{x1: number, y1: number, x2: number, y2: number}} Line */

  const drawn = (/** @type {object} */ place) => Object.values(place).every(Number.isFinite);
  const tenth = (/** @type {number} */ v) => Math.round(v * 10) / 10;

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

  /** Draws a region anew, pulls one of its corners, or moves it. @returns {import("./tiles.js").Tool} */
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

  /** Draws a line anew, or pulls one of its ends. @returns {import("./tiles.js").Tool} */
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

  // Keys do what the pointer does: Enter puts a region or a line into the middle of what is shown, Shift with an arrow moves it.
  pane.onKey = (event) => {
    const chosen = element.dataset.tool;
    if (chosen !== "region" && chosen !== "ruler") return false;
    if (event.key === "Enter") { putMiddle(chosen); return true; }
    const pan = event.shiftKey ? keyWish(event.key)?.pan : undefined;
    if (!pan) return false;
    const [dx, dy] = pan.map((v) => -Math.sign(v) * Math.max(1, Math.round(4 / pane.scale)));
    if (chosen === "region" && drawn(region())) moveRegion(region(), dx, dy);
    const l = ruler();
    if (chosen === "ruler" && drawn(l)) putRuler({ x1: l.x1 + dx, y1: l.y1 + dy, x2: l.x2 + dx, y2: l.y2 + dy });
    return true;
  };

  /** @param {string} chosen */
  function putMiddle(chosen) {
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

  for (const radio of tools.querySelectorAll("input[name=tool]")) {
    radio.addEventListener("change", () => {
      const chosen = /** @type {HTMLInputElement} */ (radio).value;
      pane.tool = chosen === "region" ? regionTool() : chosen === "ruler" ? rulerTool() : null;
      element.dataset.tool = chosen;
    });
    // A reload may bring back a choice that no event tells of.
    /** @type {HTMLInputElement} */ (radio).checked = /** @type {HTMLInputElement} */ (radio).value === "move";
  }
  for (const button of tools.querySelectorAll("[data-wish]")) {
    button.addEventListener("click", () => pane.onWish(buttonWish(/** @type {HTMLElement} */ (button).dataset.wish)));
  }
  document.addEventListener("input", (event) => {
    if (/** @type {Element} */ (event.target).id?.startsWith("field-")) pane.draw();
  });
  document.addEventListener("restored", () => pane.draw(), true);

  /** @param {number} [x] @param {number} [y] */
  function tell(x, y) {
    const zoom = `${Math.round(pane.scale * devicePixelRatio * 1000) / 10} %`;
    where.textContent = x === undefined || y === undefined ? zoom : `${zoom}, at ${Math.floor(x)}, ${Math.floor(y)} px`;
  }
  pane.onHover = tell;
  pane.onWish = (wish) => { pane.follow(wish); tell(); };
  tell();

  // --- forms that answer without a reload, so that the view stays -------------------------------------------------------

  document.addEventListener("submit", (event) => {
    const form = /** @type {HTMLFormElement} */ (event.target);
    if (!form.matches("form.live") || event.defaultPrevented) return;
    event.preventDefault();
    answer(form);
  });

  /** @param {HTMLFormElement} form */
  async function answer(form) {
    const button = /** @type {HTMLButtonElement | null} */ (form.querySelector(".actions button"));
    if (button) button.disabled = true;
    element.setAttribute("aria-busy", "true");
    try {
      const body = new URLSearchParams(/** @type {any} */ (new FormData(form)));
      const response = await fetch(form.action, { method: "POST", body });
      const page = new DOMParser().parseFromString(await response.text(), "text/html");
      const fresh = page.getElementById("work");
      if (!fresh) return document.documentElement.replaceChildren(...page.documentElement.children);
      show(page, fresh, response);
    } catch {
      sayLost(form);
    } finally {
      if (button) button.disabled = false;
      element.removeAttribute("aria-busy");
    }
  }

  /** @param {Document} page @param {HTMLElement} fresh @param {Response} response */
  function show(page, fresh, response) {
    const about = page.getElementById("about");
    if (about) document.getElementById("about")?.replaceWith(document.adoptNode(about));
    document.getElementById("work")?.replaceWith(document.adoptNode(fresh));
    if (response.ok) {
      dropAccepted();
      const url = new URL(response.url);
      history.replaceState(null, "", url.pathname + url.search);
    }
    wake(fresh);
    pane.draw();
    const result = response.ok ? fresh.querySelector("details.measurement[open] summary") : null;
    if (result && new URL(response.url).searchParams.has("shown")) {
      /** @type {HTMLElement} */ (result).focus();
      result.scrollIntoView({ block: "nearest" });
    }
  }

  /** @param {HTMLFormElement} form */
  function sayLost(form) {
    form.querySelector("p.lost")?.remove();
    const p = document.createElement("p");
    p.className = "lost refusal";
    p.setAttribute("role", "alert");
    p.textContent = "Closework does not answer; is it still running? What you typed is kept. Send it again when it runs.";
    form.prepend(p);
  }
}
