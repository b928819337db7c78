// Clipped samples over a picture: those that stand at the ends of the file's range, from the file itself. Hatching, white
// and black, so that it is seen on any ground and without colour: rising lines for full scale, falling ones for zero.

import { Loader, keyOf } from "./tiles.js";

/** @typedef {{state: string, share?: number | null, why?: string, pixels: number, low: number[], high: number[], grey: boolean}} Counts */
/** @typedef {{low: ImageBitmap | null, high: ImageBitmap | null, close(): void}} Marks */

/** Bits of a mark: which channels are 0, and which full scale. */
const LOW = { all: 0b000111, red: 0b000001, green: 0b000010, blue: 0b000100 };
const HIGH_SHIFT = 3;
const ASK_EVERY = 500;

export class Ends {
  /** @type {"all" | "red" | "green" | "blue"} */
  #channel = "all";
  #scratch = document.createElement("canvas");
  #shown = false;
  #viewer;
  #loader;

  /** @param {import("./viewer.js").Viewer} viewer */
  constructor(viewer) {
    this.#viewer = viewer;
    this.address = `/scans/${viewer.element.dataset.scan}/ends`;
    /** @type {Loader<Marks>} */
    this.#loader = new Loader((key, signal) => this.#fetch(key, signal), () => viewer.draw());
  }

  /** Has the marks made, if they are not there, and shows them. @param {(counts: Counts) => void} heard how far it is */
  async show(heard) {
    this.#shown = true;
    for (let method = "POST"; this.#shown; method = "GET") {
      const answer = await fetch(this.address, { method }).catch(() => null);
      /** @type {Counts | null} */
      const counts = answer?.ok ? await answer.json() : null;
      if (!this.#shown) return;
      if (counts) heard(counts);
      if (counts?.state === "ready") break;
      if (counts?.state === "failed" || (answer && !answer.ok)) return;
      await new Promise((resolve) => setTimeout(resolve, ASK_EVERY));
    }
    if (!this.#shown) return;
    this.#viewer.underlay = (context) => this.#paint(context);
    this.#viewer.draw();
  }

  hide() {
    this.#shown = false;
    this.#viewer.underlay = null;
    this.#loader.clear();
    this.#viewer.draw();
  }

  /** Marks of one channel alone, or of all. @param {string} channel */
  choose(channel) {
    this.#channel = channel in LOW ? /** @type {keyof typeof LOW} */ (channel) : "all";
    this.#loader.clear();
    this.#viewer.draw();
  }

  /** @param {string} key @param {AbortSignal} signal @returns {Promise<Marks>} */
  async #fetch(key, signal) {
    const answer = await fetch(`${this.address}/${key}`, { signal });
    if (!answer.ok) throw new Error(answer.statusText);
    const runs = new Uint8Array(await answer.arrayBuffer());
    const [level, column, row] = key.split(/[/_]/).map(Number);
    const { columns, rows } = this.#viewer.levels.place(level, column, row);
    const bits = LOW[this.#channel];
    const [low, high] = await Promise.all([bits, bits << HIGH_SHIFT].map((mask) => picture(runs, mask, columns, rows)));
    return { low, high, close() { low?.close(); high?.close(); } };
  }

  /** @param {CanvasRenderingContext2D} context */
  #paint(context) {
    const viewer = this.#viewer;
    const scale = viewer.scale * viewer.ratio, level = viewer.levels.coarse(scale);
    const tiles = viewer.levels.meeting(level, [...viewer.toPicture(0, 0), ...viewer.toPicture(...viewer.size)]);
    this.#loader.want(tiles.map(keyOf));
    for (const end of /** @type {const} */ (["low", "high"])) {
      const marked = tiles.map((tile) => ({ tile, image: this.#loader.get(keyOf(tile))?.[end] }));
      if (marked.some(({ image }) => image)) this.#hatch(context, end, marked, scale * 2 ** level);
    }
  }

  /** @param {CanvasRenderingContext2D} context @param {"low" | "high"} end
   * @param {{tile: {level: number, column: number, row: number}, image: ImageBitmap | null | undefined}[]} marked @param {number} size device pixels to a mark */
  #hatch(context, end, marked, size) {
    const { width, height } = context.canvas;
    if (this.#scratch.width !== width || this.#scratch.height !== height) [this.#scratch.width, this.#scratch.height] = [width, height];
    const c = /** @type {CanvasRenderingContext2D} */ (this.#scratch.getContext("2d"));
    c.globalCompositeOperation = "source-over";
    c.clearRect(0, 0, width, height);
    c.imageSmoothingEnabled = false;
    // A mark of a pixel or two would be lost to the eye, or meet one colour of the hatching alone: it is drawn wider.
    const wider = size < 4 ? [[0, 0], [1, 0], [-1, 0], [0, 1], [0, -1]] : [[0, 0]];
    let [left, top, right, bottom] = [width, height, 0, 0];
    for (const { tile, image } of marked) {
      if (!image) continue;
      const [x, y, w, h] = this.#viewer.onDevice(this.#viewer.levels.place(tile.level, tile.column, tile.row));
      for (const [dx, dy] of wider) c.drawImage(image, x + dx, y + dy, w, h);
      [left, top] = [Math.min(left, x - 1), Math.min(top, y - 1)];
      [right, bottom] = [Math.max(right, x + w + 1), Math.max(bottom, y + h + 1)];
    }
    [left, top, right, bottom] = [Math.max(left, 0), Math.max(top, 0), Math.min(right, width), Math.min(bottom, height)];
    if (right <= left || bottom <= top) return;
    c.globalCompositeOperation = "source-in";
    c.fillStyle = hatching(c, end);
    c.fillRect(left, top, right - left, bottom - top);
    context.drawImage(this.#scratch, left, top, right - left, bottom - top, left, top, right - left, bottom - top);
  }
}

/** Lines two pixels wide, white and black in turn: no spot three pixels wide shows one of them alone.
 * @param {CanvasRenderingContext2D} c @param {"low" | "high"} end */
function hatching(c, end) {
  const one = document.createElement("canvas");
  one.width = one.height = 4;
  const small = /** @type {CanvasRenderingContext2D} */ (one.getContext("2d"));
  for (let y = 0; y < 4; y++) for (let x = 0; x < 4; x++) {
    small.fillStyle = (end === "high" ? x + y : x - y + 4) % 4 < 2 ? "#fff" : "#000";
    small.fillRect(x, y, 1, 1);
  }
  return /** @type {CanvasPattern} */ (c.createPattern(one, "repeat"));
}

/** Runs of marks as a picture that is opaque where one of the bits is set; null where none is.
 * @param {Uint8Array} runs a mark, then how often, seven bits a byte, the least first @param {number} bits
 * @param {number} columns @param {number} rows @returns {Promise<ImageBitmap | null>} */
async function picture(runs, bits, columns, rows) {
  /** @type {Uint32Array | null} */
  let pixels = null;
  for (let at = 0, next = 0; at < runs.length;) {
    const mark = runs[at++];
    let length = 0;
    for (let shift = 0; ; shift += 7) {
      const byte = runs[at++];
      length |= (byte & 0x7f) << shift;
      if (!(byte & 0x80)) break;
    }
    if (mark & bits) (pixels ??= new Uint32Array(columns * rows)).fill(0xffffffff, next, next + length);
    next += length;
  }
  if (!pixels) return null;
  return createImageBitmap(new ImageData(new Uint8ClampedArray(pixels.buffer), columns, rows));
}
