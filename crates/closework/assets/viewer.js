// A pane that shows a tiled picture as through a loupe: moved by pointer, wheel, pinch and keys. What a person does to it
// is a "wish", so that several panes can be made to follow one: `onWish` stands in for following it, `setView` and
// `onview` tie views together. Nothing moves by itself, so there is no motion to be reduced.

import { Levels, iiifTiles, keyOf } from "./tiles.js";

/**
 * @typedef {{x: number, y: number, scale: number}} View
 * place of the picture, in its pixels, at the pane's middle; CSS pixels for one pixel of the picture
 * @typedef {{pan?: [number, number], zoom?: number, at?: [number, number], fit?: boolean, one?: boolean, alone?: boolean}} Wish
 * pan in CSS pixels; zoom a factor about the place at (CSS pixels in the pane); alone: Shift was held
 * @typedef {{down(x: number, y: number): boolean, move(x: number, y: number): void, up(): void}} Tool
 * places in picture pixels; down answers whether the tool takes the pointer
 */

const STEP = 80;
/** A pointer that moved less, in CSS pixels, has clicked. */
const CLICK = 5;
const ZOOM_STEP = 1.25;
/** CSS pixels for one pixel of the picture, at most. */
const MOST = 32;

export class Viewer {
  #drawing = false;
  #told = "";

  /** @param {HTMLElement} element with what the server wrote of the picture in its data- attributes */
  constructor(element) {
    this.element = element;
    this.canvas = /** @type {HTMLCanvasElement} */ (element.querySelector("canvas"));
    this.context = /** @type {CanvasRenderingContext2D} */ (this.canvas.getContext("2d"));
    const number = (/** @type {string} */ name) => Number(element.dataset[name]);
    this.width = number("width");
    this.height = number("height");
    this.levels = new Levels(this.width, this.height, number("tile"), number("levels"));
    this.tiles = iiifTiles(element.dataset.pictures ?? "", element.dataset.version ?? "", this.levels, () => this.draw());
    this.x = this.width / 2;
    this.y = this.height / 2;
    this.scale = 1;
    /** How the picture is turned back on the screen, cosine and sine, and whether left and right are exchanged then. */
    this.turn = { cos: 1, sin: 0, mirrored: false };
    /** CSS pixels of the pane; kept, because asking for them costs a layout. @type {[number, number]} */
    this.size = [element.clientWidth, element.clientHeight];
    this.ratio = devicePixelRatio;
    /** Drawn between picture and overlay, in device pixels. @type {((context: CanvasRenderingContext2D, viewer: Viewer) => void) | null} */
    this.underlay = null;
    /** Drawn over the picture, in CSS pixels. @type {((context: CanvasRenderingContext2D, viewer: Viewer) => void) | null} */
    this.overlay = null;
    /** @type {(wish: Wish) => void} */
    this.onWish = (wish) => this.follow(wish);
    /** Hears of every view that is shown and was not just set by {@link setView}. @type {((view: View) => void) | null} */
    this.onview = null;
    /** Where the pointer is, in picture pixels. @type {((x: number, y: number) => void) | null} */
    this.onHover = null;
    /** @type {(() => void) | null} */
    this.onLeave = null;
    /** A click, in picture pixels. @type {((x: number, y: number) => void) | null} */
    this.onClick = null;
    /** Keys beyond those that move; answers whether it took the key. @type {((event: KeyboardEvent) => boolean) | null} */
    this.onKey = null;
    /** Stands in for the pane's own way of keeping its place when its size changes. @type {(() => void) | null} */
    this.onResize = null;
    /** @type {Tool | null} */
    this.tool = null;
    this.#listen();
    this.fit();
    new ResizeObserver(() => this.#resize()).observe(element);
  }

  // --- the view ----------------------------------------------------------------------------------------------------------

  /** The scale at which the whole picture fits. */
  get fitScale() { return Math.min(this.size[0] / this.width, this.size[1] / this.height) || 1; }

  /** @returns {View} */
  get view() { return { x: this.x, y: this.y, scale: this.scale }; }

  /** Shows a view without telling {@link onview} of it. The place may lie beyond the picture: tied to another, it follows.
   * @param {Partial<View>} view */
  setView({ x = this.x, y = this.y, scale = this.scale }) {
    [this.x, this.y, this.scale] = [x, y, scale];
    this.#told = this.#name();
    this.draw();
  }

  fit() {
    [this.x, this.y, this.scale] = [this.width / 2, this.height / 2, this.fitScale];
    this.draw();
  }

  /** @param {Wish} wish */
  follow(wish) {
    if (wish.fit) return this.fit();
    const at = wish.at ?? [this.size[0] / 2, this.size[1] / 2];
    if (wish.one) this.zoomTo(1 / this.ratio, at);
    if (wish.zoom) this.zoomTo(this.scale * wish.zoom, at);
    if (wish.pan) { this.x -= wish.pan[0] / this.scale; this.y -= wish.pan[1] / this.scale; }
    this.#hold();
    this.draw();
  }

  /** @param {number} scale @param {[number, number]} at stays where it is */
  zoomTo(scale, at) {
    const [px, py] = this.toPicture(at[0], at[1]);
    this.scale = Math.min(Math.max(scale, this.fitScale / 4), MOST);
    const [sx, sy] = this.toScreen(px, py);
    this.x += (sx - at[0]) / this.scale;
    this.y += (sy - at[1]) / this.scale;
  }

  /** Keeps some of the picture in sight. */
  #hold() {
    this.x = Math.min(Math.max(this.x, 0), this.width);
    this.y = Math.min(Math.max(this.y, 0), this.height);
  }

