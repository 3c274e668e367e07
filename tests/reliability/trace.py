#!/usr/bin/env python3
"""Looks at the system calls of a save: written beside, flushed, renamed, folder flushed, in this order.

A kill says nothing of a power cut, because the system goes on writing what it was given. What has to hold for a power
cut is this order: the bytes are on the disk before they take the name, and the name is on the disk before the save is
reported. This looks at it for a save over a file, a save of a new file, an export of several files, and unsaved work
that is kept apart; and that a private file is private before its first byte.

Usage: trace.py RELIABILITY_TEST_BINARY
       trace.py --self-check            the judgement alone, on traces in which something is out of order
Needs strace. Exit code 0 if every order is right, 1 if one is not.
"""

import os
import re
import subprocess
import sys
import tempfile

CALLS = "openat,open,creat,write,pwrite64,writev,fsync,fdatasync,rename,renameat,renameat2,flock,fchmod,chmod"
OPENED = re.compile(r'^open(?:at)?\((?:AT_FDCWD(?:<[^>]*>)?, )?"(?P<path>[^"]*)", (?P<flags>[A-Z_|]+)(?:, (?P<mode>0\d+))?\) = (?P<fd>\d+)')
ON_FILE = re.compile(r"^(?P<call>write|pwrite64|writev|fsync|fdatasync|fchmod|flock)\((?P<fd>\d+)(?:<[^>]*>)?(?:, (?P<rest>.*))?\) += (?P<result>-?\d+)")
RENAMED = re.compile(r'^rename(?:at2?)?\((?:AT_FDCWD(?:<[^>]*>)?, )?"(?P<old>[^"]*)", (?:AT_FDCWD(?:<[^>]*>)?, )?"(?P<new>[^"]*)"(?:, (?:0|RENAME_NOREPLACE))?\) = 0')
BESIDE = re.compile(r"/\.equirow-[A-Za-z0-9]{6}\.part$")


def steps(trace):
    """What a trace did to files still being written and to folders: (what, path), in order."""
    opened = {}
    found = []
    for line in trace.splitlines():
        line = re.sub(r"^(\[pid +\d+\]|\d+) +", "", line.strip())
        if match := OPENED.match(line):
            opened[match["fd"]] = match["path"]
            if BESIDE.search(match["path"]) and "O_CREAT" in match["flags"]:
                found.append((f"make {match['mode']}", match["path"]))
        elif match := ON_FILE.match(line):
            path = opened.get(match["fd"], "")
            if int(match["result"]) < 0 or not path:
                continue
            call = {"pwrite64": "write", "writev": "write", "fdatasync": "fsync"}.get(match["call"], match["call"])
            if call == "fchmod":
                call = f"fchmod {match['rest']}"
            if BESIDE.search(path) or call == "fsync":
                found.append((call, path))
        elif match := RENAMED.match(line):
            found.append(("rename", f"{match['old']} {match['new']}"))
    return found


def judge(found, targets, private=()):
    """Why the steps do not prove that these files survive a power cut; nothing if they do."""
    complaints = []
    for target in targets:
        renames = [(at, path.split(" ")[0]) for at, (what, path) in enumerate(found)
                   if what == "rename" and path.endswith(" " + target)]
        if len(renames) != 1:
            complaints.append(f"{target}: it took its name {len(renames)} times, not once")
            continue
        renamed, beside = renames[0]
        own = [(at, what) for at, (what, path) in enumerate(found) if path == beside]
        made = [at for at, what in own if what.startswith("make")]
        writes = [at for at, what in own if what == "write"]
        flushes = [at for at, what in own if what == "fsync"]
        folder = os.path.dirname(target)
        folder_flushes = [at for at, (what, path) in enumerate(found) if what == "fsync" and path == folder]
        if not made or not writes:
            complaints.append(f"{target}: it was not written beside")
        elif not [at for at, what in own if what == "flock" and made[0] < at < writes[0]]:
            complaints.append(f"{target}: the file beside is not held before the first byte")
        if not [at for at in flushes if at > max(writes, default=0) and at < renamed]:
            complaints.append(f"{target}: it is not flushed between the last byte and the rename")
        if [at for at in writes if at > renamed]:
            complaints.append(f"{target}: bytes are written after the rename")
        if not [at for at in folder_flushes if at > renamed]:
            complaints.append(f"{target}: its folder is not flushed after the rename")
        if target in private and writes:
            rights = [int(what.split(" ")[1], 8) for at, what in own
                      if what.startswith(("make", "fchmod")) and at < writes[0]]
            if not rights or any(right & 0o077 for right in rights):
                complaints.append(f"{target}: others may read it for a moment")
    return complaints


