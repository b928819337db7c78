// The page of one scan: pane, region and ruler tools in step with the number fields, forms that answer without a reload.

import { wake, dropAccepted } from "./sheet.js";
import { Pane, buttonWish } from "./tiles.js";

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

  /** @param {CanvasRenderingContext2D} c @param {() => void} path */
  function twice(c, path) {
    for (const [colour, width] of /** @type {[string, number][]} */ ([["#000", 3], ["#fff", 1.2]])) {
      c.strokeStyle = colour;
      c.lineWidth = width;
      c.beginPath();
      path();
      c.stroke();
    }
  }

  /** @param {CanvasRenderingContext2D} c @param {{x: number, y: number, width: number, height: number}} r */
  function box(c, r) {
    const [sx, sy] = pane.toScreen(r.x, r.y);
    twice(c, () => c.rect(sx, sy, r.width * pane.scale, r.height * pane.scale));
    return [sx, sy];
  }

  /** @param {CanvasRenderingContext2D} c @param {number[][]} points */
  function line(c, points) {
    twice(c, () => points.forEach(([x, y], i) => i ? c.lineTo(...pane.toScreen(x, y)) : c.moveTo(...pane.toScreen(x, y))));
  }

  pane.overlay = (c) => {
    c.font = "600 13px sans-serif";
    for (const mark of marks()) {
      c.setLineDash([5, 4]);
      if (mark.kind === "edge") box(c, mark.place);
      c.setLineDash([]);
      if (mark.trace.length) line(c, mark.trace);
      if (mark.kind === "scale") line(c, [[mark.place.x1, mark.place.y1], [mark.place.x2, mark.place.y2]]);
    }
    const r = region();
    if ([r.x, r.y, r.width, r.height].every(Number.isFinite)) box(c, r);
    const l = ruler();
    if (Object.values(l).every(Number.isFinite)) {
      line(c, [[l.x1, l.y1], [l.x2, l.y2]]);
      for (const [x, y] of [[l.x1, l.y1], [l.x2, l.y2]]) {
        const [sx, sy] = pane.toScreen(x, y);
        twice(c, () => c.arc(sx, sy, 6, 0, 7));
      }
    }
  };

  /** @typedef {{id: number, kind: string, place: any, trace: number[][]}} KeptMark @returns {KeptMark[]} */
  function marks() {
    return JSON.parse(document.getElementById("work")?.dataset.marks ?? "[]");
  }

  // --- tools -----------------------------------------------------------------------------------------------------------

  const inside = (/** @type {number} */ v, /** @type {number} */ end) => Math.min(Math.max(v, 0), end);

  /** @returns {import("./tiles.js").Tool} */
  function regionTool() {
    let x0 = 0, y0 = 0;
    return {
      down(x, y) { x0 = inside(x, pane.width); y0 = inside(y, pane.height); return true; },
      move(x, y) {
        const [x1, y1] = [inside(x, pane.width), inside(y, pane.height)];
        const left = Math.floor(Math.min(x0, x1)), top = Math.floor(Math.min(y0, y1));
        put("edge_x", left);
        put("edge_y", top);
        put("edge_width", Math.max(1, Math.ceil(Math.max(x0, x1)) - left));
        put("edge_height", Math.max(1, Math.ceil(Math.max(y0, y1)) - top));
        pane.draw();
      },
      up() {},
    };
  }

  /** @returns {import("./tiles.js").Tool} */
  function rulerTool() {
    const tenth = (/** @type {number} */ v) => Math.round(v * 10) / 10;
    return {
      down(x, y) {
        put("ruler_x1", tenth(inside(x, pane.width)));
        put("ruler_y1", tenth(inside(y, pane.height)));
        return true;
      },
      move(x, y) {
        put("ruler_x2", tenth(inside(x, pane.width)));
        put("ruler_y2", tenth(inside(y, pane.height)));
        pane.draw();
      },
      up() {},
    };
  }

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
      show(fresh, response);
    } catch {
      sayLost(form);
    } finally {
      if (button) button.disabled = false;
      element.removeAttribute("aria-busy");
    }
  }

  /** @param {HTMLElement} fresh @param {Response} response */
  function show(fresh, response) {
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
