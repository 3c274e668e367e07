#!/usr/bin/env python3
"""Time and peak memory of every reader on its largest permitted and its first refused file.

    cargo build --example readers && tests/reliability/readers.py target/debug/examples/readers

Prints one line a file. Memory is the most that the process ever held, all that the program needs besides included.
"""

import re
import subprocess
import sys
import tempfile
from pathlib import Path

MIB = 1 << 20
ROOT = Path(__file__).resolve().parents[2]


def project(copies, note, comment):
    """The demo with so many routings, and a comment that fills the file."""
    text = (ROOT / "examples/twelve-metre-bar.ron").read_text()
    start = text.index("routings: [")
    first = text.index("(", start)
    depth, at, in_text = 0, first, False
    while True:
        letter = text[at]
        if letter == '"':
            in_text = not in_text
        elif not in_text and letter in "([{":
            depth += 1
        elif not in_text and letter in ")]}":
            depth -= 1
            if depth == 0:
                break
        at += 1
    routing = text[first:at + 1]
    more = "".join(
        re.sub(r"id: \d+", f"id: {100 + copy}", re.sub(r'name: "[^"]*"', f'name: "copy {copy}"', routing, count=1), count=1)
        + ",\n"
        for copy in range(copies)
    )
    text = text[:first] + more + text[first:]
    if comment:
        text += "// " + "x" * (comment - len(text.encode()) - 4) + "\n"
    return text.replace('notes: ""', f'notes: "{note}"', 1)


def strings(size):
    """As many short texts as fit: what takes the most memory for its length."""
    head = project(0, "", 0)
    start = head.index("dismissed: [")
    end = head.index("]", start)
    room = size - len(head.encode())
    one = '(kind:(rule:"",case:""),routing:1,subjects:[],reason:"",by:""),'
    return head[: start + 12] + one * (room // len(one)) + head[end:]


def points(size):
    head = project(0, "", 0)
    at = head.index("waypoints: [") + 12
    point = "(x:0,y:0,z:1),"
    return head[:at] + point * ((size - len(head.encode())) // len(point)) + head[at:]


def network(size):
    nodes = size // 110
    head = '{"format": "liquid-network/1", "fluid": {"density_kg_m3": 1000, "viscosity_dynamic_pa_s": 0.001},\n "nodes": [{"id": "0", "fixed_pressure_pa": 1e5}'
    middle = "".join(f',\n{{"id": "{n}"}}' for n in range(1, nodes)) + '],\n "links": [{"id": "0", "kind": "fitting", "from": "0", "to": "1", "k": 1, "bore_m": 0.01}'
    tail = "".join(
        f',\n{{"id":"{n}","kind":"fitting","from":"{n}","to":"{n + 1}","k":1,"bore_m":0.01}}' for n in range(1, nodes - 1)
    )
    text = head + middle + tail + "]}"
    assert len(text) <= size, len(text)
    return text + " " * (size - len(text))


def catalogue_table(entries, size):
    head = "Key,Kind,Description,Bore (mm),Loss coefficient\n"
    body = "".join(f"entry {n},fitting,{'words ' * 80},10,1\n" for n in range(entries))
    return head + body + "\n" * max(0, size - len(head) - len(body))


def rows(count, size, x=lambda n: str(n * 6)):
    body = "x (mm);forward;height\n" + "".join(f"{x(n)};0;0\n" for n in range(count))
    return body + "\n" * max(0, size - len(body))


def main():
    tool = sys.argv[1]
    row_mib, catalogue_mib, project_mib, network_mib = 4, 4, 16, 32
    bad_line = "200;abc;0\n"
    cases = [
        ("project", "demo, filled up to 16 MiB", lambda: project(17, "", project_mib * MIB)),
        ("project", "16 MiB and a byte", lambda: project(17, "", project_mib * MIB + 1)),
        ("project", "20 routings", lambda: project(18, "", 0)),
        ("project", "21 routings", lambda: project(19, "", 0)),
        ("project", "16 MiB of empty texts", lambda: strings(project_mib * MIB)),
        ("project", "16 MiB of waypoints", lambda: points(project_mib * MIB)),
        ("catalogue", "table, 2000 entries, 4 MiB", lambda: catalogue_table(2000, catalogue_mib * MIB)),
        ("catalogue", "table, 2001 entries", lambda: catalogue_table(2001, 0)),
        ("catalogue", "table, 4 MiB and a byte", lambda: catalogue_table(2000, catalogue_mib * MIB + 1)),
        ("catalogue", "table, 100,000 bad lines", lambda: "Key,Kind\n" + "x,no such kind\n" * 100_000),
        ("rows", "1000 rows, 4 MiB", lambda: rows(1000, row_mib * MIB)),
        ("rows", "1001 rows", lambda: rows(1001, 0)),
        ("rows", "4 MiB and a byte", lambda: rows(1000, row_mib * MIB + 1)),
        ("rows", "200,000 bad lines", lambda: "x;y;z\n" + bad_line * 200_000),
        ("rows", "560,000 rows at one place", lambda: rows(350_000, 0, lambda n: "1")),
        ("network", "32 MiB", lambda: network(network_mib * MIB)),
        ("network", "32 MiB and a byte", lambda: network(network_mib * MIB) + " "),
    ]
    with tempfile.TemporaryDirectory() as folder:
        for kind, name, make in cases:
            path = Path(folder) / ("file.csv" if "table" in name else "file")
            path.write_text(make())
            done = subprocess.run([tool, "read", kind, str(path)], capture_output=True, text=True, check=False)
            said = done.stdout.strip() if done.returncode == 0 else f"EXIT {done.returncode}: {done.stderr[-300:]}"
            print(f"{kind:10} {name:28} {path.stat().st_size / MIB:6.2f} MiB: {said[:160]}", flush=True)


if __name__ == "__main__":
    main()
