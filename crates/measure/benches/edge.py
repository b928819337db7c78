"""The same edge by numpy with whole arrays: the textbook's passes (ISO 12233) and as many resamples, no Python loop over rows.

usage: edge.py FILE WIDTH HEIGHT RESAMPLES; FILE holds 32-bit floats, row by row, of a near-vertical edge. Prints MTF50 (cycles per
pixel along the normal), the half-width of its 95 % interval by each of two ways to resample, and the fastest run's seconds of
the processor of each (reading not counted).

Rows are resampled in two ways. "rows": every row by itself, as the weights of a matrix product over the rows' own bins; "blocks": 32
blocks of rows, which is what the other side of the bench does and costs numpy almost nothing.
"""

import sys
import time

import numpy as np

path, width, height, resamples = sys.argv[1], *map(int, sys.argv[2:5])
picture = np.fromfile(path, dtype=np.float32).reshape(height, width)
BINS, BLOCKS = 4, 32


def centroids(rows, columns, expected, half):
    """Centroid of each row's differences under a Hamming window about the expected place."""
    difference = np.diff(rows, axis=1)
    away = columns[None, 1:] - 0.5 - expected[:, None]
    window = np.where(np.abs(away) < half, 0.54 + 0.46 * np.cos(np.pi * away / half), 0.0)
    weighted = difference * window
    return weighted @ (columns[1:] - 0.5) / weighted.sum(axis=1)


def line(rows):
    columns, y = np.arange(width, dtype=float), np.arange(height, dtype=float)
    x = np.full(height, (width - 1) / 2)
    for half in (width / 2, width / 4):
        slope, start = np.polyfit(y, centroids(rows, columns, x, half), 1)
        x = start + slope * y
    return slope, x


def response(spread, cosine):
    """Moduli of many line spreads (down) over frequencies along the normal, and those frequencies."""
    top = spread.shape[1] // 2
    half = min(top, spread.shape[1] - top)
    window = 0.54 + 0.46 * np.cos(np.pi * (np.arange(spread.shape[1]) - top) / half)
    modulus = np.abs(np.fft.rfft(spread * window, axis=1))
    along_rows = np.fft.rfftfreq(spread.shape[1], 1 / BINS)
    keep = along_rows <= 1.0
    v = along_rows[keep]
    # The difference filter over two bins, and the bins' own box.
    correction = 1 / np.maximum(np.sinc(2 * v / BINS) * np.sinc(v / BINS), 0.1)
    return modulus[:, keep] / modulus[:, :1] * correction, v / cosine


def crossings(curves, frequencies, level=0.5):
    below = curves < level
    i = np.argmax(below, axis=1)
    rows = np.arange(len(curves))
    a, b = curves[rows, i - 1], curves[rows, i]
    return frequencies[i - 1] + (a - level) / (a - b) * (frequencies[i] - frequencies[i - 1])


def spreads(sums, counts):
    edge = sums / np.maximum(counts, 1e-12)
    return (edge[:, 2:] - edge[:, :-2]) / 2


def measure(way):
    rows = picture.astype(float)
    slope, x = line(rows)
    cosine = 1 / np.hypot(1, slope)
    reach = int(np.floor(min(x.min(), width - 1 - x.max())))
    count = 2 * reach * BINS
    place = np.rint((np.arange(width)[None, :] - x[:, None] + reach) * BINS).astype(np.int64)
    inside = (place >= 0) & (place < count)
    # Bins of each group of rows by themselves, so that a resample is a product with the groups' weights.
    groups = height if way == "rows" else BLOCKS
    group = np.arange(height) * groups // height
    index = (group[:, None] * count + place)[inside]
    sums = np.bincount(index, weights=rows[inside], minlength=groups * count).reshape(groups, count)
    counts = np.bincount(index, minlength=groups * count).reshape(groups, count).astype(float)
    curve, frequencies = response(spreads(sums.sum(axis=0, keepdims=True), counts.sum(axis=0, keepdims=True)), cosine)
    mtf50 = crossings(curve, frequencies)[0]
    chance = np.random.default_rng(12233)
    weights = chance.multinomial(groups, np.full(groups, 1 / groups), size=resamples).astype(float)
    curves, _ = response(spreads(weights @ sums, weights @ counts), cosine)
    return mtf50, 1.96 * crossings(curves, frequencies).std()


for way in ("rows", "blocks"):
    spent = []
    for _ in range(15):
        start = time.process_time()
        mtf50, half = measure(way)
        spent.append(time.process_time() - start)
    print(way, repr(float(mtf50)), repr(float(half)), min(spent))
