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
    # The rear length, as a share of its slack, from which the subject clears the front.
    needed = wanted / touch
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(rear > 0, np.clip((needed - pa) / (qa - pa), 0, None), np.where(pa * (1 + 1e-12) < needed, 2.0, 0.0))
    clear = share <= 1 + 1e-12
    ma, mb = pa + share * (qa - pa), pb + share * (qb - pb)

    def length(xa, xb):
        return (wanted + xa * a + xb * c) / (-xa * c)

    most = length(ma, mb) + 1e-6
    longest = length(qa, qb)
    least = longest - travel - slack - 1e-6
    reaching = clear & (front < most) & (front >= least)
    # Set as far out at the rear as it must be: bellows first.
    with np.errstate(divide="ignore", invalid="ignore"):
        short = (wanted + pa * (a + front * c) + pb * c) / ((pa - qa) * (a + front * c) + (pb - qb) * c)
    x = np.where(rear > 0, np.clip(np.nan_to_num(short), 0, 1), 0)
    wa, wb = pa + x * (qa - pa), pb + x * (qb - pb)
    extended = length(wa, wb)
    slope = np.full(reaching.shape, np.inf)
    for height, angle, radius in apertures:
        reach = np.abs(wa * (height + extended * angle) + wb * angle)
        slope = np.fmin(slope, radius / reach)
    lost = 2 * np.log2(0.5 / slope / f)
    # Room in front, which every answer carries.
    upright = wa * (a + extended * c) + wb * c
    room = -(wa * (b + extended * d) + wb * d) / upright - nose
    rows = np.nonzero(reaching)
    figures = [np.broadcast_to(column, reaching.shape)[rows] for column in (obstacles, glass + converter, lost, parts, room)]
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
