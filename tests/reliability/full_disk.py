#!/usr/bin/env python3
"""Saves, exports and keeps unsaved work on a full disk, and saves on one that is read-only: each fails with one
sentence, harms nothing and leaves nothing.

The disk is a small tmpfs in a mount namespace of its own (as root, or where users may make namespaces).

Usage: full_disk.py RELIABILITY_TEST_BINARY
Exit code 0 if all is well, 1 if not; where no disk can be mounted it prints SKIPPED as its last line and passes,
unless the variable CI is set.
"""

import os
import subprocess
import sys
import tempfile

SIZE = 256 << 10


def contents(folder):
    """Every file below a folder with its bytes, and every folder."""
    found = {}
    for top, _, names in os.walk(folder):
        found[top] = None
        for name in names:
            with open(os.path.join(top, name), "rb") as file:
                found[os.path.join(top, name)] = file.read()
    return found


def room(disk):
    known = os.statvfs(disk)
    return known.f_bavail * known.f_frsize


def fill(disk, left):
    """Takes the room of a disk but for so many bytes."""
    with open(os.path.join(disk, "filler"), "wb") as filler:
        filler.write(b"x" * max(room(disk) - left, 0))


def run(binary, *arguments):
    return subprocess.run([binary, *arguments], capture_output=True, text=True)


def inside(binary, disk):
    complaints = []
    bar, out = os.path.join(disk, "bar.ron"), os.path.join(disk, "out.txt")
    for arguments in (["save", bar, "1"],):
        done = run(binary, *arguments)
        if done.returncode:
            return [f"with room: {arguments[0]} failed: {done.stderr}"]
    # Nothing left at all; room for the beginning of a file; nearly enough.
    for left in (0, 4096, 8192):
        if os.path.exists(os.path.join(disk, "filler")):
            os.remove(os.path.join(disk, "filler"))
        fill(disk, left)
        for what, arguments in (("save", ["save", bar, "2"]), ("export", ["export", out, "2"])):
            before = contents(disk)
            done = run(binary, *arguments)
            said = done.stderr.strip()
            place = arguments[1]
            if done.returncode != 3:
                complaints.append(f"{what}, {left} bytes left: it ended with code {done.returncode}: {said}")
            wanted = f"{place}: it can't be written: the disk is full; make room on the disk, or save it on another"
            if said != wanted:
                complaints.append(f"{what}, {left} bytes left: it says: {said}")
            if contents(disk) != before:
                complaints.append(f"{what}, {left} bytes left: something was changed or left on the disk")
        print(f"full disk: {left} bytes left: refused, nothing changed")
    # What a kill left behind makes room for the next save.
    os.remove(os.path.join(disk, "filler"))
    with open(os.path.join(disk, ".equirow-aaaaaa.part"), "wb") as abandoned:
        abandoned.write(b"x" * (64 << 10))
    fill(disk, 0)
    done = run(binary, "save", bar, "2")
    if done.returncode:
        complaints.append(f"an abandoned file keeps its room: {done.stderr}")
    # Unsaved work: the last that was kept stays.
    os.remove(os.path.join(disk, "filler"))
    state = os.path.join(disk, "unsaved")
    if run(binary, "keep", state, "1").returncode:
        complaints.append("with room: unsaved work was not kept")
    before = contents(state)
    fill(disk, 0)
    done = run(binary, "keep", state, "2")
    lost = [name for name, bytes_ in before.items() if contents(state).get(name) != bytes_]
    if done.returncode == 0 or lost:
        complaints.append(f"unsaved work on a full disk: code {done.returncode}, lost {lost}: {done.stderr}")
    print("full disk: unsaved work that was kept stays")
    subprocess.run(["mount", "-o", "remount,ro", disk], check=True)
    before = contents(disk)
    for place in (bar, out):
        done = run(binary, "save", place, "3")
        wanted = f"{place}: it can't be written: the disk is read-only; save it on another disk"
        if done.returncode != 3 or done.stderr.strip() != wanted:
            complaints.append(f"read-only disk: code {done.returncode}, it says: {done.stderr.strip()}")
    if contents(disk) != before:
        complaints.append("read-only disk: something was changed")
    print("read-only disk: refused")
    return complaints


def main():
    if len(sys.argv) == 4 and sys.argv[1] == "--inside":
        subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", sys.argv[3]], check=True)
        complaints = inside(sys.argv[2], sys.argv[3])
        for complaint in complaints:
            print("full disk:", complaint, file=sys.stderr)
        sys.exit(1 if complaints else 0)
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    namespace = ["unshare", "--mount"] if os.geteuid() == 0 else ["unshare", "--mount", "--map-root-user"]
    with tempfile.TemporaryDirectory() as disk:
        mount = [*namespace, "mount", "-t", "tmpfs", "tmpfs", disk]
        if subprocess.run(mount, capture_output=True).returncode:
            print("SKIPPED: no small disk can be mounted here, so that a full one was not tried")
            sys.exit(1 if os.environ.get("CI") else 0)
        binary = os.path.realpath(sys.argv[1])
        done = subprocess.run([*namespace, sys.executable, os.path.realpath(__file__), "--inside", binary, disk])
        sys.exit(done.returncode)


main()
