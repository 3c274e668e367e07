#!/usr/bin/env python3
"""Numbers of the papers against a second computation from the project file: cut lengths of every hose and tube, and what the
commissioning sheet expects of gauges, flow meter and catch jugs, with the liquid and with water.

Usage: papers.py EQUIROW_BINARY [--error LAW]
  --error LAW   changes one law by 5 % on this side only: the check must then differ
Needs: numpy, scipy, openpyxl (pip). Exit code 0 if all agrees, 9 if something differs; anything else is a fault of the check.

Lengths and flows come from plan_road.py, which reads the project file itself. The papers round: lengths up to 10 mm
(metering tubes to the nearest 1 mm), other numbers to the digits that they show. A number may be off by its rounding and
no more.
"""
import copy
import csv
import math
import os
import re
import subprocess
import sys
import tempfile

import openpyxl

import plan_road
import project_variants
from common import AGREES, DIFFERS, arguments
from plan_road import Laws, Plan, expect, place
from ron import some

LAWS = ["length", "slack", "allowance", "measured", "cd", "cracking", "density", "height", "share"]
# Water at 0.1 MPa: viscosity after IAPWS SR6-08 (2011), density from the table at lsbu.ac.uk/water.
WATER = [(0, 999.84, 1.7918), (5, 999.96, 1.5182), (10, 999.70, 1.3059), (15, 999.10, 1.1375), (20, 998.20, 1.0016),
         (25, 997.05, 0.8900), (30, 995.65, 0.7972), (40, 992.22, 0.6527)]


def run(command):
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(command)}: {done.stderr}")


# ---------------------------------------------------------------------------------------------------------------------
# Cut lengths


def loop(plan, line, limit, usual):
    """What a piece is cut longer for the loop at an end that moves; nothing where it was measured. Metres."""
    if some(line["measured"]) is not None:
        return 0.0
    # A file holds what was changed, which may be nothing.
    return (plan.project["limits"] or {}).get(limit, usual)


def pieces(plan):
    """Tag, length and whether it meters, of everything that is cut: hoses, then the tubes of each feed in their order."""
    for run_ in plan.routing["runs"]:
        length = plan.length(run_["line"], plan.end(run_["from"]), plan.end(run_["to"]))
        if "Supply" in (run_["from"].name, run_["to"].name):
            length += loop(plan, run_["line"], "hitch_loop", 0.5)
        yield run_["tag"], length, False
    for feed in plan.routing["feeds"]:
        found = []
        at = plan.end(feed["from"])
        split = some(feed["split"])
        # Of a branch without a tube of its own, the shared one ends at the opener.
        to_opener = any(all(one.name != "Tube" for one in branch["elements"]) for branch in feed["branches"])
        at = tubes(plan, feed["trunk"], at, place(split["position"]) if split else at, found, to_opener)
        begin = place(split["position"]) if split else at
        for branch in feed["branches"]:
            tubes(plan, branch["elements"], begin, plan.outlet(plan.rows[branch["row"]]), found, True)
        for number, (length, metering) in enumerate(found, 1):
            yield feed["tag"] if len(found) == 1 else f"{feed['tag']}.{number}", length, metering


def tubes(plan, elements, at, destination, found, opener=False):
    last = max((index for index, element in enumerate(elements) if element.name == "Tube"), default=None)
    for index, element in enumerate(elements):
        if element.name == "Tube":
            own = some(element.value["end"])
            end = place(own) if own and index != last else destination
            length = plan.length(element.value["line"], at, end)
            # The last tube of a row ends at its opener.
            if opener and index == last:
                length += loop(plan, element.value["line"], "opener_loop", 0.25)
            found.append((length, False))
            at = end
        elif element.name == "MeteringTube":
            found.append((plan.laws("length", element.value["length"]), True))
    return at


def cut(length, metering):
    """Millimetres as the list rounds them."""
    if metering:
        return max(1, math.floor(length * 1e3 + 0.5))
    return max(10, 10 * math.ceil(length * 1e2 - 1e-4))


def compare_cuts(binary, name, project, path, routing, error, folder):
    out = os.path.join(folder, "cuts.csv")
    run([binary, "cuts", path, "--routing", routing, "--units", "metric", "--out", out, "--replace"])
    with open(out, encoding="utf-8-sig", newline="") as file:
        listed = {row["Tag"]: float(row["Fitted length (mm)"]) for row in csv.DictReader(file)}
    expected = {tag: (cut(length, metering), length) for tag, length, metering in pieces(Plan(project, routing, Laws(error)))}
    wrong = []
    if listed.keys() != expected.keys():
        wrong.append(f"{name}: pieces {sorted(listed.keys() ^ expected.keys())} are listed on one side only")
    for tag in listed.keys() & expected.keys():
        if listed[tag] != expected[tag][0]:
            wrong.append(f"{name}: {tag} is cut to {listed[tag]:.0f} mm there, {expected[tag][0]} mm ({expected[tag][1]:.6f} m) here")
    return len(listed), wrong


# ---------------------------------------------------------------------------------------------------------------------
# Commissioning sheet


def with_water(project):
    project = copy.deepcopy(project)
    project["duties"][0]["liquid"]["points"] = [{"temperature": t, "density": density, "viscosity": viscosity * 1e-3}
                                   for t, density, viscosity in WATER]
    return project