  /** @param {number} sx @param {number} sy @returns {[number, number]} */
  toPicture(sx, sy) {
    const { cos, sin, mirrored } = this.turn;
    const dx = (sx - this.size[0] / 2) / this.scale * (mirrored ? -1 : 1), dy = (sy - this.size[1] / 2) / this.scale;
    return [this.x + cos * dx - sin * dy, this.y + sin * dx + cos * dy];
  }

  /** @param {number} px @param {number} py @returns {[number, number]} */
  toScreen(px, py) {
    const { cos, sin, mirrored } = this.turn;
    const dx = px - this.x, dy = py - this.y;
    const across = (cos * dx + sin * dy) * (mirrored ? -1 : 1), down = cos * dy - sin * dx;
    return [across * this.scale + this.size[0] / 2, down * this.scale + this.size[1] / 2];
  }

  #name() { return `${this.x} ${this.y} ${this.scale}`; }

  #resize() {
    const fitted = Math.abs(this.scale / this.fitScale - 1) < 1e-6;
    this.size = [this.element.clientWidth, this.element.clientHeight];
    if (this.onResize) this.onResize();
    else if (fitted) this.fit();
    else this.draw();
  }

  // --- drawing -----------------------------------------------------------------------------------------------------------

  draw() {
    if (this.#drawing) return;
    this.#drawing = true;
    requestAnimationFrame(() => { this.#drawing = false; this.#paint(); });
  }

  #paint() {
    const c = this.context, ratio = devicePixelRatio;
    const [w, h] = this.size.map((v) => Math.max(1, Math.round(v * ratio)));
    this.ratio = ratio;
    if (this.canvas.width !== w || this.canvas.height !== h) [this.canvas.width, this.canvas.height] = [w, h];
    c.setTransform(1, 0, 0, 1, 0, 0);
    c.clearRect(0, 0, w, h);
    // Enlarged pixels stay squares: what is judged is the scan, not a smoothing.
    // Turned they cannot be: a row of them would break into steps.
    c.imageSmoothingEnabled = this.scale * ratio < (this.#upright ? 0.999 : 4);
    const level = this.levels.fine(this.scale * ratio);
    const shown = this.levels.meeting(level, this.#sight());
    if (!this.#upright) {
      this.#turnContext();
      // Turned, tiles end within device pixels: a first layer that overlaps lies under the seams of the second.
      for (const tile of shown) this.#paintTile(tile, 1 / (this.scale * ratio));
    }
    for (const tile of shown) this.#paintTile(tile, 0);
    c.setTransform(1, 0, 0, 1, 0, 0);
    this.tiles.want(this.#wanted(level, shown));
    this.underlay?.(c, this);
    c.setTransform(ratio, 0, 0, ratio, 0, 0);
    this.overlay?.(c, this);
    if (this.#told !== this.#name()) {
      this.#told = this.#name();
      this.onview?.(this.view);
    }
  }

  /** What of the picture's plane is in sight. @returns {[number, number, number, number]} */
  #sight() {
    if (this.#upright) return [...this.toPicture(0, 0), ...this.toPicture(...this.size)];
    const [w, h] = this.size;
    const corners = [[0, 0], [w, 0], [0, h], [w, h]].map(([x, y]) => this.toPicture(x, y));
    const [xs, ys] = [corners.map(([x]) => x), corners.map(([, y]) => y)];
    return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
  }

  get #upright() { return this.turn.sin === 0 && this.turn.cos === 1 && !this.turn.mirrored; }

  /** From picture to device pixels: what {@link toScreen} does, as a matrix. */
  #turnContext() {
    const { cos, sin, mirrored } = this.turn;
    const k = this.scale * this.ratio, side = mirrored ? -1 : 1;
    const [left, top] = this.toScreen(0, 0);
    this.context.setTransform(k * cos * side, -k * sin, k * sin * side, k * cos, left * this.ratio, top * this.ratio);
  }

  /** The whole picture at its smallest, then what is in sight, then a ring around it. @param {number} level @param {{level: number, column: number, row: number}[]} shown */
  #wanted(level, shown) {
    const whole = { level: this.levels.levels - 1, column: 0, row: 0 };
    const around = this.levels.meeting(level, this.#sight(), 1);
    return [...new Set([whole, ...shown, ...around].map(keyOf))];
  }

  /** A rectangle of the picture in whole device pixels, so that neighbours meet without a seam.
   * @param {{x: number, y: number, width: number, height: number}} place @returns {[number, number, number, number]} */
  onDevice({ x, y, width, height }) {
    const [left, top] = this.toScreen(x, y).map((v) => Math.round(v * this.ratio));
    const [right, bottom] = this.toScreen(x + width, y + height).map((v) => Math.round(v * this.ratio));
    return [left, top, right - left, bottom - top];
  }

  /** Paints a tile, or until it is here its part of a coarser one; turned, so many picture pixels wider all around.
   * @param {{level: number, column: number, row: number}} tile @param {number} over */
  #paintTile({ level, column, row }, over) {
    const place = this.levels.place(level, column, row);
    for (let up = 0; level + up < this.levels.levels; up++) {
      const above = { level: level + up, column: column >> up, row: row >> up };
      const image = this.tiles.get(keyOf(above));
      if (!image) continue;
      const from = this.levels.place(above.level, above.column, above.row), k = 2 ** -above.level;
      const source = /** @type {const} */ ([(place.x - from.x) * k, (place.y - from.y) * k,
        up ? place.width * k : image.width, up ? place.height * k : image.height]);
      if (this.#upright) return this.context.drawImage(image, ...source, ...this.onDevice(place));
      return this.context.drawImage(image, ...source, place.x - over, place.y - over, place.width + 2 * over, place.height + 2 * over);
    }
  }

  // --- what a person does ------------------------------------------------------------------------------------------------

  #listen() {
    const e = this.element;
    /** @type {Map<number, [number, number]>} */
    const pointers = new Map();
    let tooling = false;
    let travelled = 0;
    const place = (/** @type {MouseEvent} */ event) => /** @type {[number, number]} */ ((() => {
      const box = e.getBoundingClientRect();
      return [event.clientX - box.left - e.clientLeft, event.clientY - box.top - e.clientTop];
    })());

    e.addEventListener("pointerdown", (event) => {
      if (event.button !== 0 || /** @type {Element} */ (event.target).closest("button, input, label, .handle")) return;
      e.focus({ preventScroll: true });
      e.setPointerCapture(event.pointerId);
      pointers.set(event.pointerId, place(event));
      travelled = pointers.size === 1 ? 0 : Infinity;
      if (pointers.size === 1 && this.tool?.down(...this.toPicture(...place(event)))) tooling = true;
      else if (tooling) { tooling = false; this.tool?.up(); }
      event.preventDefault();
    });
    e.addEventListener("pointermove", (event) => {
      const now = place(event);
      this.onHover?.(...this.toPicture(...now));
      const before = pointers.get(event.pointerId);
      if (!before) return;
      travelled += Math.hypot(now[0] - before[0], now[1] - before[1]);
      if (tooling) this.tool?.move(...this.toPicture(...now));
      else if (pointers.size === 1) this.onWish({ pan: [now[0] - before[0], now[1] - before[1]], alone: event.shiftKey });
      else this.#pinch(pointers, event.pointerId, now);
      pointers.set(event.pointerId, now);
    });
    for (const kind of ["pointerup", "pointercancel"]) {
      e.addEventListener(kind, (event) => {
        const { pointerId } = /** @type {PointerEvent} */ (event);
        const last = pointers.get(pointerId);
        pointers.delete(pointerId);
        if (tooling) { tooling = false; this.tool?.up(); }
        else if (kind === "pointerup" && last && travelled < CLICK) this.onClick?.(...this.toPicture(...last));
      });
    }
    e.addEventListener("pointerleave", () => this.onLeave?.());
    e.addEventListener("wheel", (event) => {
      event.preventDefault();
      const lines = event.deltaMode === 1 ? 30 : 1;
      this.onWish({ zoom: 2 ** (-event.deltaY * lines / 400), at: place(event) });
    }, { passive: false });
    e.addEventListener("keydown", (event) => {
      if (event.target !== e || event.metaKey || event.altKey) return;
      if (this.onKey?.(event)) return event.preventDefault();
      const wish = event.ctrlKey ? null : keyWish(event.key);
      if (!wish) return;
      event.preventDefault();
      this.onWish(wish.pan ? { ...wish, alone: event.shiftKey } : wish);
    });
  }

  /** @param {Map<number, [number, number]>} pointers @param {number} id @param {[number, number]} now */
  #pinch(pointers, id, now) {
    const before = /** @type {[number, number]} */ (pointers.get(id));
    const other = [...pointers].find(([key]) => key !== id)?.[1];
    if (!other) return;
    const far = (/** @type {[number, number]} */ p) => Math.hypot(p[0] - other[0], p[1] - other[1]) || 1;
    const middle = /** @type {[number, number]} */ ([(now[0] + other[0]) / 2, (now[1] + other[1]) / 2]);
    this.onWish({ zoom: far(now) / far(before), at: middle, pan: [(now[0] - before[0]) / 2, (now[1] - before[1]) / 2] });
  }
}

/** @param {string} key @returns {Wish | null} */
export function keyWish(key) {
  switch (key) {
    case "ArrowLeft": return { pan: [STEP, 0] };
    case "ArrowRight": return { pan: [-STEP, 0] };
    case "ArrowUp": return { pan: [0, STEP] };
    case "ArrowDown": return { pan: [0, -STEP] };
    case "+": case "=": return { zoom: ZOOM_STEP };
    case "-": return { zoom: 1 / ZOOM_STEP };
    case "0": case "Home": return { fit: true };
    case "1": return { one: true };
    default: return null;
  }
}

/** The wish of a button with data-wish. @param {string | undefined} word @returns {Wish} */
export function buttonWish(word) {
  return { in: { zoom: ZOOM_STEP }, out: { zoom: 1 / ZOOM_STEP }, one: { one: true }, fit: { fit: true } }[word ?? "fit"] ?? {};
}

/** Draws a path in black and over it in white: to be seen on any ground. @param {CanvasRenderingContext2D} c @param {() => void} path */
export function twice(c, path) {
  for (const [colour, width] of /** @type {[string, number][]} */ ([["#000", 3], ["#fff", 1.2]])) {
    c.strokeStyle = colour;
    c.lineWidth = width;
    c.beginPath();
    path();
    c.stroke();
  }
}

/** Writes white on a black outline. @param {CanvasRenderingContext2D} c @param {string} text @param {number} x @param {number} y */
export function write(c, text, x, y) {
  c.font = "600 13px sans-serif";
  c.lineJoin = "round";
  c.lineWidth = 4;
  c.strokeStyle = "#000";
  c.strokeText(text, x, y);
  c.fillStyle = "#fff";
  c.fillText(text, x, y);
}
