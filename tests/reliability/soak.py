#!/usr/bin/env python3
"""The real window under Xvfb with random keys and mouse for a while: no panic, memory and open handles stay bounded.

The keys are those of the program (it is asked for them), without those that quit, and what people type into fields.
Everything is drawn from a seed. If a click quits the program through the menu, it is started again and that is counted.

Usage: soak.py EQUIROW_BINARY [--seconds 1800] [--seed 1] [--display NUMBER] [--every 10] [--log samples.csv] [--keep FOLDER]
Needs Xvfb and xdotool. The window runs in a home of its own (--keep says where, and leaves it there)
on a virtual display of its own (any free one, unless --display says which). Each sample is a
line "seconds, resident KiB, handles, starts"; at the end start, largest and last values are printed.
Exit code 0 if nothing panicked or ended by itself and neither memory nor handles grew without bound, else 1.
"""

import argparse
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time

WIDTH, HEIGHT = 1280, 800
# Keys in the manual's words, and as the display knows them.
NAMES = {"←": "Left", "→": "Right", "↑": "Up", "↓": "Down", "Page up": "Prior", "Page down": "Next", "Enter": "Return",
         "Esc": "Escape", "+": "plus", "−": "minus", "-": "minus", ",": "comma", "Delete": "Delete"}
OTHERS = ["Tab", "Tab", "shift+Tab", "Return", "Escape", "Escape", "space", "BackSpace", "Home", "End", "Up", "Down"]
TYPED = ["120", "66,6", "2.5 bar", "30 psi", "-1", "0", "1e9", "abc", "bar", "x", "12..5", "manifold", "D1"]


def keys_of(binary):
    """The keys in the program's own list of commands: the first column of what stands behind its heading."""
    text = subprocess.run([binary, "help"], capture_output=True, text=True).stdout
    found = set()
    for line in text.rpartition("commands of the window")[2].splitlines():
        key = line[2:18].strip() if line.startswith("  ") else ""
        if key:
            *held, last = key.replace("++", "+plus").split("+")
            last = NAMES.get(last, last.lower() if len(last) == 1 else last)
            found.add("+".join([part.lower() for part in held] + [last]))
    return sorted(found - {"ctrl+q"})


def burst(rng, keys):
    """Some hundred milliseconds of a user: arguments for xdotool."""
    x, y = rng.randrange(WIDTH), rng.randrange(HEIGHT)
    move = ["mousemove", str(x), str(y)]
    kind = rng.random()
    if kind < 0.35:
        return move + ["click", rng.choice("11111123")]
    if kind < 0.50:
        drag = move + ["mousedown", rng.choice("1112")]
        for _ in range(rng.randrange(2, 7)):
            x = min(max(x + rng.randrange(-150, 151), 0), WIDTH - 1)
            y = min(max(y + rng.randrange(-100, 101), 0), HEIGHT - 1)
            drag += ["mousemove", str(x), str(y), "sleep", "0.02"]
        if rng.random() < 0.15:
            drag += ["key", "Escape"]
        return drag + ["mouseup", "1", "mouseup", "2"]
    if kind < 0.58:
        return move + ["click", "--repeat", str(rng.randrange(1, 6)), "--delay", "15", rng.choice("45")]
    if kind < 0.64:
        held = rng.choice(["shift", "ctrl"])
        return move + ["keydown", held, "click", "1", "keyup", held]
    if kind < 0.80:
        return ["key", rng.choice(keys)]
    if kind < 0.92:
        return ["key", rng.choice(OTHERS)]
    return ["type", "--delay", "5", rng.choice(TYPED)]


class Window:
    """The running program."""

    def __init__(self, binary, home, environment, messages):
        self.process = subprocess.Popen([binary], env=environment, cwd=home, stdout=messages, stderr=messages)
        self.environment = environment
        for _ in range(480):
            done = self.xdotool("search", "--onlyvisible", "--name", "Equirow")
            if done.returncode == 0 and done.stdout.strip():
                self.xdotool("windowfocus", done.stdout.split()[-1])
                return
            if self.process.poll() is not None:
                raise SystemExit(f"soak: the program ended with code {self.process.returncode} before a window came up")
            time.sleep(0.25)
        raise SystemExit("soak: no window came up")

    def xdotool(self, *arguments):
        return subprocess.run(["xdotool", *arguments], env=self.environment, capture_output=True, text=True)

    def sample(self):
        """Resident memory in KiB and open handles."""
        with open(f"/proc/{self.process.pid}/status") as status:
            resident = int(re.search(r"VmRSS:\s+(\d+)", status.read())[1])
        return resident, len(os.listdir(f"/proc/{self.process.pid}/fd"))