def tables(path):
    """Headings and rows of every sheet, each number with half of its last digit."""
    book = openpyxl.load_workbook(path)
    for sheet in book.worksheets:
        rows = list(sheet.iter_rows())
        yield sheet.title, [cell.value for cell in rows[0]], [
            [(cell.value, 0.5 * 10.0 ** -len((str(cell.number_format).split(".") + [""])[1])) for cell in row] for row in rows[1:]]


def compare_sheet(binary, name, project, path, routing, error, folder):
    out = os.path.join(folder, "commissioning.xlsx")
    run([binary, "commissioning", path, "--routing", routing, "--units", "metric", "--out", out, "--replace"])
    asked = project["duties"][0]
    speeds = [asked["slowest"], (asked["slowest"] + asked["usual"]) / 2, asked["usual"], (asked["usual"] + asked["fastest"]) / 2,
              asked["fastest"]]
    at = lambda what, speed: expect(what, routing, {"--speed": repr(speed * 3.6)}, error)
    water = with_water(project)
    compared, wrong = 0, []

    def check(what, cell, value):
        nonlocal compared
        said, half = cell
        compared += 1
        if said is None or abs(said - value) > half * (1 + 1e-6) + 1e-9 * abs(value):
            wrong.append(f"{name}: {what} is {said} there, {value:.6g} here")

    for title, headings, rows in tables(out):
        column = {heading: at for at, heading in enumerate(headings)}
        if title.startswith("Pressures and total flow"):
            with_liquid = not title.endswith("water") or asked["liquid"]["name"].lower() == "water"
            for row in rows:
                said = row[column["Speed (km/h)"]][0]
                # Speeds are shown rounded; which of the five it is decides.
                speed = min(speeds, key=lambda one: abs(one * 3.6 - said))
                mine = at(project if with_liquid else water, speed)
                label = f"{title}, {said} km/h"
                check(f"{label}, total", row[column["Total flow expected (L/min)"]], mine["total"])
                check(f"{label}, asked", row[column["Total flow asked (L/min)"]], mine["asked"])
                check(f"{label}, pump", row[column["Pump expected (bar)"]], mine["pump"] / 100)
                for tag, value in (mine["gauges"] or mine["manifolds"]).items():
                    check(f"{label}, {tag}", row[column[f"{tag} expected (bar)"]], value / 100)
        elif title == "Catch of every row":
            liquid = at(project, asked["usual"])
            others = {"Liquid": liquid}
            if "Water expected (mL)" in column:
                others["Water"] = at(water, asked["usual"])
            # At least 250 mL from every row, 30 s to 15 min, in steps of 10 s.
            least = min(row["flow"] for one in others.values() for row in one["rows"].values() if row["flow"] > 0)
            seconds = min(900.0, 10 * math.ceil(max(250 / least / 1e3 * 60, 30) / 10 - 1e-9))
            limits = project["limits"] or {}  # a file holds what was changed, which may be nothing
            band = limits.get("row_deviation", 0.05)
            for row in rows:
                number = row[column["Row"]][0]
                catch = lambda flow: flow * 1e3 / 60 * seconds
                mine = liquid["rows"][number]
                if mine["flow"] <= 0:
                    continue
                check(f"row {number}, target", row[column["Target (mL)"]], catch(mine["target"]))
                for what, outcome in others.items():
                    expected = outcome["rows"][number]["flow"]
                    allowed = catch(expected) * mine["target"] / mine["flow"]
                    check(f"row {number}, {what}", row[column[f"{what} expected (mL)"]], catch(expected))
                    check(f"row {number}, {what} lowest", row[column[f"{what} target from (mL)"]], allowed * (1 - band))
                    check(f"row {number}, {what} highest", row[column[f"{what} target to (mL)"]], allowed * (1 + band))
                    check(f"row {number}, {what} drawn from", row[column[f"{what} drawn from (mL)"]], catch(expected) * (1 - band))
                    check(f"row {number}, {what} drawn to", row[column[f"{what} drawn to (mL)"]], catch(expected) * (1 + band))
    return compared, wrong


def main():
    asked = arguments(__doc__, LAWS).parse_args()
    wrong, lengths, numbers = [], 0, 0
    with tempfile.TemporaryDirectory() as folder:
        examples = plan_road.examples(folder)
        # A deliberate error shows in one example as in all.
        for stem, project, path in examples[1:2] if asked.error else examples:
            for routing in project["routings"]:
                name = f"{stem} {routing['name']}"
                more, faults = compare_cuts(asked.binary, name, project, path, routing["name"], asked.error, folder)
                lengths += more
                wrong += faults
                more, faults = compare_sheet(asked.binary, name, project, path, routing["name"], asked.error, folder)
                numbers += more
                wrong += faults
        for name, project, routing in project_variants.variants(plan_road.as_drawn(), VARIANTS):
            path = os.path.join(folder, "variant.ron")
            plan_road.save(project, path)
            more, faults = compare_cuts(asked.binary, name, project, path, routing, asked.error, folder)
            lengths += more
            wrong += faults
    for line in wrong[:40]:
        print(line)
    if not lengths or not numbers:
        raise RuntimeError("nothing was compared")
    print(f"{lengths} cut lengths and {numbers} numbers of commissioning sheets compared, {len(wrong)} differ")
    sys.exit(DIFFERS if wrong else AGREES)


VARIANTS = 20

if __name__ == "__main__":
    main()
