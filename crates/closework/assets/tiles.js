// A pane that shows a tiled picture on a canvas: moved by pointer, wheel, pinch and keys. What moves it is a "wish", so
// that several panes can be made to follow one.

/**
 * @typedef {{pan?: [number, number], zoom?: number, at?: [number, number], fit?: boolean, one?: boolean, alone?: boolean}} Wish
 * pan in CSS pixels; zoom a factor about the place at (CSS pixels in the pane); alone: Shift was held
 * @typedef {{down(x: number, y: number): boolean, move(x: number, y: number): void, up(): void}} Tool
 * places in picture pixels; down answers whether the tool takes the pointer
 */

const KEPT_TILES = 240;
const STEP = 80;
/** A pointer that moved less, in CSS pixels, has clicked. */
const CLICK = 5;
const ZOOM_STEP = 1.25;

export class Pane {
  /** @param {HTMLElement} element */
  constructor(element) {
    this.element = element;
    this.canvas = /** @type {HTMLCanvasElement} */ (element.querySelector("canvas"));
    this.context = /** @type {CanvasRenderingContext2D} */ (this.canvas.getContext("2d"));
    const number = (/** @type {string} */ name) => Number(element.dataset[name]);
    this.width = number("width");
    this.height = number("height");
    this.tile = number("tile");
    this.levels = number("levels");
    /** Place of the picture, in its pixels, at the pane's middle. */
    this.x = this.width / 2;
    this.y = this.height / 2;
    /** CSS pixels for one pixel of the picture. */
    this.scale = 1;
    /** @type {Map<string, HTMLImageElement>} */
    this.images = new Map();
    /** @type {((context: CanvasRenderingContext2D, pane: Pane) => void) | null} */
    this.overlay = null;
    /** @type {(wish: Wish) => void} */
    this.onWish = (wish) => this.follow(wish);
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
    this.drawing = false;
    this.#listen();
    new ResizeObserver(() => this.#resize()).observe(element);
    this.#resize();
    this.fit();
  }

  get size() { return [this.element.clientWidth, this.element.clientHeight]; }

  /** The scale at which the whole picture fits. */
  get fitScale() {
    const [w, h] = this.size;
    return Math.min(w / this.width, h / this.height) || 1;
  }

  fit() {
    this.x = this.width / 2;
    this.y = this.height / 2;
    this.scale = this.fitScale;
    this.draw();
  }

  /** @param {Wish} wish */
  follow(wish) {
    if (wish.fit) return this.fit();
    const at = wish.at ?? [this.size[0] / 2, this.size[1] / 2];
    if (wish.one) this.zoomTo(1 / devicePixelRatio, at);
    if (wish.zoom) this.zoomTo(this.scale * wish.zoom, at);
    if (wish.pan) { this.x -= wish.pan[0] / this.scale; this.y -= wish.pan[1] / this.scale; }
    this.#hold();
    this.draw();
  }

  /** @param {number} scale @param {[number, number]} at */
  zoomTo(scale, at) {
    const wanted = Math.min(Math.max(scale, this.fitScale / 4), 32);
    const [px, py] = this.toPicture(at[0], at[1]);
    this.scale = wanted;
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
    const [w, h] = this.size;
    return [this.x + (sx - w / 2) / this.scale, this.y + (sy - h / 2) / this.scale];
  }

  /** @param {number} px @param {number} py @returns {[number, number]} */
  toScreen(px, py) {
    const [w, h] = this.size;
    return [(px - this.x) * this.scale + w / 2, (py - this.y) * this.scale + h / 2];
  }

  draw() {
    if (this.drawing) return;
    this.drawing = true;
    requestAnimationFrame(() => { this.drawing = false; this.#paint(); });
  }

  #resize() {
    const fitted = Math.abs(this.scale / this.fitScale - 1) < 1e-6 || !this.canvas.width;
    const [w, h] = this.size;
    this.canvas.width = Math.max(1, Math.round(w * devicePixelRatio));
    this.canvas.height = Math.max(1, Math.round(h * devicePixelRatio));
    if (this.onResize) this.onResize();
    else if (fitted) this.fit();
    else this.draw();
  }

  #paint() {
    const c = this.context;
    c.setTransform(devicePixelRatio, 0, 0, devicePixelRatio, 0, 0);
    c.clearRect(0, 0, this.size[0], this.size[1]);
    // Enlarged pixels stay squares: what is judged is the scan, not a smoothing.
    c.imageSmoothingEnabled = this.scale * devicePixelRatio < 1.99;
    const wanted = Math.floor(Math.log2(1 / (this.scale * devicePixelRatio)) + 0.01);
    const level = Math.min(Math.max(wanted, 0), this.levels - 1);
    this.#paintLevel(this.levels - 1);
    if (level < this.levels - 1) this.#paintLevel(level);
    this.overlay?.(c, this);
  }

  /** @param {number} level */
  #paintLevel(level) {
    const span = this.tile * 2 ** level;
    const [left, top] = this.toPicture(0, 0);
    const [right, bottom] = this.toPicture(...this.size);
    const first = (/** @type {number} */ v) => Math.max(0, Math.floor(v / span));
    const last = (/** @type {number} */ v, /** @type {number} */ end) => Math.min(Math.floor(v / span), Math.ceil(end / span) - 1);
    for (let row = first(top); row <= last(bottom, this.height); row++) {
      for (let column = first(left); column <= last(right, this.width); column++) {
        const image = this.#image(level, column, row);
        if (!image.complete || !image.naturalWidth) continue;
        const [sx, sy] = this.toScreen(column * span, row * span);
        const px = 2 ** level * this.scale;
        this.context.drawImage(image, sx, sy, image.naturalWidth * px, image.naturalHeight * px);
      }
    }
  }

  /** @param {number} level @param {number} column @param {number} row */
  #image(level, column, row) {
    const address = `${this.element.dataset.tiles}/${level}/${column}_${row}.jpg?v=${this.element.dataset.version}`;
    let image = this.images.get(address);
    if (!image) {
      image = new Image();
      image.onload = () => this.draw();
      image.src = address;
    }
    // Moved to the end: the front of the map is what was not needed for longest.
    this.images.delete(address);
    this.images.set(address, image);
    for (const old of this.images.keys()) {
      if (this.images.size <= KEPT_TILES) break;
      this.images.delete(old);
    }
    return image;
  }

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
      if (event.target !== e || event.ctrlKey || event.metaKey || event.altKey) return;
      if (this.onKey?.(event)) return event.preventDefault();
      const wish = keyWish(event.key);
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
    case "0": return { fit: true };
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
