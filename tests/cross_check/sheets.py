"""Reads the sheets with libraries that are not ours: pikepdf (qpdf), ezdxf, and Python's XML parser.

Usage: sheets.py EQUIROW_BINARY
"""

import math
import pathlib
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree

import ezdxf
import ezdxf.bbox
import pikepdf

HERE = pathlib.Path(__file__).resolve().parent.parent.parent


def sheet(binary, project, out, *options):
    done = subprocess.run(
        [binary, "sheet", str(HERE / "examples" / project), "--out", str(out), "--date", "2026-03-31", *options],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
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


def check_pdf(binary, folder):
    (path,) = sheet(binary, "nine-metre-bar.ron", folder / "a.pdf", "--scale", "1:10", "--paper", "A3", "--sheets", "layout")
    (again,) = sheet(binary, "nine-metre-bar.ron", folder / "b.pdf", "--scale", "1:10", "--paper", "A3", "--sheets", "layout")
    assert path.read_bytes() == again.read_bytes(), "the same project and date gave other bytes"
    with pikepdf.open(path) as pdf:
        assert not pdf.check_pdf_syntax(), pdf.check_pdf_syntax()
        width, height = (float(one) for one in pdf.pages[0].mediabox[2:])
        assert abs(width - 420 / 25.4 * 72) < 0.01 and abs(height - 297 / 25.4 * 72) < 0.01, (width, height)
        assert pdf.docinfo["/Title"], "no title"
        lengths = [math.dist(*piece) for page in pdf.pages for piece in straight_lines(page)]
        # The check line of 100 mm, which is also a metre at 1:10: 283.46 pt.
        assert any(abs(length - 283.4646) < 0.01 for length in lengths), "no line of 283.46 pt"
        fonts = [font for page in pdf.pages for font in page.resources["/Font"].values()]
        for font in fonts:
            descriptor = font["/DescendantFonts"][0]["/FontDescriptor"]
            assert "/FontFile2" in descriptor or "/FontFile3" in descriptor, "a font is not embedded"
            assert "+" in str(descriptor["/FontName"]), "a font is not a subset"
            assert "/ToUnicode" in font, "text can't be searched"
    print(f"PDF: {len(lengths)} straight pieces, 1000 mm at 1:10 is 283.46 pt, fonts embedded and searchable")


def check_dxf(binary, folder):
    for project in ("six-metre-trial-bar.ron", "nine-metre-bar.ron", "twelve-metre-bar.ron", "twenty-four-metre-bar.ron"):
        paths = sheet(binary, project, folder / f"{project}.dxf", "--sheets", "layout,schematic", "--paper", "A3")
        for path in paths:
            assert path.stem.endswith("mm"), f"{path} does not say its unit"
            drawing = ezdxf.readfile(path)
            auditor = drawing.audit()
            assert not auditor.errors and not auditor.fixes, (path, auditor.errors, auditor.fixes)
        # The overview, at whatever scale it was printed, is as wide as the bar's frame: true size in millimetres.
        drawing = ezdxf.readfile(paths[0])
        frame = ezdxf.bbox.extents(drawing.modelspace().query('*[layer=="FRAME"]'), fast=True)
        text = (HERE / "examples" / project).read_text()
        xs = [float(part.split("x: ")[1].split(",")[0]) for line in text.splitlines() if "width:" in line and "from:" in line
              for part in line.split("(x")[1:] for part in ["(x" + part]]
        width = (max(xs) - min(xs)) * 1000
        # A member is as wide as its profile: half of it stands over at each end where it lies across.
        assert abs(frame.size.x - width) <= 110, (project, frame.size.x, width)
        print(f"DXF: {project}, {len(paths)} files audited clean, frame {frame.size.x:.0f} mm wide, plan {width:.0f} mm")


def check_svg(binary, folder):
    paths = sheet(binary, "twelve-metre-bar.ron", folder / "a.svg", "--paper", "A4")
    for path in paths:
        root = ElementTree.parse(path).getroot()
        assert root.tag.endswith("svg") and root.get("width").endswith("mm")
    print(f"SVG: {len(paths)} files read by an XML parser")


def main():
    binary = str(pathlib.Path(sys.argv[1]).resolve())
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        check_pdf(binary, folder)
        check_dxf(binary, folder)
        check_svg(binary, folder)


main()