def soak(asked, home, environment, messages):
    rng = random.Random(asked.seed)
    keys = keys_of(asked.binary)
    if len(keys) < 40:
        raise SystemExit(f"soak: only {len(keys)} keys found in `equirow help`")
    window, starts, events, samples = Window(asked.binary, home, environment, messages), 1, 0, []
    log = open(asked.log, "w") if asked.log else None
    begun = time.monotonic()
    next_sample = 0.0
    while (now := time.monotonic() - begun) < asked.seconds:
        code = window.process.poll()
        if code is not None:
            if code != 0:
                raise SystemExit(f"soak: after {now:.0f} s and {events} events (seed {asked.seed}) it ended with code {code}")
            window, starts = Window(asked.binary, home, environment, messages), starts + 1
        if now >= next_sample:
            try:
                samples.append((now, *window.sample(), starts))
            except (OSError, TypeError):
                continue
            next_sample += asked.every
            if log:
                print(*(f"{value:.0f}" for value in samples[-1]), sep=", ", file=log, flush=True)
        arguments = []
        for _ in range(5):
            arguments += [*burst(rng, keys), "sleep", "0.05"] if rng.random() < 0.9 else ["sleep", "0.3"]
            events += 1
        # What is typed must be the last of a call.
        for part in split_behind_type(arguments):
            window.xdotool(*part)
    if window.process.poll() is None:
        samples.append((time.monotonic() - begun, *window.sample(), starts))
        window.process.kill()
        window.process.wait()
    return samples, events, starts


def split_behind_type(arguments):
    """xdotool types all that follows `type`: a call of its own for each."""
    parts, part, at = [], [], 0
    while at < len(arguments):
        if arguments[at] == "type":
            parts += [part] if part else []
            parts.append(arguments[at:at + 4])
            part, at = [], at + 4
        else:
            part.append(arguments[at])
            at += 1
    return parts + ([part] if part else [])


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("binary", type=os.path.realpath)
    parser.add_argument("--seconds", type=float, default=1800)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--display", type=int)
    parser.add_argument("--every", type=float, default=10)
    parser.add_argument("--log")
    parser.add_argument("--keep")
    asked = parser.parse_args()
    home = os.path.realpath(asked.keep or tempfile.mkdtemp())
    os.makedirs(home, exist_ok=True)
    runtime = os.path.join(home, "runtime")
    os.makedirs(runtime, mode=0o700, exist_ok=True)
    environment = {name: value for name, value in os.environ.items() if not name.startswith(("XDG_", "WAYLAND_"))}
    number, told = os.pipe()
    choice = ["-displayfd", str(told)] if asked.display is None else [f":{asked.display}", "-displayfd", str(told)]
    server = subprocess.Popen(["Xvfb", *choice, "-screen", "0", f"{WIDTH}x{HEIGHT}x24", "-nolisten", "tcp"],
                              pass_fds=[told], stderr=subprocess.DEVNULL)
    os.close(told)
    display = os.fdopen(number).readline().strip()
    if not display:
        raise SystemExit("soak: the virtual display did not start")
    environment |= {"HOME": home, "XDG_RUNTIME_DIR": runtime, "DISPLAY": f":{display}", "LP_NUM_THREADS": "1"}
    said = os.path.join(home, "messages.txt")
    try:
        with open(said, "w") as messages:
            samples, events, starts = soak(asked, home, environment, messages)
    finally:
        server.terminate()
        server.wait()
        text = open(said).read() if os.path.exists(said) else ""
        if not asked.keep:
            shutil.rmtree(home, ignore_errors=True)
    complaints = [line for line in text.splitlines() if "panicked" in line]
    # The first minute fills caches; a program that was started again starts again.
    steady = [one for one in samples if one[0] >= min(60, asked.seconds / 3)] or samples
    first, last = steady[0], samples[-1]
    memory, handles = max(one[1] for one in samples), max(one[2] for one in samples)
    print(f"soak: seed {asked.seed}, {events} events in {samples[-1][0]:.0f} s, {starts} starts, {len(complaints)} panics")
    print(f"soak: memory MiB: {samples[0][1] >> 10} at the start, {first[1] >> 10} settled, {memory >> 10} largest, {last[1] >> 10} at the end")
    print(f"soak: handles: {samples[0][2]} at the start, {first[2]} settled, {handles} largest, {last[2]} at the end")
    if memory > 2 * first[1] + (256 << 10):
        complaints.append("memory grew beyond twice of what it settled at")
    if handles > first[2] + 64:
        complaints.append("open handles grew")
    for complaint in complaints:
        print("soak:", complaint, file=sys.stderr)
    sys.exit(1 if complaints else 0)


main()
