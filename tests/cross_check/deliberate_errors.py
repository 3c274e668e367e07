#!/usr/bin/env python3
"""Runs every check with every deliberate error that it takes, and prints which was noticed by which check.

Usage: deliberate_errors.py EQUIROW_BINARY
An error is noticed if the check ends with its own exit code for a difference; a crash, a missing file or a wrong argument is
a fault of the check. Exit code 0 if all are noticed, 9 if one is not.
"""
import concurrent.futures
import os
import pathlib
import subprocess
import sys

from common import AGREES, DIFFERS

HERE = pathlib.Path(__file__).resolve().parent
EXAMPLE = HERE.parent.parent / "examples" / "nine-metre-bar.ron"
# Each check with what it needs besides the program.
CHECKS = {"epa_engine": [], "examples": [], "plan_road": [], "papers": [], "lists": [str(EXAMPLE)], "sheets": [],
          "filling": [str(EXAMPLE)], "equalise": [], "elastica": []}


def check(name, arguments):
    return subprocess.run([sys.executable, str(HERE / f"{name}.py"), *arguments], capture_output=True, text=True, check=False)


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    binary = sys.argv[1]
    errors = {}
    for name in CHECKS:
        listed = check(name, ["--list-errors"])
        errors[name] = listed.stdout.split("\n")[:-1]
        if listed.returncode != AGREES or not errors[name]:
            sys.exit(f"{name}.py lists no errors: {listed.stderr}")
    pairs = [(name, error) for name in CHECKS for error in errors[name]]
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        done = list(pool.map(lambda pair: check(pair[0], [binary, *CHECKS[pair[0]], "--error", pair[1]]), pairs))
    codes = {pair: one.returncode for pair, one in zip(pairs, done)}
    rows = list(dict.fromkeys(error for _, error in pairs))
    width = max(map(len, rows))
    print(f"{'deliberate error':<{width}}  " + "  ".join(CHECKS))
    word = {None: "-", DIFFERS: "noticed", AGREES: "UNSEEN"}
    for error in rows:
        cells = [f"{word.get(codes.get((name, error)), 'FAULT'):<{len(name)}}" for name in CHECKS]
        print(f"{error:<{width}}  " + "  ".join(cells).rstrip())
    for pair, one in zip(pairs, done):
        if one.returncode not in (DIFFERS, AGREES):
            print(f"{pair[0]}.py --error '{pair[1]}' ended with {one.returncode}:\n{one.stderr}")
    sys.exit(AGREES if set(codes.values()) == {DIFFERS} else DIFFERS)


if __name__ == "__main__":
    main()
