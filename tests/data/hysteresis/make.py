"""Makes loop.csv and expected.csv: a noisy load-travel record of three cycles,
and its figures worked out with numpy and scipy.

Invented data. Run with numpy 2 and scipy 1.17: python3 make.py
"""

import csv

import numpy as np
from scipy.integrate import trapezoid
from scipy.optimize import isotonic_regression
from scipy.stats import linregress, norm

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


def row_noise(off):
    """A normal standard deviation from distances, by their median."""
    return np.median(off) / norm.ppf(0.75)


def load_noise(x, f):
    """The scatter of loads about the line through their two neighbours."""
    share = (x[1:-1] - x[:-2]) / (x[2:] - x[:-2])
    share = np.where((share >= 0) & (share <= 1), share, 0.5)
    line = (1 - share) * f[:-2] + share * f[2:]
    return row_noise(np.abs(f[1:-1] - line) / np.sqrt(1 + share**2 + (1 - share) ** 2))


def slope_at(wanted):
    x, f = travel[start : turn + 1], load[start : turn + 1]
    near = np.abs(f - wanted) <= 0.05 * (cf[-1] - cf[0])
    return linregress(x[near], f[near]).slope


def energy_u(x, f):
    """The noise of all rows through the trapezoid sum, and a third of the step
    from every second row to all of them."""
    weights = np.gradient(np.pad(x, 1, mode="edge"))[1:-1]
    of_load = load_noise(x, f) * np.linalg.norm(weights)
    slopes = np.gradient(np.pad(f, 1, mode="edge"))[1:-1]
    slopes[0], slopes[-1] = f[:2].mean(), f[-2:].mean()
    middle = np.abs(x[1:-1] - (x[:-2] + x[2:]) / 2)
    of_travel = row_noise(middle / np.sqrt(1.5)) * np.linalg.norm(slopes)
    second = np.unique(np.append(np.arange(0, len(x), 2), len(x) - 1))
    rule = (trapezoid(f, x) - trapezoid(f[second], x[second])) / 3
    return np.sqrt(of_load**2 + of_travel**2 + rule**2) / 1000


up = slice(start, turn + 1)
down = slice(turn, end + 1)
noise = load_noise(travel[up], load[up])
secant = 400.0 / (travel_at(450.0) - travel_at(50.0))
ends_u = np.hypot(noise / slope_at(50.0), noise / slope_at(450.0))

# The same from a contact load of 20 N on: travel counts from there, and the energy
# is that above it.
zero = travel_at(20.0)
zero_u = noise / slope_at(20.0)
on = [(zero, 20.0)] + [(a, b) for a, b in zip(travel[up], load[up]) if a > zero]
ux = travel[down][::-1]
uf = load[down][::-1]
order = np.argsort(ux, kind="stable")
back = isotonic_regression(uf[order])
edges = list(zip(back.blocks[:-1], back.blocks[1:]))
bx = np.array([ux[order][a:b].mean() for a, b in edges])
bf = np.array([uf[order][a:b].mean() for a, b in edges])
left = float(np.interp(20.0, bf, bx))
off = [(a, b) for a, b in zip(travel[down], load[down]) if a > left] + [(left, 20.0)]
on, off = np.array(on), np.array(off)

stored = trapezoid(load[start : turn + 1], travel[start : turn + 1]) / 1000
returned = -trapezoid(load[turn : end + 1], travel[turn : end + 1]) / 1000
stored_u = energy_u(travel[up], load[up])
returned_u = energy_u(travel[down], load[down])
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
    "travel_at_450_u": noise / slope_at(450.0),
    "load_at_8_u": noise,
    "secant_50_450_u": secant * ends_u / (travel_at(450.0) - travel_at(50.0)),
    "stored_J_u": stored_u,
    "returned_J_u": returned_u,
    "lost_J_u": np.hypot(stored_u, returned_u),
    "return_percent_u": 100 * returned / stored * np.hypot(returned_u / returned, stored_u / stored),
    "zero_at_20": zero,
    "zero_at_20_u": zero_u,
    "from_20_travel_at_450": travel_at(450.0) - zero,
    "from_20_travel_at_450_u": np.hypot(noise / slope_at(450.0), zero_u),
    "from_20_load_at_8": float(np.interp(8.0 + zero, cx, cf)),
    "from_20_load_at_8_u": np.hypot(
        noise, slope_at(float(np.interp(8.0 + zero, cx, cf))) * zero_u
    ),
    "from_20_stored_J": trapezoid(on[:, 1], on[:, 0]) / 1000,
    "from_20_returned_J": -trapezoid(off[:, 1], off[:, 0]) / 1000,
}
with open("expected.csv", "w", newline="") as out:
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(["figure", "value"])
    rows.writerows((name, repr(float(value))) for name, value in figures.items())
