"""The question of the bench, answered by numpy with whole arrays: which stacks reach the magnification, and the best 200.

Reads what Survey::numbers writes. Prints the total, and on the last line millions of stacks a second (reading not counted).
"""

import sys
import time

import numpy as np

path, wanted, best = sys.argv[1], float(sys.argv[2]), 200
places = []
for line in open(path):
    kind, *words = line.split()
    numbers = [float(word) for word in words]
    if kind == "place":
        places.append(([], []))
    else:
        places[-1][0 if kind == "head" else 1].append(numbers)


def columns(rows):
    width = max(len(row) for row in rows)
    table = np.full((len(rows), width), np.nan)
    for i, row in enumerate(rows):
        table[i, : len(row)] = row
    return table.T.copy()


places = [(columns(heads), columns(classes)) for heads, classes in places if heads and classes]


def stacks(heads, classes):
    """Total and ranked figures of the stacks that reach, heads down and classes across."""
    obstacles, a, b, c, d, nose, touch, travel, f, glass = (column[:, None] for column in heads[:10])
    apertures = [(heads[k][:, None], heads[k + 1][:, None], heads[k + 2][:, None]) for k in range(10, len(heads), 3)]
    pa, pb, qa, qb, front, slack, rear, converter, parts = (column[None, :] for column in classes)
    drawn = rear[0] > 0
    shape = (heads.shape[1], classes.shape[1])
    reaching = np.zeros(shape, bool)
    lost, room = np.full(shape, np.nan), np.full(shape, np.nan)

    def edge(ma, mb, na, nb, start, end, mask):
        """What an edge of the settings, from matrix m at one length to matrix n at another, adds to what reaches."""
        here = ma * (a + start * c) + mb * c
        there = na * (a + end * c) + nb * c
        with np.errstate(divide="ignore", invalid="ignore"):
            span = there - here
            for signed in (-wanted, wanted):
                place = (signed - here) / span
                hair = 1e-9 * np.abs(signed / span)
                place = np.where((place >= -hair) & (place <= 1 + hair) & (np.abs(span) > 1e-9), np.clip(place, 0, 1), np.nan)
                xa, xb = ma + place * (na - ma), mb + place * (nb - mb)
                length = start + place * (end - start)
                height = xa * (b + length * d) + xb * d
                free = -height / signed
                new = mask & (free >= nose) & ~reaching
                slope = np.full(shape, np.inf)
                for h, angle, radius in apertures:
                    slope = np.fmin(slope, radius / np.abs(xa * (h + length * angle) + xb * angle))
                np.copyto(lost, 2 * np.log2(0.5 / slope / f), where=new)
                np.copyto(room, free - nose, where=new)
                np.logical_or(reaching, new, out=reaching)

    long = front + slack + travel
    everything = np.ones(shape, bool)
    # Without a bellows behind the converter one edge holds all; with one, that bellows first and the focusing then.
    edge(pa, pb, np.where(drawn, qa, pa), np.where(drawn, qb, pb), front, np.where(drawn, front, long), everything)
    if drawn.any():
        edge(qa, qb, qa, qb, front, long, np.broadcast_to(drawn[None, :], shape))
        other = drawn[None, :] & (c > -1e-9)
        if other.any():
            edge(pa, pb, qa, qb, long, long, other)
            edge(pa, pb, pa, pb, front, long, other)
    rows = np.nonzero(reaching)
    figures = [np.broadcast_to(column, shape)[rows] for column in (obstacles, glass + converter, lost, parts, room)]
    return int(reaching.sum()), figures


start = time.perf_counter()
total, found = 0, []
for heads, classes in places:
    # Slices of heads keep the arrays in the caches, where numpy is at its best.
    step = max(1, 40_000 // classes.shape[1])
    for i in range(0, heads.shape[1], step):
        count, figures = stacks(heads[:, i : i + step], classes)
        total += count
        found.append(figures)
obstacles, glass, lost, parts, room = (np.concatenate(column) for column in zip(*found))
keys = (parts, np.round(lost * 10), glass, obstacles)
order = np.lexsort(keys)[:best]
seconds = time.perf_counter() - start
stacks_in_all = sum(heads.shape[1] * classes.shape[1] for heads, classes in places)
print(total)
print(f"{stacks_in_all / seconds / 1e6:.2f} million stacks a second, {seconds:.2f} s for {stacks_in_all}")
