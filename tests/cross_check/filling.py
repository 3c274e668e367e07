#!/usr/bin/env python3
"""Fills the network that `equirow export --network` writes with scipy's `solve_ivp`, and compares when liquid comes to each row
with `equirow study prime`.

Usage: filling.py EQUIROW_BINARY [PROJECT ...] [--error LAW]
  EQUIROW_BINARY     the program
  PROJECT            project files; the nine-metre example unless given
  --error LAW        changes one law by 5 % on one side only: the check must then differ
Needs: fluids, numpy, scipy (pip). Exit code 0 if all agrees, 9 if a tolerance is exceeded.

The rules are those that the program states (a front in each line, the wet part steady at each moment, no inertia, air that
has only the check valves to overcome, less the weight of the liquid that runs down to them, a falling front that does not
suck); law, steady solve (global gradient method of Todini
and Pilati 1988), integration (Runge-Kutta 5(4) with an event where a line is full) and code are others.
"""
import json, math, os, subprocess, sys, tempfile

import numpy as np
from scipy.integrate import solve_ivp

from common import AGREES, DIFFERS, arguments, changed, colebrook

LAWS = ["length", "bore"]
# Of the time at which the last row has liquid: the program halves its steps to some tenths of a per cent.
WITHIN = 5e-3
FIRST = 1e-3


def friction(reynolds, relative):
    return colebrook(max(reynolds, 1e-9), relative)


class Law:
    """Loss and its slope over flow of a link, with a part of its length."""

    def __init__(self, link, fluid):
        self.link, self.rho, self.mu = link, fluid["density_kg_m3"], fluid["viscosity_dynamic_pa_s"]
        self.kind = link["kind"]
        self.crack = link.get("crack_pressure_pa", 0.0)

    def volume(self):
        if self.kind != "pipe":
            return 0.0
        return math.pi / 4 * self.link["bore_m"] ** 2 * self.link["length_m"]

    def loss(self, q, part=1.0):
        size = max(abs(q), 1e-12)
        if self.kind == "orifice":
            area = math.pi / 4 * self.link["diameter_m"] ** 2
            value = self.rho / 2 * (size / (self.link["cd"] * area)) ** 2
        else:
            bore = self.link["bore_m"]
            speed = size / (math.pi / 4 * bore ** 2)
            k = self.link.get("k", self.link.get("k_minor", 0.0) * part)
            value = k * self.rho / 2 * speed ** 2
            if self.kind == "pipe":
                f = friction(self.rho * speed * bore / self.mu, self.link["roughness_m"] / bore)
                value += f * self.link["length_m"] * part / bore * self.rho / 2 * speed ** 2
        return math.copysign(value, q)

    def with_slope(self, q, part):
        h = max(abs(q) * 1e-5, 1e-12)
        return self.loss(q, part), max((self.loss(q + h, part) - self.loss(q - h, part)) / (2 * h), 1e3)


def steady(nodes, links, weight, q0):
    """Flows of links (from, to, law, part); nodes: name -> (height, inflow or None, pressure or None)."""
    free = [name for name, (_, _, held) in nodes.items() if held is None]
    place = {name: i for i, name in enumerate(free)}
    head = {name: held + weight * height for name, (height, _, held) in nodes.items() if held is not None}
    q = np.array([q0.get(link[4], 1e-6) for link in links])
    shut = [False] * len(links)
    for _ in range(200):
        matrix, right = np.zeros((len(free), len(free))), np.array([nodes[name][1] for name in free], dtype=float)
        terms = []
        for i, (a, b, law, part, _) in enumerate(links):
            if shut[i]:
                terms.append((0.0, 0.0))
                continue
            loss, slope = law.with_slope(q[i], part)
            loss += law.crack
            y, g = 1 / slope, q[i] - loss / slope
            terms.append((y, g))
            for end, sign in ((a, 1.0), (b, -1.0)):
                if end in place:
                    right[place[end]] -= sign * g
                    for other, other_sign in ((a, 1.0), (b, -1.0)):
                        value = sign * other_sign * y
                        if other in place:
                            matrix[place[end], place[other]] += value
                        else:
                            right[place[end]] -= value * head[other]
        solved = np.linalg.solve(matrix + np.eye(len(free)) * 1e-18, right)
        heads = dict(head, **{name: solved[i] for name, i in place.items()})
        new = np.array([0.0 if shut[i] else g + y * (heads[a] - heads[b])
                        for i, ((a, b, *_), (y, g)) in enumerate(zip(links, terms))])
        settled = np.abs(new - q).max() <= 1e-9 * max(np.abs(new).max(), 1e-12)
        q = new
        if settled:
            change = False
            for i, (a, b, law, _, _) in enumerate(links):
                if law.kind != "check_valve":
                    continue
                if not shut[i] and q[i] < 0:
                    shut[i] = change = True
                elif shut[i] and heads[a] - heads[b] > law.crack:
                    shut[i], change, q[i] = False, True, 1e-7
            if not change:
                return q
    raise RuntimeError("the steady state did not settle")


