// Clipped samples over a picture: those that stand at the ends of the file's range, from the file itself. Hatching, white
// and black, so that it is seen on any ground and without colour: rising lines for full scale, falling ones for zero.

import { Loader, keyOf } from "./tiles.js";

/** @typedef {{state: string, share?: number | null, why?: string, pixels: number, low: number[], high: number[], grey: boolean}} Counts */
/** @typedef {{hatched: ImageBitmap | null, low: ImageBitmap | null, high: ImageBitmap | null, close(): void}} Marks
 * hatched and widened for marks that are small on the screen, or each end alone for large ones */

/** Bits of a mark: which channels are 0, and which full scale. */
const LOW = { all: 0b000111, red: 0b000001, green: 0b000010, blue: 0b000100 };
const HIGH_SHIFT = 3;
const ASK_EVERY = 500;
/** Device pixels from which on a mark is large enough to hold hatching of its own. */
const LARGE = 4;

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

  /** @param {string} key of a tile, with "large" behind it where each end is wanted alone @param {AbortSignal} signal @returns {Promise<Marks>} */
  async #fetch(key, signal) {
    const tile = key.replace("large", "");
    const answer = await fetch(`${this.address}/${tile}`, { signal });
    if (!answer.ok) throw new Error(answer.statusText);
    const runs = new Uint8Array(await answer.arrayBuffer());
    const [level, column, row] = tile.split(/[/_]/).map(Number);
    const { columns, rows } = this.#viewer.levels.place(level, column, row);
    const bits = LOW[this.#channel], both = { low: bits, high: bits << HIGH_SHIFT };
    const [hatched, low, high] = await Promise.all(tile === key
      ? [hatch(runs, both, columns, rows), null, null]
      : [null, alone(runs, both.low, columns, rows), alone(runs, both.high, columns, rows)]);
    return { hatched, low, high, close() { for (const image of [hatched, low, high]) image?.close(); } };
  }

  /** @param {CanvasRenderingContext2D} context */
  #paint(context) {
    const viewer = this.#viewer;
    const scale = viewer.scale * viewer.ratio, level = viewer.levels.coarse(scale);
    const large = scale * 2 ** level >= LARGE ? "large" : "";
    const tiles = viewer.levels.meeting(level, [...viewer.toPicture(0, 0), ...viewer.toPicture(...viewer.size)]);
    const marked = tiles.map((tile) => ({ tile, marks: this.#loader.get(keyOf(tile) + large) }));
    this.#loader.want(tiles.map((tile) => keyOf(tile) + large));
    if (large) for (const end of /** @type {const} */ (["low", "high"])) this.#hatch(context, end, marked);
    context.imageSmoothingEnabled = false;
    for (const { tile, marks } of marked) {
      const place = viewer.levels.place(tile.level, tile.column, tile.row);
      if (marks?.hatched) context.drawImage(marks.hatched, ...viewer.onDevice(place));
    }
  }

  /** Hatches large marks on the screen, so that each of them holds lines. @param {CanvasRenderingContext2D} context
   * @param {"low" | "high"} end @param {{tile: {level: number, column: number, row: number}, marks: Marks | undefined}[]} marked */
  #hatch(context, end, marked) {
    if (!marked.some(({ marks }) => marks?.[end])) return;
    const { width, height } = context.canvas;
    if (this.#scratch.width !== width || this.#scratch.height !== height) [this.#scratch.width, this.#scratch.height] = [width, height];
    const c = /** @type {CanvasRenderingContext2D} */ (this.#scratch.getContext("2d"));
    c.globalCompositeOperation = "source-over";
    c.clearRect(0, 0, width, height);
    c.imageSmoothingEnabled = false;
    for (const { tile, marks } of marked) {
      const image = marks?.[end];
      if (image) c.drawImage(image, ...this.#viewer.onDevice(this.#viewer.levels.place(tile.level, tile.column, tile.row)));
    }
    c.globalCompositeOperation = "source-in";
    c.fillStyle = hatching(c, end);
    c.fillRect(0, 0, width, height);
    context.drawImage(this.#scratch, 0, 0);
  }
}

const [WHITE, BLACK] = [0xffffffff, 0xff000000];

/** Lines two pixels wide, white and black in turn: no spot three pixels wide shows one of them alone.
 * @param {"low" | "high"} end @param {number} x @param {number} y */
function line(end, x, y) { return ((end === "high" ? x + y : x - y) & 3) < 2 ? WHITE : BLACK; }

/** @param {CanvasRenderingContext2D} c @param {"low" | "high"} end */
function hatching(c, end) {
  const one = document.createElement("canvas");
  one.width = one.height = 4;
  const pixels = Uint32Array.from({ length: 16 }, (_, i) => line(end, i & 3, i >> 2));
  one.getContext("2d")?.putImageData(new ImageData(new Uint8ClampedArray(pixels.buffer), 4, 4), 0, 0);
  return /** @type {CanvasPattern} */ (c.createPattern(one, "repeat"));
}

/** Calls `act` with the first and the end of each run of marks with one of the bits.
 * @param {Uint8Array} runs a mark, then how often, seven bits a byte, the least first @param {number} bits @param {(from: number, to: number) => void} act */
function unpack(runs, bits, act) {
  for (let at = 0, from = 0; at < runs.length;) {
    const mark = runs[at++];
    let length = 0;
    for (let shift = 0; ; shift += 7) {
      const byte = runs[at++];
      length |= (byte & 0x7f) << shift;
      if (!(byte & 0x80)) break;
    }
    if (mark & bits) act(from, from + length);
    from += length;
  }
}

/** Both ends, hatched, each mark wider by a pixel on all sides: one alone would be lost to the eye, or meet one colour of
 * the hatching. Null where there is none. @param {Uint8Array} runs @param {{low: number, high: number}} bits
 * @param {number} columns @param {number} rows @returns {Promise<ImageBitmap> | null} */
function hatch(runs, bits, columns, rows) {
  const ends = new Uint8Array(columns * rows);
  let any = false;
  for (const [number, mask] of [[1, bits.low], [2, bits.high]]) {
    unpack(runs, mask, (from, to) => {
      any = true;
      ends.fill(number, from - (from % columns ? 1 : 0), to + (to % columns ? 1 : 0));
      ends.fill(number, Math.max(0, from - columns), Math.max(0, to - columns));
      ends.fill(number, from + columns, to + columns);
    });
  }
  if (!any) return null;
  const pixels = new Uint32Array(ends.length);
  for (let i = 0; i < ends.length; i++) {
    if (ends[i]) pixels[i] = line(ends[i] === 1 ? "low" : "high", i % columns, (i / columns) | 0);
  }
  return createImageBitmap(new ImageData(new Uint8ClampedArray(pixels.buffer), columns, rows));
}

/** One end, opaque where it is marked; null where it is not. @param {Uint8Array} runs @param {number} bits
 * @param {number} columns @param {number} rows @returns {Promise<ImageBitmap> | null} */
function alone(runs, bits, columns, rows) {
  const pixels = new Uint32Array(columns * rows);
  let any = false;
  unpack(runs, bits, (from, to) => { any = true; pixels.fill(WHITE, from, to); });
  return any ? createImageBitmap(new ImageData(new Uint8ClampedArray(pixels.buffer), columns, rows)) : null;
}
