"""The rays of the bench through the same spheres, by numpy, whole columns at a time.

Reads a row for every surface (gap before, curvature, index before, index after). Prints ray-surfaces a second at the block
size that suits numpy best, that size, and the sum of y on the last surface.
"""

import sys
import time

import numpy as np

TABLE = [tuple(float(word) for word in line.split()) for line in sys.stdin]
COUNT, SIDE, REPEATS = 1 << 16, 256, 10


def start():
    place = (np.arange(COUNT) % SIDE / (SIDE - 1) - 0.5) * 8.0
    height = (np.arange(COUNT) // SIDE / (SIDE - 1) - 0.5) * 8.0 - 1.75
    sine, cosine = np.sin(np.radians(5)), np.cos(np.radians(5))
    zero = np.zeros(COUNT)
    return place, height, zero, zero, zero + sine, zero + cosine, zero


def trace(x, y, z, l, m, n, path):
    """The same formulas as the crate's: from the ray's point nearest to the vertex."""
    for gap, c, before, after in TABLE:
        z = z - gap
        if c == 0.0:
            distance = -z / n
            slant = n
            lost = np.zeros(len(x), bool)
        else:
            nearest = -(x * l + y * m + z * n)
            px, py, pz = x + nearest * l, y + nearest * m, z + nearest * n
            offset = c * (px * px + py * py + pz * pz) - 2.0 * pz
            radicand = n * n - c * offset
            slant = np.sqrt(np.maximum(radicand, 0.0))
            lost = radicand < 0.0
            distance = nearest + offset / (n + slant)
        x, y, z = x + distance * l, y + distance * m, z + distance * n
        path = path + before * distance
        if before != after:
            ratio = before / after
            root = ratio * ratio * slant * slant + (1.0 - ratio * ratio)
            turn = np.sqrt(np.maximum(root, 0.0)) - ratio * slant
            lost |= root < 0.0
            bend = turn * c
            l, m, n = ratio * l - bend * x, ratio * m - bend * y, ratio * n + turn - bend * z
    return y


columns = start()
best = (0.0, 0)
for block in (512, 1024, 2048, 4096, 8192):
    for _ in range(REPEATS):
        for i in range(0, COUNT, block):
            lot = [column[i : i + block] for column in columns]
            began = time.perf_counter()
            trace(*lot)
            best = max(best, (block * len(TABLE) / (time.perf_counter() - began), block))
print(best[0], best[1], trace(*columns).sum())