def fill(network):
    """When liquid comes to each node, s."""
    nodes = {node["id"]: node for node in network["nodes"]}
    laws = {link["id"]: Law(link, network["fluid"]) for link in network["links"]}
    weight = network["fluid"]["density_kg_m3"] * network["gravity_m_s2"]
    start = next(name for name, node in nodes.items() if node.get("inflow_m3s", 0) > 0)
    outlets = {name: node["fixed_pressure_pa"] for name, node in nodes.items() if "fixed_pressure_pa" in node}
    wet, full, filled, at, time, flows = {start}, set(), {}, {start: 0.0}, 0.0, {}

    def behind(pressure, here, there):
        fall = nodes[here]["elevation_m"] - nodes[there]["elevation_m"]
        return max(pressure - weight * max(fall, 0.0), 0.0)

    def air():
        out = {name: held for name, held in outlets.items() if name not in wet}
        again = True
        while again:
            again = False
            for link in network["links"]:
                a, b = link["from"], link["to"]
                if link.get("closed") or a in wet or b in wet:
                    continue
                ways = [(a, b, laws[link["id"]].crack)] + ([] if link["kind"] == "check_valve" else [(b, a, 0.0)])
                for here, there, crack in ways:
                    if there in out and behind(out[there] + crack, here, there) < out.get(here, math.inf):
                        out[here], again = behind(out[there] + crack, here, there), True
        return out

    def state(fronts, volumes):
        known = {name: (nodes[name]["elevation_m"], nodes[name].get("inflow_m3s", 0.0), outlets.get(name)) for name in wet}
        links = [(l["from"], l["to"], laws[l["id"]], 1.0, l["id"]) for l in network["links"] if l["id"] in full]
        for (name, here, there, back), volume in zip(fronts, volumes):
            whole = laws[name].volume()
            part = min(max(volume / whole, FIRST), 1.0) if whole else 1.0
            low, high = nodes[here]["elevation_m"], nodes[there]["elevation_m"]
            known["front " + name] = (low + max(high - low, 0.0) * part, 0.0, back)
            links.append((here, "front " + name, laws[name], part, name))
        q = steady(known, links, weight, flows)
        flows.update({link[4]: max(value, 1e-9) for link, value in zip(links, q)})
        return q[len(links) - len(fronts):]

    def reach(node):
        wet.add(node)
        at[node] = time
        full.update(l["id"] for l in network["links"] if l["from"] in wet and l["to"] in wet and not l.get("closed"))

    while True:
        out = air()
        fronts = []
        for link in network["links"]:
            a, b, name = link["from"], link["to"], link["id"]
            if link.get("closed") or name in full:
                continue
            if a in wet and b not in wet and b in out:
                fronts.append((name, a, b, behind(out[b], a, b)))
            elif b in wet and a not in wet and a in out and link["kind"] != "check_valve":
                fronts.append((name, b, a, behind(out[a], b, a)))
        while fronts:
            volumes = np.array([filled.get(front[0], 0.0) for front in fronts])
            q = state(fronts, volumes)
            waits = [flow < 0 and volume <= 0 for flow, volume in zip(q, volumes)]
            if not any(waits):
                break
            fronts = [front for front, waits in zip(fronts, waits) if not waits]
        if not fronts or all(flow <= 0 for flow in q):
            return at
        wholes = np.array([laws[front[0]].volume() for front in fronts])
        at_once = [front[2] for front, whole, flow in zip(fronts, wholes, q) if whole == 0 and flow > 0]
        if at_once:
            for node in set(at_once):
                reach(node)
            continue
        lines = wholes > 0
        done = lambda _, v: (wholes - v)[lines].min()
        done.terminal = True
        total = nodes[start]["inflow_m3s"]
        longest = wholes.sum() / total * 10
        run = solve_ivp(lambda _, v: state(fronts, v) * lines, (0, longest), volumes, events=done, rtol=1e-5,
                        atol=1e-10, max_step=max(longest / 20, 1e-3))
        time += run.t[-1]
        for front, volume in zip(fronts, run.y[:, -1]):
            filled[front[0]] = volume
        left = wholes - run.y[:, -1]
        # Lines that are alike are full together.
        ends = {front[2] for front, rest, whole in zip(fronts, left, wholes) if whole and rest <= whole * 1e-5}
        if not ends:
            raise RuntimeError("no line was filled")
        for node in ends:
            reach(node)


def main():
    parser = arguments(__doc__, LAWS)
    examples = os.path.join(os.path.dirname(__file__), "..", "..", "examples")
    parser.add_argument("projects", nargs="*",
                        default=[os.path.join(examples, "nine-metre-bar.ron")])
    given = parser.parse_args()
    worst = 0.0
    for project in given.projects:
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "network.json")
            subprocess.run([given.binary, "export", project, "--network", path], check=True)
            network = json.load(open(path))
        told = subprocess.run([given.binary, "study", "prime", project, "--format", "json"], check=True, capture_output=True)
        ours = sorted(row["fill_s"] for row in json.loads(told.stdout)["rows"] if row["fill_s"] is not None)
        network = changed(network, given.error) if given.error else network
        at = fill(network)
        outlets = [node["id"] for node in network["nodes"] if "fixed_pressure_pa" in node]
        theirs = sorted(at[name] for name in outlets if name in at)
        if len(ours) != len(theirs):
            print(f"{project}: {len(ours)} rows against {len(theirs)}")
            return DIFFERS
        apart = max(abs(a - b) for a, b in zip(ours, theirs)) / theirs[-1]
        worst = max(worst, apart)
        print(f"{os.path.basename(project)}: {len(ours)} rows, {theirs[0]:.2f} to {theirs[-1]:.2f} s, apart by at most "
              f"{apart:.2e} of the last")
    return AGREES if worst <= WITHIN else DIFFERS


if __name__ == "__main__":
    sys.exit(main())
