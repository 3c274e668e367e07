#!/usr/bin/env python3
"""Reads the sheets with libraries that are not ours: pikepdf (qpdf), ezdxf, openpyxl, and Python's XML parser.

Usage: sheets.py EQUIROW_BINARY [--error WHAT]
  --error scale   prints at 1:20 what is measured at 1:10;  --error frame   takes the frame for 5 % wider than it is
  --error title   expects another title than the project's
Needs: pikepdf, ezdxf, openpyxl (pip). Exit code 0 if all agrees, 9 if something differs; anything else is a fault of the check.

Scales are proved by the bar itself: the frame members' lengths from the project file, read by a reader of its own.
"""

import math
import pathlib
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree

import ezdxf
import ezdxf.bbox
import openpyxl
import pikepdf

import ron
from common import AGREES, BY, DIFFERS, arguments

HERE = pathlib.Path(__file__).resolve().parent.parent.parent


class Differs(Exception):
    """Something is not as it should be."""


def holds(condition, what=""):
    if not condition:
        raise Differs(what)


def members(project):
    """All frame members of a project, ends in metres."""
    text = (HERE / "examples" / project).read_text(encoding="utf-8")
    return [one for section in ron.read(text)["project"]["bar"]["sections"] for one in section["members"]]


def sheet(binary, project, out, *options):
    done = subprocess.run(
        [binary, "sheet", str(HERE / "examples" / project), "--out", str(out), "--date", "2026-03-31", *options],
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode != 0:
        raise RuntimeError(done.stderr)
    return [pathlib.Path(line) for line in done.stdout.splitlines()]


def straight_lines(page):
    """Straight pieces of a page in points, the current transform applied."""
    matrix, stack, at, pieces = pikepdf.Matrix(), [], None, []
    for operands, operator in pikepdf.parse_content_stream(page):
        name = str(operator)
        if name == "q":
            stack.append(matrix)
        elif name == "Q":
            matrix = stack.pop()
        elif name == "cm":
            matrix = pikepdf.Matrix(*[float(one) for one in operands]) @ matrix
        elif name == "m":
            at = matrix.transform(tuple(float(one) for one in operands))
        elif name == "l":
            to = matrix.transform(tuple(float(one) for one in operands))
            pieces.append((at, to))
            at = to
    return pieces


def check_pdf(binary, folder, error):
    project = "nine-metre-bar.ron"
    options = ("--scale", "1:20" if error == "scale" else "1:10", "--paper", "A3", "--sheets", "layout")
    (path,) = sheet(binary, project, folder / "a.pdf", *options)
    (again,) = sheet(binary, project, folder / "b.pdf", *options)
    holds(path.read_bytes() == again.read_bytes(), "the same project and date gave other bytes")
    with pikepdf.open(path) as pdf:
        holds(not pdf.check_pdf_syntax(), pdf.check_pdf_syntax())
        width, height = (float(one) for one in pdf.pages[0].mediabox[2:])
        holds(abs(width - 420 / 25.4 * 72) < 0.01 and abs(height - 297 / 25.4 * 72) < 0.01, (width, height))
        holds(pdf.docinfo["/Title"], "no title")
        lengths = [math.dist(*piece) for page in pdf.pages for piece in straight_lines(page)]
        # The line to check a print by is 100 mm at any scale: 283.46 pt. The scale itself shows in the frame.
        holds(any(abs(length - 283.4646) < 0.01 for length in lengths), "no line of 283.46 pt")
        frame = {round(math.dist(*(tuple(end.values()) for end in (one["from"], one["to"]))), 6) for one in members(project)}
        for member in frame:
            drawn = member * 1000 / 10 / 25.4 * 72
            holds(any(abs(length - drawn) < 0.01 for length in lengths), f"no line of a frame member's {member} m at 1:10")
        fonts = [font for page in pdf.pages for font in page.resources["/Font"].values()]
        for font in fonts:
            descriptor = font["/DescendantFonts"][0]["/FontDescriptor"]
            holds("/FontFile2" in descriptor or "/FontFile3" in descriptor, "a font is not embedded")
            holds("+" in str(descriptor["/FontName"]), "a font is not a subset")
            holds("/ToUnicode" in font, "text can't be searched")
    print(f"PDF: {len(lengths)} straight pieces, frame members of {sorted(frame)} m at 1:10, fonts embedded and searchable")


def check_dxf(binary, folder, error):
    for project in ("six-metre-trial-bar.ron", "nine-metre-bar.ron", "twelve-metre-bar.ron", "twenty-four-metre-bar.ron"):
        paths = sheet(binary, project, folder / f"{project}.dxf", "--sheets", "layout,schematic", "--paper", "A3")
        for path in paths:
            holds(path.stem.endswith("mm"), f"{path} does not say its unit")
            drawing = ezdxf.readfile(path)
            auditor = drawing.audit()
            holds(not auditor.errors and not auditor.fixes, (path, auditor.errors, auditor.fixes))
        # The overview, at whatever scale it was printed, is as wide as the bar's frame: true size in millimetres.
        drawing = ezdxf.readfile(paths[0])
        frame = ezdxf.bbox.extents(drawing.modelspace().query('*[layer=="FRAME"]'), fast=True)
        # A member is as wide as its profile, which stands over at the ends where it lies across.
        left, right = [], []
        for one in members(project):
            start, end = (one["from"]["x"], one["from"]["y"]), (one["to"]["x"], one["to"]["y"])
            over = one["width"] / 2 * abs(end[1] - start[1]) / math.dist(start, end)
            left.append(min(start[0], end[0]) - over)
            right.append(max(start[0], end[0]) + over)
        width = (max(right) - min(left)) * 1000 * (BY if error == "frame" else 1)
        holds(abs(frame.size.x - width) <= 0.5, (project, frame.size.x, width))
        print(f"DXF: {project}, {len(paths)} files audited clean, frame {frame.size.x:.0f} mm wide, plan {width:.0f} mm")


def check_svg(binary, folder):
    paths = sheet(binary, "twelve-metre-bar.ron", folder / "a.svg", "--paper", "A4")
    for path in paths:
        root = ElementTree.parse(path).getroot()
        holds(root.tag.endswith("svg") and root.get("width").endswith("mm"))
    print(f"SVG: {len(paths)} files read by an XML parser")


# Letters that PDF, XMP and the properties of a spreadsheet write in another way, or must not hold.
TITLE, AUTHOR = "Bar (9 m\\) & <b> \"Łódź\" %25 )(", "O'Brien (<ü>) & ]]> _x0041_"


def check_properties(binary, folder, error):
    """Title and author as PDF and XLSX hold them, besides the pages."""
    text = (HERE / "examples" / "nine-metre-bar.ron").read_text(encoding="utf-8")
    quoted = lambda words: '"' + words.replace("\\", "\\\\").replace('"', '\\"') + '"'
    text = text.replace('title: "Nine-metre bar"', "title: " + quoted(TITLE), 1)
    text = text.replace('creator: ""', "creator: " + quoted(AUTHOR), 1)
    project = folder / "properties.ron"
    project.write_text(text, encoding="utf-8")
    title, author = (TITLE + "9", AUTHOR) if error else (TITLE, AUTHOR)
    (path,) = sheet(binary, project, folder / "c.pdf", "--sheets", "layout", "--paper", "A3")
    with pikepdf.open(path) as pdf:
        holds(title in str(pdf.docinfo["/Title"]), (title, str(pdf.docinfo["/Title"])))
        holds(str(pdf.docinfo["/Author"]) == author, (author, str(pdf.docinfo["/Author"])))
        with pdf.open_metadata() as xmp:
            holds(title in xmp["dc:title"], (title, xmp["dc:title"]))
            holds(list(xmp["dc:creator"]) == [author], (author, xmp["dc:creator"]))
    book = folder / "c.xlsx"
    subprocess.run([binary, "parts", str(project), "--out", str(book)], check=True, capture_output=True)
    properties = openpyxl.load_workbook(book).properties
    holds(title in properties.title, (title, properties.title))
    holds(properties.creator == author, (author, properties.creator))
    print("Title and author with every kind of special letter: the same in PDF, its XMP, and XLSX")


def main():
    asked = arguments(__doc__, ["scale", "frame", "title"]).parse_args()
    binary = str(pathlib.Path(asked.binary).resolve())
    try:
        with tempfile.TemporaryDirectory() as name:
            folder = pathlib.Path(name)
            if asked.error in (None, "title"):
                check_properties(binary, folder, asked.error)
            if asked.error in (None, "scale"):
                check_pdf(binary, folder, asked.error)
            if asked.error in (None, "frame"):
                check_dxf(binary, folder, asked.error)
            if not asked.error:
                check_svg(binary, folder)
    except Differs as what:
        print(f"DIFFERS: {what}")
        sys.exit(DIFFERS)
    sys.exit(AGREES)


if __name__ == "__main__":
    main()