def all_flushed_first(found, targets):
    """Several files of one export: all are on the disk before the first takes its name."""
    beside = {path.split(" ")[0] for what, path in found if what == "rename" and path.split(" ")[1] in targets}
    first = min((at for at, (what, path) in enumerate(found) if what == "rename"), default=-1)
    late = [path for path in beside if not [at for at, step in enumerate(found) if step == ("fsync", path) and at < first]]
    return [f"{path}: another file of the export took its name before this one was flushed" for path in late]


def traced(arguments):
    with tempfile.NamedTemporaryFile("r", suffix=".trace") as out:
        subprocess.run(["strace", "-f", "-s", "8", "-e", f"trace={CALLS}", "-o", out.name, *arguments], check=True)
        return steps(out.read())


def show(title, found, folder):
    print(title)
    for what, path in found:
        print("   ", what, path.replace(folder, ""))


def check(binary):
    complaints = []
    with tempfile.TemporaryDirectory() as folder:
        folder = os.path.realpath(folder)
        bar = os.path.join(folder, "bar.ron")
        cases = [("a new file", [binary, "save", bar, "1"], [bar], ())]
        cases.append(("over a private file", [binary, "save", bar, "2"], [bar], (bar,)))
        out = [os.path.join(folder, name) for name in ("out.txt", "out-2.txt", "out-3.txt")]
        cases.append(("an export of three files", [binary, "export", out[0], "1"], out, ()))
        for title, arguments, targets, private in cases:
            found = traced(arguments)
            show(title, found, folder)
            complaints += judge(found, targets, private)
            if len(targets) > 1:
                complaints += all_flushed_first(found, targets)
            os.chmod(bar, 0o600)
        if os.stat(bar).st_mode & 0o777 != 0o600:
            complaints.append("the private file is private no more")
        state = os.path.join(folder, "unsaved")
        found = traced([binary, "keep", state, "1"])
        show("unsaved work", found, folder)
        kept = [os.path.join(top, name) for top, _, names in os.walk(state) for name in names if name != "lock"]
        if not kept:
            complaints.append("unsaved work: nothing was kept")
        complaints += judge(found, kept)
    return complaints


RIGHT = """\
openat(AT_FDCWD, "/f/.equirow-abc123.part", O_RDWR|O_CREAT|O_EXCL|O_CLOEXEC, 0600) = 3
flock(3, LOCK_EX|LOCK_NB) = 0
fchmod(3, 0600) = 0
write(3, "// Equir"..., 9000) = 9000
fsync(3) = 0
rename("/f/.equirow-abc123.part", "/f/bar.ron") = 0
openat(AT_FDCWD, "/f", O_RDONLY|O_CLOEXEC) = 4
fsync(4) = 0
"""


def self_check():
    """The judgement notices each line that is missing, each two that are changed over, and rights that are too wide."""
    lines = RIGHT.splitlines()

    def complains(some):
        return bool(judge(steps("\n".join(some)), ["/f/bar.ron"], ["/f/bar.ron"]))

    missed = []
    if complains(lines):
        missed.append("the right order is refused")
    for gone in (1, 3, 4, 5, 7):
        if not complains(lines[:gone] + lines[gone + 1:]):
            missed.append(f"nobody misses: {lines[gone]}")
    for one, other in ((3, 4), (4, 5), (3, 5), (1, 3)):
        turned = list(lines)
        turned[one], turned[other] = turned[other], turned[one]
        if not complains(turned):
            missed.append(f"nobody minds the order: {lines[other]} before {lines[one]}")
    early = lines[:5] + lines[6:] + lines[5:6]
    if not complains(early):
        missed.append("nobody minds a folder that is flushed before the rename")
    for wide in (lines[0].replace("0600", "0644"), lines[0].replace("0600", "0666")):
        if not complains([wide] + lines[1:]):
            missed.append("nobody minds rights that are too wide")
    second = RIGHT.replace("abc123", "def456").replace("bar.ron", "two.ron").splitlines()
    if not all_flushed_first(steps("\n".join(lines + second)), ["/f/bar.ron", "/f/two.ron"]):
        missed.append("nobody minds an export whose files are written one after the other")
    return missed


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    complaints = self_check()
    if sys.argv[1] != "--self-check":
        complaints += check(os.path.realpath(sys.argv[1]))
    for complaint in complaints:
        print("trace:", complaint, file=sys.stderr)
    print("trace: the order is", "wrong" if complaints else "right")
    sys.exit(1 if complaints else 0)


main()
