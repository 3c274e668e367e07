#!/usr/bin/env python3
"""Reads the lists with readers that are not ours: XLSX with openpyxl, CSV with Python's csv module.

Usage: lists.py EQUIROW_BINARY PROJECT... [--error number]
Both files of one list must say the same: the same headings, the same lines, numbers as numbers with equal values. The
parts list must agree with a count made here from the project's text, and no sheet may hold a formula.
`--error number` changes one number in the CSV that was read: the comparison must then fail.
Needs: openpyxl (pip). Exit code 0 if all agrees, 9 if anything differs; anything else is a fault of the check.
"""
import collections, csv, os, re, subprocess, sys, tempfile
import openpyxl

from common import AGREES, DIFFERS, arguments


def write(binary, what, project, out):
    subprocess.run([binary, what, project, "--out", out, "--replace"], check=True)
    with open(out, "rb") as file:
        first = file.read()
    subprocess.run([binary, what, project, "--out", out, "--replace"], check=True)
    with open(out, "rb") as file:
        assert file.read() == first, f"{out}: not the same bytes twice"


def value(cell):
    """A CSV cell as a spreadsheet would hold it."""
    if cell == "":
        return None
    try:
        return float(cell)
    except ValueError:
        return cell


def as_sheet(cell):
    return float(cell) if isinstance(cell, (int, float)) else cell


def entries_used(project):
    """How often each catalogue entry is named by the first routing, from the text alone."""
    with open(project, encoding="utf-8") as file:
        text = file.read()
    routing = text[text.index("routings: ["):]
    second = [at.start() for at in re.finditer(r"\n *id: \d+,\n *name: ", routing)]
    if len(second) > 1:
        routing = routing[:second[1]]
    keys = re.findall(r'key: "([^"]+)"', text[text.index("catalogue: ("):text.index("routings: [")])
    numbers = dict(zip(keys, re.findall(r'part_number: "([^"]+)"', text)))
    named = collections.Counter(re.findall(r'"([^"]+)"', routing))
    return {numbers[key]: named[key] for key in keys if named[key]}


def main():
    parser = arguments(__doc__, ["number"])
    parser.add_argument("projects", nargs="+")
    asked = parser.parse_args()
    binary, projects, error = asked.binary, asked.projects, asked.error
    wrong = []
    for project in projects:
        with tempfile.TemporaryDirectory() as folder:
            for what in ("parts", "cuts"):
                # An odd name on purpose.
                table, sheet = os.path.join(folder, f"a list, {what} µ.csv"), os.path.join(folder, f"{what} Ø.xlsx")
                write(binary, what, project, table)
                write(binary, what, project, sheet)
                with open(table, encoding="utf-8-sig", newline="") as file:
                    lines = list(csv.reader(file, strict=True))
                if error:
                    lines[1][1] += "9"
                book = openpyxl.load_workbook(sheet)
                rows = [list(row) for row in book.worksheets[0].iter_rows(values_only=True)]
                width = len(lines[0])
                if any(len(line) != width for line in lines):
                    wrong.append(f"{project}, {what}: the CSV is not rectangular")
                if rows[0] != lines[0]:
                    wrong.append(f"{project}, {what}: headings {rows[0]} against {lines[0]}")
                if len(rows) != len(lines):
                    wrong.append(f"{project}, {what}: {len(rows)} lines in the XLSX, {len(lines)} in the CSV")
                for number, (row, line) in enumerate(zip(rows[1:], lines[1:]), 2):
                    # A revision is a word, `1` as well as `B`: text in a sheet too.
                    words = {at for at, heading in enumerate(lines[0]) if heading == "Revision"}
                    sheet = [cell if at in words else as_sheet(cell) for at, cell in enumerate(row)]
                    if sheet != [cell if at in words else value(cell) for at, cell in enumerate(line)]:
                        wrong.append(f"{project}, {what}, line {number}: {row} against {line}")
                for one in book.worksheets:
                    for row in one.iter_rows():
                        wrong += [f"{project}, {what}: {cell.coordinate} is a formula" for cell in row if cell.data_type == "f"]
                said = " ".join(str(row[0]) for row in book.worksheets[-1].iter_rows(values_only=True))
                for word in ("pressure", "wings", "chemicals", "Local codes"):
                    if word not in said:
                        wrong.append(f"{project}, {what}: the XLSX does not speak of {word}")
                if what == "parts":
                    heading = lines[0]
                    listed = {}
                    for line in lines[1:]:
                        got = dict(zip(heading, line))
                        # What no catalogue entry stands for has an item number and no part number, or words in its place.
                        if got["Item"] and got["Part number"] and not got["Part number"].startswith("no entry"):
                            pieces = re.match(r"(\d+) pieces?\b", got["Remarks"])
                            listed[got["Part number"]] = int(pieces[1] if pieces else got["In use"])
                    if listed != entries_used(project):
                        wrong.append(f"{project}: parts {listed} against {entries_used(project)} counted in its text")
                else:
                    length = [name for name in lines[0] if name.startswith("Cut length")]
                    if length != ["Cut length (mm)"]:
                        wrong.append(f"{project}: cut lengths are headed {length}")
    for line in wrong:
        print(line)
    print(f"{len(projects)} projects, {len(wrong)} differences between CSV, XLSX and the project's text")
    return DIFFERS if wrong else AGREES


if __name__ == "__main__":
    sys.exit(main())
