"""Makes loop.csv and expected.csv: a noisy load-travel record of three cycles,
and its figures worked out with numpy and scipy.

Invented data. Run with numpy 2 and scipy 1.17: python3 make.py
"""

import csv

import numpy as np
from scipy.integrate import trapezoid
from scipy.optimize import isotonic_regression
from scipy.stats import linregress

random = np.random.Generator(np.random.PCG64(20261125))
PEAK, ROWS, CYCLES = 12.0, 240, 3

travel, load = [], []
for cycle in range(CYCLES):
    softer = 1.0 - 0.04 * cycle
    up = PEAK * np.arange(ROWS) / ROWS
    down = PEAK * np.arange(ROWS, 0, -1) / ROWS
    travel += [up, down]
    load += [softer * (22.0 * up + 2.6 * up**2), softer * (9.0 * down + 3.4 * down**2)]
travel.append(np.array([0.0]))
load.append(np.array([0.0]))
travel = np.round(np.concatenate(travel) + random.normal(0, 0.004, 2 * ROWS * CYCLES + 1), 4)
load = np.round(np.concatenate(load) + random.normal(0, 1.5, 2 * ROWS * CYCLES + 1), 3)

with open("loop.csv", "w", newline="") as out:
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(["travel_mm", "load_N"])
    rows.writerows((f"{x:.4f}", f"{f:.3f}") for x, f in zip(travel, load))

# The last cycle, from its lowest to its highest to its lowest travel.
middle = 2 * ROWS * (CYCLES - 1)
start = middle - 20 + int(np.flatnonzero(travel[middle - 20 : middle + 20] == travel[middle - 20 : middle + 20].min())[-1])
turn = start + int(np.argmax(travel[start:]))
end = turn + int(np.argmin(travel[turn:]))

order = np.argsort(travel[start : turn + 1], kind="stable")
x = travel[start : turn + 1][order]
f = load[start : turn + 1][order]
pools = isotonic_regression(f)
centres = [
    (x[a:b].mean(), f[a:b].mean()) for a, b in zip(pools.blocks[:-1], pools.blocks[1:])
]
cx, cf = np.array(centres).T


def travel_at(wanted):
    return float(np.interp(wanted, cf, cx))


near = np.abs(load[start : turn + 1] - 300.0) <= 0.05 * (cf[-1] - cf[0])
slope = linregress(travel[start : turn + 1][near], load[start : turn + 1][near])

stored = trapezoid(load[start : turn + 1], travel[start : turn + 1]) / 1000
returned = -trapezoid(load[turn : end + 1], travel[turn : end + 1]) / 1000
figures = {
    "cycles": CYCLES,
    "travel_at_300": travel_at(300.0),
    "travel_at_450": travel_at(450.0),
    "load_at_8": float(np.interp(8.0, cx, cf)),
    "secant_50_450": 400.0 / (travel_at(450.0) - travel_at(50.0)),
    "tangent_300": slope.slope,
    "tangent_300_u": slope.stderr,
    "stored_J": stored,
    "returned_J": returned,
    "lost_J": stored - returned,
    "return_percent": 100 * returned / stored,
}
with open("expected.csv", "w", newline="") as out:
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(["figure", "value"])
    rows.writerows((name, repr(float(value))) for name, value in figures.items())
