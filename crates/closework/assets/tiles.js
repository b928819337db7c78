// Pictures fetched piece by piece: what is wanted most first, a bounded number kept, late ones asked for again.

/**
 * @template T
 * @typedef {(key: string, signal: AbortSignal) => Promise<T>} Fetching one piece; throws when it cannot be had now
 */

/** Pieces kept that are not wanted just now: 512 x 512 pixels of colour take 1 MB. */
const KEPT = 160;
/** Pieces on their way at once; browsers open six connections to a server. */
const AT_ONCE = 6;
/** Wait before a piece that did not come is asked for again, and the longest such wait; ms. */
const [FIRST_WAIT, LONGEST_WAIT] = [1000, 15000];

/** @template T */
export class Loader {
  /** @type {Map<string, T>} */
  #have = new Map();
  /** @type {Map<string, AbortController>} */
  #going = new Map();
  /** When a piece that did not come may be asked for again. @type {Map<string, {at: number, wait: number}>} */
  #late = new Map();
  /** @type {string[]} */
  #wanted = [];
  #fetching;
  #arrived;

  /** @param {Fetching<T>} fetching @param {() => void} arrived */
  constructor(fetching, arrived) {
    this.#fetching = fetching;
    this.#arrived = arrived;
  }

  /** A piece, when it is here. @param {string} key */
  get(key) {
    const piece = this.#have.get(key);
    if (piece === undefined) return undefined;
    // Moved to the end: the front of the map is what was not needed for longest.
    this.#have.delete(key);
    this.#have.set(key, piece);
    return piece;
  }

  /** True while pieces could not be had and are waited for. */
  get isLate() { return this.#late.size > 0; }

  /** What is wanted from now on, the most urgent first; all else on its way is called back. @param {string[]} keys */
  want(keys) {
    const set = new Set(keys);
    for (const [key, going] of this.#going) if (!set.has(key)) { going.abort(); this.#going.delete(key); }
    for (const key of this.#late.keys()) if (!set.has(key)) this.#late.delete(key);
    this.#wanted = keys.filter((key) => !this.#have.has(key));
    let spare = this.#have.size - Math.max(KEPT, keys.length);
    for (const [key, piece] of this.#have) {
      if (spare <= 0) break;
      if (set.has(key)) continue;
      this.#drop(key, piece);
      spare -= 1;
    }
    this.#next();
  }

  /** Forgets everything. */
  clear() {
    for (const going of this.#going.values()) going.abort();
    for (const [key, piece] of this.#have) this.#drop(key, piece);
    this.#going.clear();
    this.#late.clear();
    this.#wanted = [];
  }

  /** @param {string} key @param {any} piece */
  #drop(key, piece) {
    this.#have.delete(key);
    piece?.close?.();
  }

  #next() {
    const now = performance.now();
    for (const key of this.#wanted) {
      if (this.#going.size >= AT_ONCE) return;
      if (this.#going.has(key) || this.#have.has(key) || (this.#late.get(key)?.at ?? 0) > now) continue;
      this.#fetch(key);
    }
  }

  /** @param {string} key */
  async #fetch(key) {
    const going = new AbortController();
    this.#going.set(key, going);
    try {
      const piece = await this.#fetching(key, going.signal);
      if (going.signal.aborted) return /** @type {any} */ (piece)?.close?.();
      this.#have.set(key, piece);
      this.#late.delete(key);
      this.#arrived();
    } catch {
      if (going.signal.aborted) return;
      const wait = Math.min((this.#late.get(key)?.wait ?? FIRST_WAIT / 2) * 2, LONGEST_WAIT);
      this.#late.set(key, { at: performance.now() + wait, wait });
      setTimeout(() => this.#next(), wait + 1);
    } finally {
      if (this.#going.get(key) === going) this.#going.delete(key);
      this.#next();
    }
  }
}

/** The levels of a tiled picture: 0 is the whole, each further one half as wide, rounded up. */
export class Levels {
  /** @param {number} width @param {number} height @param {number} tile @param {number} levels */
  constructor(width, height, tile, levels) {
    this.width = width;
    this.height = height;
    this.tile = tile;
    this.levels = levels;
  }

  /** The coarsest level whose pixels are not larger than those of the screen. @param {number} scale device pixels to one of the picture */
  fine(scale) { return this.#within(Math.floor(Math.log2(1 / scale) + 1e-6)); }

  /** The finest level whose pixels are not smaller than those of the screen: none of them is left out. @param {number} scale */
  coarse(scale) { return this.#within(Math.ceil(Math.log2(1 / scale) - 1e-6)); }

  /** @param {number} level */
  #within(level) { return Math.min(Math.max(level, 0), this.levels - 1); }

  /** The tiles of a level that meet a rectangle of the picture, those nearest its middle first.
   * @param {number} level @param {[number, number, number, number]} rect left, top, right, bottom @param {number} ring more of them around */
  meeting(level, [left, top, right, bottom], ring = 0) {
    const span = this.tile * 2 ** level;
    const [columns, rows] = [Math.ceil(this.width / span), Math.ceil(this.height / span)];
    const first = (/** @type {number} */ v) => Math.max(0, Math.floor(v / span) - ring);
    const last = (/** @type {number} */ v, /** @type {number} */ end) => Math.min(Math.ceil(v / span) - 1 + ring, end - 1);
    const [cx, cy] = [(left + right) / span / 2 - 0.5, (top + bottom) / span / 2 - 0.5];
    const found = [];
    for (let row = first(top); row <= last(bottom, rows); row++) {
      for (let column = first(left); column <= last(right, columns); column++) {
        found.push({ level, column, row, far: Math.hypot(column - cx, row - cy) });
      }
    }
    return found.sort((a, b) => a.far - b.far);
  }

  /** What of the picture a tile shows: left, top, width, height, and its own size in its level's pixels.
   * @param {number} level @param {number} column @param {number} row */
  place(level, column, row) {
    const scale = 2 ** level, span = this.tile * scale;
    const [x, y] = [column * span, row * span];
    const [width, height] = [Math.min(span, this.width - x), Math.min(span, this.height - y)];
    return { x, y, width, height, columns: Math.ceil(width / scale), rows: Math.ceil(height / scale) };
  }
}

/** Fetches tiles of a picture by their IIIF addresses (Image API 3), decoded away from the page's own thread.
 * @param {string} pictures @param {string} version @param {Levels} levels @param {() => void} arrived @returns {Loader<ImageBitmap>} */
export function iiifTiles(pictures, version, levels, arrived) {
  return new Loader(async (key, signal) => {
    const [level, column, row] = key.split(/[/_]/).map(Number);
    const { x, y, width, height, columns, rows } = levels.place(level, column, row);
    const whole = width === levels.width && height === levels.height;
    const region = whole ? "full" : `${x},${y},${width},${height}`;
    const size = columns === width && rows === height ? "max" : `${columns},${rows}`;
    const answer = await fetch(`${pictures}/${region}/${size}/0/default.jpg?v=${version}`, { signal });
    if (!answer.ok) throw new Error(answer.statusText);
    return createImageBitmap(await answer.blob());
  }, arrived);
}

/** @param {{level: number, column: number, row: number}} tile */
export function keyOf({ level, column, row }) { return `${level}/${column}_${row}`; }
