#!/usr/bin/env python3
"""Bends a strip between two clamps with scipy's boundary-value solver, and compares with the table that the tests of
`src/geometry/elastica/tests.rs` hold the program against, tests/data/elastica.csv.

Usage: elastica.py BINARY [--write] [--error LAW]
  BINARY         is not asked: the table is compared with the program by `cargo test --lib elastica`
  --write        writes the table
  --error LAW    changes one law by 5 % here: the table must then differ
Needs: numpy, scipy (pip). Exit code 0 if all agrees, 9 if something differs.

The equations are those of a planar elastica (x' = cos t, y' = sin t, t' = k, k' from the force that is carried along), where
the program minimises the energy of a chain; of the solutions that are found from several guesses that with the least energy
counts, as in the program.
"""
import pathlib
import sys

import numpy as np
from scipy.integrate import solve_bvp

from common import AGREES, BY, DIFFERS, arguments

TABLE = pathlib.Path(__file__).parent.parent / "data" / "elastica.csv"
HEAD = "x,y,from,to,length,down_x,down_y,energy,radius,middle_x,middle_y"
LAWS = ["length", "direction", "weight"]
WITHIN = 1e-4

# Where it ends, both directions, length, weight over stiffness as an arrow: on one side of the hinge and on the other, turns
# by up to 180 degrees to either side, short and long pieces, ends that are crossed.
CASES = [
    (0.6, 0.0, 0.0, 0.0, 0.7, 0.0, 0.0), (0.3, 0.0, 0.2, -0.1, 0.4, 0.0, 0.0), (0.5, 0.2, 0.0, 0.0, 0.6, 0.0, 0.0),
    (0.3, 0.3, 0.0, np.pi / 2, 0.55, 0.0, 0.0), (0.3, 0.3, 0.0, np.pi / 2, 0.9, 0.0, 0.0),
    (0.25, -0.35, 0.0, -np.pi / 2, 0.5, 0.0, 0.0), (0.1, 0.4, 0.3, 2.0, 0.8, 0.0, 0.0),
    (0.0, 0.2, 0.0, np.pi, 0.6, 0.0, 0.0), (0.0, 0.5, 0.0, np.pi, 0.9, 0.0, 0.0), (-0.05, -0.3, 0.0, -3.05, 0.7, 0.0, 0.0),
    (0.1, 0.1, 0.0, np.pi, 0.8, 0.0, 0.0), (0.4, 0.1, 0.1, 1.0, 0.47, 0.0, 0.0), (0.2, 0.6, 1.0, 1.6, 0.75, 0.0, 0.0),
    (0.4, 0.0, 0.0, 0.0, 0.7, 0.0, -20.0), (0.4, 0.0, 0.0, 0.0, 0.7, 0.0, -60.0), (0.3, 0.3, 0.0, np.pi / 2, 0.7, 0.0, -30.0),
    (0.0, 0.3, 0.0, np.pi, 0.9, 0.0, -20.0), (0.0, 0.3, 0.0, np.pi, 0.9, -20.0, 0.0), (0.5, 0.1, 0.0, 0.3, 0.6, 5.0, -25.0),
    (0.25, -0.35, 0.0, -np.pi / 2, 0.6, 0.0, -40.0), (0.8, 0.0, 0.0, 0.0, 0.9, 0.0, -10.0),
    # Heavy and limp: bent mostly at the clamps.
    (0.8, 0.0, 0.0, 0.0, 1.0, 0.0, -200.0), (0.3, 0.3, 0.0, np.pi / 2, 1.0, 0.0, -200.0), (1.0, 0.0, 0.0, 0.0, 1.15, 0.0, -150.0),
    (0.5, -0.2, 0.0, 0.0, 1.0, 0.0, -400.0), (0.3, 0.0, -np.pi / 2, np.pi / 2, 1.0, 0.0, -1000.0),
    (0.9, 0.1, 0.3, -0.3, 1.1, 0.0, -300.0),
]


def solve(case, error=None):
    x, y, start, end, length, down_x, down_y = case
    by = lambda law: BY if error == law else 1.0
    length, end = length * by("length"), end * by("direction") + (0.02 if error == "direction" else 0.0)
    down_x, down_y = down_x * by("weight"), down_y * by("weight")

    def slopes(s, v, p):
        hangs = length - s
        fx, fy = p[0] - hangs * down_x, p[1] - hangs * down_y
        return np.array([np.cos(v[2]), np.sin(v[2]), v[3], fy * np.cos(v[2]) - fx * np.sin(v[2])])

    def ends(a, b, p):
        return np.array([a[0], a[1], a[2] - start, b[0] - x, b[1] - y, b[2] - end])

    s = np.linspace(0, length, 81)
    best = None
    for bulge in (-1.2, 0.0, 1.2):
        for force in ((0.0, 0.0), (-20.0, 0.0), (0.0, 20.0), (0.0, -20.0)):
            angle = start + (end - start) * s / length + bulge * np.sin(2 * np.pi * s / length)
            step = length / 80
            guess = np.array([np.cumsum(np.cos(angle)) * step, np.cumsum(np.sin(angle)) * step, angle, np.gradient(angle, s)])
            found = solve_bvp(slopes, ends, s, guess, p=np.array(force), tol=1e-8, max_nodes=20000)
            if not found.success:
                continue
            fine = np.linspace(0, length, 4001)
            v = found.sol(fine)
            energy = np.trapezoid(v[3] ** 2, fine) / 2
            total = energy - np.trapezoid(v[0] * down_x + v[1] * down_y, fine)
            if best is None or total < best[0] - 1e-9:
                middle = found.sol(length / 2)
                best = (total, energy, 1 / np.abs(v[3]).max(), middle[0], middle[1])
    if best is None:
        sys.exit(f"no solution for {case}")
    return best[1:]


def main():
    if "--write" in sys.argv:
        rows = [",".join(f"{one:.9g}" for one in (*case, *solve(case))) for case in CASES]
        TABLE.write_text("\n".join([HEAD, *rows]) + "\n")
        return AGREES
    args = arguments(__doc__, LAWS).parse_args()
    lines = TABLE.read_text().splitlines()
    if lines[0] != HEAD or len(lines) != len(CASES) + 1:
        sys.exit("the table is not of these cases: write it anew")
    worst = 0.0
    for case, line in zip(CASES, lines[1:]):
        kept = [float(one) for one in line.split(",")]
        if not np.allclose(kept[:7], case, rtol=1e-8, atol=1e-12):
            sys.exit(f"another case in the table: {line}")
        scale = [kept[7], kept[8], case[4], case[4]]
        worst = max(worst, *(abs(a - b) / by for a, b, by in zip(solve(case, args.error), kept[7:], scale)))
        if worst > WITHIN:
            break
    print(f"{len(CASES)} bent pieces, largest difference {worst:.1e}, {WITHIN:.0e} allowed")
    return AGREES if worst <= WITHIN else DIFFERS


if __name__ == "__main__":
    sys.exit(main())
