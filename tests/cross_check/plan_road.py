#!/usr/bin/env python3
"""The road from plan to pressures, walked a second time: reads project files with a reader of its own, builds the
hydraulic network anew from what the plan means, solves it with numpy and scipy, and compares with `equirow solve`.

Usage: plan_road.py EQUIROW_BINARY [--error LAW] [--only WORDS]
  --error LAW    changes one law by 5 % on this side only: the check must then differ
  --only WORDS   only cases with this in their name
Needs: numpy, scipy (pip). Exit code 0 if all agrees, 9 if something differs; anything else is a fault of the check.

Written from the documentation: what the plan's items mean (src/plan), the meaning of elements and losses (the neutral
network's description in src/hydraulics/network.rs and the formulas' sources), and the decisions in DEVELOPERS.md. It shares
no code with the program, reads no network that the program wrote, and looks up no length, height or coefficient anywhere
but in the project file.
"""
import dataclasses
import itertools
import json
import math
import multiprocessing
import os
import pathlib
import subprocess
import sys
import tempfile

import numpy
import scipy.optimize
import scipy.sparse
import scipy.sparse.linalg

import project_variants
import ron
from common import AGREES, BY, DIFFERS, arguments
from ron import some

GRAVITY = 9.80665
EXAMPLES = pathlib.Path(__file__).parent.parent.parent / "examples"
LIMIT = 1e-7
VARIANTS = 80
LAWS = ["length", "bore", "roughness", "k", "cd", "cracking", "height", "slope", "fore-aft slope", "density", "viscosity",
        "slack", "allowance", "measured", "share", "pump curve"]
# What a deliberate error is looked for in: one example on both slopes, and the variants that have what it lacks.
SOME = ["six-metre-trial-bar A --speed 6.0 --temperature 2 --fore-aft-slope -15", "measured lengths", "pump on its curve"]


class Laws:
    """What a deliberate error changes; each factor is 1 without one."""

    def __init__(self, error=None):
        self.error = error

    def __call__(self, law, value):
        return value * BY if self.error == law else value


# ---------------------------------------------------------------------------------------------------------------------
# Geometry


def place(point):
    return numpy.array([point["x"], point["y"], point["z"]], float)


def turned(angle, x, y):
    return numpy.array([x * math.cos(angle) - y * math.sin(angle), x * math.sin(angle) + y * math.cos(angle), 0.0])


def port_offset(item, port):
    """Where a port is before its part is turned, and which way it faces (the plan's sizes for where hoses end)."""
    kind, fields = item.name, item.value
    name = port.name
    if kind == "Manifold":
        half = fields["spacing"] * fields["outlets"] / 2
        if name == "Outlet":
            return (fields["spacing"] * (port.value - 0.5) - half, -0.05), (0.0, -1.0)
        if name == "Gauge":
            return (0.6 * half, 0.05), (0.0, 1.0)
        if name == "In" and fields["inlet"].name == "Middle":
            return (0.0, 0.05), (0.0, 1.0)
        return ((-half, 0.0), (-1.0, 0.0)) if name == "In" else ((half, 0.0), (1.0, 0.0))
    if kind == "InletFilter":
        return ((0.0, 0.10), (0.0, 1.0)) if name == "In" else ((0.0, -0.10), (0.0, -1.0))
    if kind == "FlowMeter":
        return ((-0.07, 0.0), (-1.0, 0.0)) if name == "In" else ((0.07, 0.0), (1.0, 0.0))
    if kind in ("Tee", "SectionValve"):
        if name == "Branch":
            return (0.0, 0.06), (0.0, 1.0)
        return ((-0.06, 0.0), (-1.0, 0.0)) if name == "In" else ((0.06, 0.0), (1.0, 0.0))
    return (0.0, 0.0), (1.0, 0.0)


class Plan:
    """One routing of one project, its ids resolved."""

    def __init__(self, project, routing, laws):
        self.project, self.laws = project, laws
        self.items = {entry["key"]: entry["item"] for entries in project["catalogue"].values() for entry in entries}
        self.routing = next(one for one in project["routings"] if one["name"] == routing)
        self.parts = {part["id"]: part for part in self.routing["parts"]}
        self.rows = {row["id"]: row for row in project["bar"]["rows"]}

    def item(self, part):
        return self.items[part["entry"]]

    def placement(self, part):
        mount = some(part["mount"])
        if not mount:
            return place(part["position"]), part["turn"]
        host = self.parts[mount["part"]]
        at, turn = self.placement(host)
        (x, y), (out_x, out_y) = port_offset(self.item(host), mount["port"])
        return at + turned(turn, x + 0.06 * out_x, y + 0.06 * out_y), turn

    def port(self, port):
        part = self.parts[port["part"]]
        at, turn = self.placement(part)
        return at + turned(turn, *port_offset(self.item(part), port["port"])[0])

    def end(self, end):
        if end.name == "Supply":
            return place(self.project["supply"]["pump"])
        return self.port(end.value) if end.name == "Port" else place(end.value)

    def outlet(self, row):
        return numpy.array([row["x"], self.project["bar"]["ranks"][row["rank"]], row["outlet_height"]])

    def length(self, line, start, end):
        measured = some(line["measured"])
        if measured is not None:
            return self.laws("length", self.laws("measured", measured))
        points = [start, *map(place, line["waypoints"]), end]
        way = sum(numpy.linalg.norm(b - a) for a, b in zip(points, points[1:]))
        extra = sum(some(one["entered"]) for one in line["crossings"])
        return self.laws("length", way * (1 + self.laws("slack", line["slack"])) + self.laws("allowance", extra))


# ---------------------------------------------------------------------------------------------------------------------
# The network


@dataclasses.dataclass
class Link:
    start: int
    end: int
    k: list = dataclasses.field(default_factory=list)     # (coefficient, bore it counts at)
    length: float = 0.0                                    # of a pipe, 0 if it is none
    bore: float = 1.0
    roughness: float = 0.0
    metering: bool = False                                 # a metering tube: entry, development and outlet losses
    coil: float = 0.0                                      # diameter of its coil, 0 if straight
    creeping: float = 0.0                                  # Pa s/m3 for each Pa s of viscosity
    cracking: float = 0.0
    valve: bool = False                                    # lets nothing back


class Network:
    def __init__(self):
        self.nodes, self.places, self.links = {}, [], []
        self.fixed = {}                                    # outlets to the atmosphere: node -> row id

    def node(self, key, at):
        if key not in self.nodes:
            self.nodes[key] = len(self.places)
            self.places.append(at)
        return self.nodes[key]

    def link(self, start, end, **law):
        self.links.append(Link(start, end, **law))


class Assembly:
    """From plan to network: everything that is connected to the supply."""

    def __init__(self, plan):
        self.plan, self.laws, self.net = plan, plan.laws, Network()
        self.pump = self.net.node("pump", plan.end(ron.Variant("Supply")))
        for part in plan.routing["parts"]:
            self.part(part)
        for run in plan.routing["runs"]:
            self.run(run)
        for feed in plan.routing["feeds"]:
            self.feed(feed)
        self.keep_connected()

    def port_node(self, port):
        """A mounted part's stem is the port it is screwed onto."""
        part = self.plan.parts[port["part"]]
        mount = some(part["mount"])
        if mount and port["port"].name == "In":
            return self.port_node(mount)
        name = port["port"]
        return self.net.node((port["part"], name.name, name.value), self.plan.port(port))

    def part(self, part):
        item = self.plan.item(part)
        kind, fields = item.name, item.value
        port = lambda name, value=None: self.port_node({"part": part["id"], "port": ron.Variant(name, value)})
        at, turn = self.plan.placement(part)
        inner = lambda name, x: self.net.node((part["id"], "inside", name), at + turned(turn, x, 0.0))
        k = lambda value: [(self.laws("k", value), fields["bore"])]
        if kind in ("InletFilter", "SectionValve", "FlowMeter"):
            if not (kind == "SectionValve" and part["shut"]):
                self.net.link(port("In"), port("Out"), k=k(fields["k"]))
        elif kind == "Tee":
            middle = inner("middle", 0.0)
            half = fields["k_through"] / 2
            self.net.link(port("In"), middle, k=k(half))
            self.net.link(middle, port("Out"), k=k(half))
            self.net.link(middle, port("Branch"), k=k(fields["k_branch"] - half))
        elif kind == "Manifold":
            # Along the body from outlet to outlet; the inlet at the first of them or in the middle, the far end at the last.
            count, spacing = fields["outlets"], fields["spacing"]
            half = count * spacing / 2
            stops = [(spacing * (number - 0.5) - half, port("Outlet", number)) for number in range(1, count + 1)]
            self.net.link(stops[-1][1], port("Out"))
            entry = inner("entry", stops[0][0] if fields["inlet"].name == "End" else 0.0)
            self.net.link(port("In"), entry, k=k(fields["k"]))
            if fields["inlet"].name == "End":
                self.net.link(entry, stops[0][1])
            else:
                stops.append((0.0, entry))
                stops.sort(key=lambda stop: stop[0])
            for (x1, a), (x2, b) in zip(stops, stops[1:]):
                if x2 - x1 < 1e-9:
                    self.net.link(a, b)
                else:
                    self.net.link(a, b, length=self.laws("length", x2 - x1), bore=self.laws("bore", fields["bore"]),
                                  roughness=self.laws("roughness", BODY_ROUGHNESS))
            self.net.link(entry, port("Gauge"))

    def tube(self, line, start, end, a, b, fittings=()):
        stock = self.plan.items[line["stock"]].value
        self.net.link(a, b, length=self.plan.length(line, start, end), bore=self.laws("bore", stock["bore"]),
                      roughness=self.laws("roughness", stock["roughness"]), k=list(fittings))

    def end_node(self, owner, end):
        if end.name == "Supply":
            return self.pump
        if end.name == "Port":
            return self.port_node(end.value)
        return self.net.node((owner, "loose"), place(end.value))

    def run(self, run):
        a, b = self.end_node((run["tag"], "from"), run["from"]), self.end_node((run["tag"], "to"), run["to"])
        fittings = [self.plan.items[key].value for key in run["fittings"]]
        self.tube(run["line"], self.plan.end(run["from"]), self.plan.end(run["to"]), a, b,
                  [(self.laws("k", fitting["k"]), fitting["bore"]) for fitting in fittings])

    def stretch(self, tag, elements, node, at, destination):
        """Elements one after the other: only tubes cover ground, the last of them reaches the destination."""
        tubes = [index for index, element in enumerate(elements) if element.name == "Tube"]
        for index, element in enumerate(elements):
            start, end = at, at
            if element.name == "Tube":
                own = some(element.value["end"])
                end = place(own) if own and index != tubes[-1] else destination
            elif not tubes and index == len(elements) - 1:
                end = destination
            after = self.net.node((tag, index), end)
            value = element.value
            if element.name == "Tube":
                self.tube(value["line"], start, end, node, after)
            elif element.name == "MeteringTube":
                stock = self.plan.items[value["stock"]].value
                self.net.link(node, after, length=self.laws("length", value["length"]), bore=self.laws("bore", stock["bore"]),
                              roughness=self.laws("roughness", stock["roughness"]), metering=True,
                              coil=some(value["coil"]) or 0.0)
            else:
                kind, key = (value[0].name, value[1]) if element.name == "Piece" else (element.name, value)
                fields = self.plan.items[key].value
                bore = fields["bore"]
                if kind == "CheckValve":
                    self.net.link(node, after, k=[(self.laws("k", fields["k"]), bore)], valve=True,
                                  cracking=self.laws("cracking", fields["cracking"]))
                elif kind == "MeteringOrifice":
                    creeping = 0.0
                    if fields.get("creeping"):
                        creeping = 24 / bore ** 3 * (1 + 16 * fields["thickness"] / (3 * math.pi * bore))
                    self.net.link(node, after, k=[(1 / self.laws("cd", fields["cd"]) ** 2, bore)], creeping=creeping)
                else:
                    self.net.link(node, after, k=[(self.laws("k", fields["k"]), bore)])
            node, at = after, end
        return node, at

    def feed(self, feed):
        if feed["from"].name == "Loose":
            return
        tag = feed["tag"]
        split = some(feed["split"])
        node, at = self.end_node(tag, feed["from"]), self.plan.end(feed["from"])
        node, at = self.stretch((tag, "trunk"), feed["trunk"], node, at, place(split["position"]) if split else at)
        for number, branch in enumerate(feed["branches"]):
            row = self.plan.rows[branch["row"]]
            start, begin = node, at
            if split:
                begin = place(split["position"])
                small = self.plan.items[split["entry"]].value
                start = self.net.node((tag, "split", number), begin)
                self.net.link(node, start, k=[(self.laws("k", small["k"]), small["bore"])])
            outlet, _ = self.stretch((tag, number), branch["elements"], start, begin, self.plan.outlet(row))
            self.net.fixed[outlet] = branch["row"]

    def keep_connected(self):
        """What the supply reaches, over open links."""
        neighbours = {}
        for link in self.net.links:
            neighbours.setdefault(link.start, []).append(link.end)
            neighbours.setdefault(link.end, []).append(link.start)
        self.reached, waiting = {self.pump}, [self.pump]
        while waiting:
            for other in neighbours.get(waiting.pop(), []):
                if other not in self.reached:
                    self.reached.add(other)
                    # Behind an outlet there is nothing.
                    waiting.append(other)
        self.links = [link for link in self.net.links if link.start in self.reached]
        self.outlets = {node: row for node, row in self.net.fixed.items() if node in self.reached}


# Bodies of manifolds have no roughness of their own in a catalogue.
BODY_ROUGHNESS = 1.5e-6

# ---------------------------------------------------------------------------------------------------------------------
# The liquid and the laws of loss


def liquid_at(liquid, temperature, laws):
    """Density linear, viscosity linear in its logarithm, beyond the table the nearest value."""
    table = liquid["points"]
    at = [point["temperature"] for point in table]
    density = numpy.interp(temperature, at, [point["density"] for point in table])
    viscosity = math.exp(numpy.interp(temperature, at, [math.log(point["viscosity"]) for point in table]))
    return laws("density", float(density)), laws("viscosity", viscosity)


def colebrook(reynolds, relative):
    """Colebrook (1939), by fixed-point steps and then Newton's."""
    x = numpy.full_like(reynolds, 7.0)
    for _ in range(60):
        inside = relative / 3.7 + 2.51 * x / reynolds
        value = x + 2 * numpy.log10(inside)
        slope = 1 + 2 / math.log(10) * 2.51 / reynolds / inside
        step = value / slope
        x = x - step
        if numpy.max(numpy.abs(step), initial=0.0) < 1e-14:
            break
    return 1 / x ** 2


def smooth(t):
    t = numpy.clip(t, 0.0, 1.0)
    return t * t * (3 - 2 * t)


class Losses:
    """All links' pressure losses at all their flows, as arrays."""

    def __init__(self, links, density, viscosity):
        array = lambda name: numpy.array([getattr(link, name) for link in links], float)
        length, self.bore, roughness = array("length"), array("bore"), array("roughness")
        self.pipe = length > 0
        self.relative = roughness / self.bore
        self.per_flow = 4 * density / (math.pi * viscosity * self.bore)
        self.unit = viscosity ** 2 * length / (2 * density * self.bore ** 3)     # Pa for each unit of f Re^2
        area = lambda bore: math.pi / 4 * bore ** 2
        self.quadratic = numpy.array([sum(k * density / 2 / area(bore) ** 2 for k, bore in link.k) for link in links])
        self.linear = array("creeping") * viscosity
        self.cracking = array("cracking")
        self.metering = numpy.where(array("metering") > 0, density / 2 / area(self.bore) ** 2, 0.0)
        coil = array("coil")
        self.root = numpy.where(coil > 0, numpy.sqrt(self.bore / numpy.where(coil > 0, coil, 1.0)), 0.0)
        ito = 20_000 * self.root ** 0.64
        self.laminar_end = numpy.where(coil > 0, numpy.maximum(ito, 2000.0), 2000.0)
        self.prepare_transition()

    def laminar(self, reynolds):
        """f Re^2 of laminar flow, in a coil after White (1929)."""
        dean = numpy.maximum(reynolds * self.root, 11.6)
        ratio = 1 / (1 - (1 - (11.6 / dean) ** 0.45) ** (1 / 0.45))
        return 64 * reynolds * ratio

    def turbulent(self, reynolds):
        """f Re^2 of turbulent flow: Colebrook, and in a coil as many times more as Ito (1959) has over Blasius."""
        return colebrook(reynolds, self.relative) * reynolds ** 2 * self.coiled(reynolds)

    def coiled(self, reynolds):
        """Ito's f sqrt(D/d) = 0.029 + 0.304 (Re (d/D)^2)^-0.25 over Blasius' 0.3164 Re^-0.25 is a straight line in
        x = (Re (d/D)^2)^0.25; where it meets that of a straight tube, 1, a parabola from x = 0 rounds the corner."""
        x = (reynolds * self.root ** 4) ** 0.25
        rise, meets = 0.029 / 0.3164, (0.3164 - 0.304) / 0.029
        line, parabola = 1 + rise * (x - meets), 1 + rise * x ** 2 / (4 * meets)
        return numpy.where(self.root > 0, numpy.where(x >= 2 * meets, line, parabola), 1.0)

    def prepare_transition(self):
        """Cubic of ln(f Re^2) over ln Re between both laws, equal in value and slope at both ends."""
        start = self.laminar_end
        slope = lambda law, at: numpy.log(law(at * (1 + 1e-5)) / law(at * (1 - 1e-5))) / math.log((1 + 1e-5) / (1 - 1e-5))
        self.y0, self.y1 = numpy.log(self.laminar(start)), numpy.log(self.turbulent(2 * start))
        # In a coil the law of White bends right up to the transition: its slope from below.
        below = start * (1 - 1e-5)
        self.s0 = numpy.where(self.root > 0, slope(self.laminar, below), 1.0)
        relative = self.relative / 3.7
        x = 1 / numpy.sqrt(colebrook(2 * start, self.relative))
        b = 2.51 / (2 * start)
        w = 2 / math.log(10) * b / (relative + b * x)
        self.s1 = 2 - 2 * w / (1 + w) + numpy.where(self.root > 0, slope(self.coiled, 2 * start), 0.0)

    def friction(self, reynolds):
        reynolds = numpy.maximum(reynolds, 1e-30)
        t = numpy.log(reynolds / self.laminar_end) / math.log(2)
        c = numpy.clip(t, 0.0, 1.0)
        h = math.log(2)
        cubic = ((2 * c ** 3 - 3 * c ** 2 + 1) * self.y0 + (c ** 3 - 2 * c ** 2 + c) * h * self.s0
                 + (3 * c ** 2 - 2 * c ** 3) * self.y1 + (c ** 3 - c ** 2) * h * self.s1)
        turbulent = self.turbulent(numpy.maximum(reynolds, 2 * self.laminar_end))
        g = numpy.where(t <= 0, self.laminar(reynolds), numpy.where(t >= 1, turbulent, numpy.exp(cubic)))
        return g, 2.25 - 0.75 * smooth(t)

    def loss(self, flow):
        size = numpy.abs(flow)
        g, k = self.friction(self.per_flow * size)
        return (numpy.sign(flow) * (self.unit * g + (self.quadratic + self.metering * k) * size ** 2)
                + self.linear * flow + self.cracking)

    def slope(self, flow):
        step = numpy.maximum(numpy.abs(flow), 1e-12) * 1e-6
        return (self.loss(flow + step) - self.loss(flow - step)) / (2 * step)


# ---------------------------------------------------------------------------------------------------------------------
# The solution


class Solution:
    def __init__(self, status, asked, total, heads, flows):
        self.status, self.asked, self.total, self.heads, self.flows = status, asked, total, heads, flows


class Solver:
    """Newton's method on all flows and heads at once; which check valves are shut is found by trying."""

    def __init__(self, links, outlets, heights, pump, density, viscosity):
        self.links, self.pump = links, pump
        self.losses = Losses(links, density, viscosity)
        self.weight = density * GRAVITY
        self.heights = heights
        nodes = sorted({link.start for link in links} | {link.end for link in links} | {pump})
        self.index = {node: at for at, node in enumerate(nodes)}
        self.start = numpy.array([self.index[link.start] for link in links], int)
        self.end = numpy.array([self.index[link.end] for link in links], int)
        self.valve = numpy.array([link.valve for link in links])
        # Total pressure p + rho g z, which losses are taken from.
        self.outlet_heads = {self.index[node]: self.weight * heights[node] for node in outlets}
        self.nodes = nodes

    def solve(self, inflow=None, head=None):
        """With a flow into the pump's node, or with its total pressure held."""
        fixed = dict(self.outlet_heads)
        pump = self.index[self.pump]
        if head is not None:
            fixed[pump] = head
        many, count = len(self.nodes), len(self.links)
        known = numpy.zeros(many, bool)
        heads = numpy.full(many, max(self.outlet_heads.values()))
        for node, value in fixed.items():
            known[node], heads[node] = True, value
        free = numpy.cumsum(~known) - 1
        into = numpy.zeros(many)
        if inflow is not None:
            into[pump] = inflow
        flows = numpy.full(count, (inflow or 1e-4) / max(1, len(self.outlet_heads)))
        shut = numpy.zeros(count, bool)
        for _ in range(200):
            flows, heads = self.newton(flows, heads, shut, known, free, into)
            difference = heads[self.start] - heads[self.end]
            cracking = self.losses.cracking
            to_shut = self.valve & ~shut & (flows < 0)
            to_open = shut & (difference > cracking * (1 + 1e-12) + 1e-9)
            if not to_shut.any() and not to_open.any():
                return flows, heads
            shut = (shut | to_shut) & ~to_open
            flows[shut] = 0.0
        raise ArithmeticError("check valves open and shut without end")

    def newton(self, flows, heads, shut, known, free, into):
        count, unknown = len(flows), int((~known).sum())
        links = numpy.arange(count)
        for _ in range(300):
            slopes = numpy.where(shut, 1.0, self.losses.slope(flows))
            loss = self.losses.loss(flows)
            first = numpy.where(shut, flows, heads[self.start] - heads[self.end] - loss)
            second = into.copy()
            numpy.add.at(second, self.end, flows)
            numpy.subtract.at(second, self.start, flows)
            rows, columns, values = [links], [links], [numpy.where(shut, 1.0, -slopes)]
            for ends, sign in ((self.start, 1.0), (self.end, -1.0)):
                of = ~known[ends] & ~shut
                rows.append(links[of]), columns.append(count + free[ends[of]]), values.append(numpy.full(of.sum(), sign))
                of = ~known[ends]
                rows.append(count + free[ends[of]]), columns.append(links[of]), values.append(numpy.full(of.sum(), -sign))
            matrix = scipy.sparse.csc_matrix((numpy.concatenate(values), (numpy.concatenate(rows), numpy.concatenate(columns))),
                                             (count + unknown, count + unknown))
            step = scipy.sparse.linalg.spsolve(matrix, -numpy.concatenate([first, second[~known]]))
            if not numpy.isfinite(step).all():
                raise ArithmeticError("no solution")
            flows = flows + step[:count]
            heads = heads.copy()
            heads[~known] += step[count:]
            # Where all is shut nothing flows, and a share of that is never reached: 1e-18 m^3/s is a drop in a thousand years.
            if numpy.max(numpy.abs(step[:count])) <= max(1e-12 * numpy.max(numpy.abs(flows)), 1e-18):
                return flows, heads
        raise ArithmeticError("no end of steps")


@dataclasses.dataclass
class Conditions:
    rate: float
    speed: float
    temperature: float
    side: float
    fore_aft: float


def duty_of(project, options):
    """The duty asked for by its name, or the first."""
    name = options.get("--duty", project["duties"][0]["name"])
    return next(duty for duty in project["duties"] if duty["name"] == name)


def conditions(project, options):
    """What is asked for on the command line, in SI; the rest as the project has it."""
    asked = duty_of(project, options)
    number = lambda name, scale, usual: float(options[name]) / scale if name in options else usual
    angle = lambda name, usual: math.atan(float(options[name]) / 100) if name in options else usual
    return Conditions(number("--rate", 1e7, asked["rate"]), number("--speed", 3.6, asked["usual"]),
                      number("--temperature", 1, asked["temperature"]), angle("--slope", asked["side_slope"]),
                      angle("--fore-aft-slope", asked["fore_aft_slope"]))


def width(project, row):
    if project["bar"]["row_widths"].name == "Nominal":
        return project["bar"]["row_spacing"]
    # Half-way to each neighbour, in use or not; the outer ones to the edge of what the bar works.
    sections = project["bar"]["sections"]
    edges = min(section["left"] for section in sections), max(section["right"] for section in sections)
    others = [other["x"] for other in project["bar"]["rows"] if other["id"] != row["id"]]
    left = [(x + row["x"]) / 2 for x in others if x < row["x"]] or [min(edges[0], row["x"])]
    right = [(x + row["x"]) / 2 for x in others if x > row["x"]] or [max(edges[1], row["x"])]
    return min(right) - max(left)


def supplied(supply, curve, asked, solver, lift, leaves):
    """The network behind a supply, which gives at most a pressure, at most a flow, and what the pump's curve leaves. What the
    supply gives falls with pressure and what the network takes rises: at the top of it, at the most flow, or between."""
    capacity, control = some(supply["pump_capacity"]), supply["control"]
    held = None if control.name == "Uncontrolled" else next(iter(control.value.values()))
    flow, pressure = [one[0] for one in curve], [one[1] for one in curve]
    top = min([one for one in (held, *pressure[:1]) if one is not None])
    most = min([one for one in (asked if control.name == "Metered" else None, capacity, *flow[-1:]) if one is not None],
               default=math.inf)
    # Against a pressure the pump delivers so much; numpy wants rising places.
    delivers = lambda at: min(most, float(numpy.interp(at, pressure[::-1], flow[::-1]))) if curve else most
    at_top = solver.solve(head=top + lift)
    if leaves(at_top[0]) <= (delivers(top) if top == held else 0.0):
        return at_top
    if math.isfinite(most):
        at_most = solver.solve(inflow=most)
        stands = at_most[1][solver.index[solver.pump]] - lift
        if stands <= (min(top, float(numpy.interp(most, flow, pressure))) if curve else top):
            return at_most
    # On the curve: the pressure at which the network takes what the pump delivers.
    short = lambda at: leaves(solver.solve(head=at + lift)[0]) - delivers(at)
    low = min(top, max(pressure[-1], float(numpy.interp(most, flow, pressure))))
    return solver.solve(head=scipy.optimize.brentq(short, low, top, xtol=1e-9, rtol=4e-15) + lift)


def expect(project, routing, options, error=None):
    """What `equirow solve` should say, in the units that it says it in."""
    laws = Laws(error)
    plan = Plan(project, routing, laws)
    asked = conditions(project, options)
    density, viscosity = liquid_at(duty_of(project, options)["liquid"], asked.temperature, laws)
    assembly = Assembly(plan)
    side, fore = math.sin(laws("slope", asked.side)), math.sin(laws("fore-aft slope", asked.fore_aft))
    up = numpy.array([side, fore, math.sqrt(1 - side ** 2 - fore ** 2)])
    heights = [laws("height", float(at @ up)) for at in assembly.net.places]
    target = {row["id"]: 0.0 if row["left_out"] else
              asked.rate * asked.speed * width(project, row) * laws("share", row["share"]) for row in plan.rows.values()}
    solver = Solver(assembly.links, assembly.outlets, heights, assembly.pump, density, viscosity)
    weight = density * GRAVITY
    supply = project["supply"]
    # A controller knows rate, speed and the width that is open, not how the rows share it.
    total = sum(asked.rate * asked.speed * width(project, plan.rows[row])
                for row in set(assembly.outlets.values()) if not plan.rows[row]["left_out"])
    leaves = lambda flows: sum(flow * ((link.start == assembly.pump) - (link.end == assembly.pump))
                               for link, flow in zip(assembly.links, flows))
    curve = [(one["flow"], laws("pump curve", one["pressure"])) for one in supply["pump_curve"]]
    flows, heads = supplied(supply, curve, total, solver, weight * heights[assembly.pump], leaves)
    port = lambda part, name: assembly.port_node({"part": part["id"], "port": ron.Variant(name)})

    def pressure(node, at=None):
        """Gauge pressure in kPa, of a node at its own height or at a place's."""
        height = heights[node] if at is None else laws("height", float(at @ up))
        return (float(heads[solver.index[node]]) - weight * height) / 1e3 if node in solver.index else None

    l_min = 60e3
    row_flow = {row: 0.0 for row in plan.rows}
    for link, flow in zip(assembly.links, flows):
        if link.end in assembly.outlets:
            row_flow[assembly.outlets[link.end]] += float(flow)
    found = {"total": leaves(flows) * l_min, "asked": total * l_min, "pump": pressure(assembly.pump), "inlet": None,
             "rows": {}, "manifolds": {}, "gauges": {}}
    for row in plan.rows.values():
        found["rows"][row["number"]] = {"target": target[row["id"]] * l_min, "flow": row_flow[row["id"]] * l_min}
    for part in plan.routing["parts"]:
        kind = plan.item(part).name
        if kind == "Manifold":
            # What a gauge on its gauge port would read.
            found["manifolds"][part["tag"]] = pressure(port(part, "Gauge"))
        elif kind == "Gauge":
            found["gauges"][part["tag"]] = pressure(port(part, "In"), plan.placement(part)[0])
        elif kind == "InletFilter":
            # The side that the flow comes from.
            ends = [port(part, "In"), port(part, "Out")]
            through = next((flow for link, flow in zip(assembly.links, flows) if [link.start, link.end] == ends), 0.0)
            found["inlet"] = pressure(ends[1] if through < 0 else ends[0])
    return found


# ---------------------------------------------------------------------------------------------------------------------
# The comparison


@dataclasses.dataclass
class Case:
    name: str
    project: dict
    path: str
    routing: str
    options: dict


def said(binary, case):
    command = [binary, "solve", case.path, "--routing", case.routing, "--format", "json"]
    for option, value in case.options.items():
        command += [option, value]
    # A finding of severity error gives exit code 1 and an answer none the less.
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1) or not done.stdout:
        raise RuntimeError(f"{case.name}: {' '.join(command)}: {done.stderr}")
    return json.loads(done.stdout)


def differences(case, ours, theirs):
    """Pairs of values: what, here, there, difference as a share."""
    pairs = [("total flow", ours["total"], theirs["total_flow_l_min"]),
             ("asked flow", ours["asked"], theirs["target_total_l_min"]),
             ("pump", ours["pump"], theirs["pump_pressure_kpa"])]
    if ours["inlet"] is not None:
        pairs.append(("inlet", ours["inlet"], theirs["inlet_pressure_kpa"]))
    for kind in ("manifolds", "gauges"):
        told = {one["tag"]: one["pressure_kpa"] for one in theirs[kind]}
        pairs += [(f"{kind[:-1]} {tag}", value, told[tag]) for tag, value in ours[kind].items()]
    told = {row["row"]: row for row in theirs["rows"]}
    for number, row in ours["rows"].items():
        pairs.append((f"row {number} target", row["target"], told[number]["target_l_min"]))
        pairs.append((f"row {number}", row["flow"], told[number]["flow_l_min"]))
    pressures = max(1.0, abs(ours["pump"]))
    for what, here, there in pairs:
        if here is None or there is None:
            yield what, here, there, 0.0 if here == there else math.inf
        elif what.startswith("row") or "flow" in what:
            yield what, here, there, abs(here - there) / max(abs(here), 1e-9)
        else:
            # Near the atmosphere's pressure a share of the reading means nothing: of a hundredth of the pump's at least.
            yield what, here, there, abs(here - there) / max(abs(here), 0.01 * pressures)


def examples(folder):
    """Name, project and path of a copy of every example, with its lengths at hinges entered."""
    found = []
    for path in sorted(EXAMPLES.glob("*-bar.ron")):
        project = ron.read(path.read_text(encoding="utf-8"))["project"]
        project_variants.enter_lengths_at_hinges(project)
        copy = os.path.join(folder, path.name)
        save(project, copy)
        found.append((path.stem, project, copy))
    return found


def save(project, path):
    with open(path, "w", encoding="utf-8") as file:
        file.write(ron.write({"version": 2, "project": project}))


def cases_of_examples(folder):
    for name, project, path in examples(folder):
        for routing, asked in itertools.product(project["routings"], project["duties"]):
            for speed in ("slowest", "usual", "fastest"):
                for temperature in ("2", "30"):
                    for slope in ({}, {"--slope": "12"}, {"--slope": "-12"}, {"--fore-aft-slope": "15"},
                                  {"--fore-aft-slope": "-15", "--slope": "7"}):
                        options = {"--speed": repr(asked[speed] * 3.6), "--temperature": temperature, **slope, "--duty": asked["name"]}
                        words = " ".join(f"{name} {value}" for name, value in options.items())
                        yield Case(f"{name} {routing['name']} {words}", project, path, routing["name"], options)


def as_drawn():
    """Name and project of every example."""
    paths = sorted(EXAMPLES.glob("*-bar.ron"))
    return [(path.stem, ron.read(path.read_text(encoding="utf-8"))["project"]) for path in paths]


def cases_of_variants(folder, count):
    for number, (name, project, routing) in enumerate(project_variants.variants(as_drawn(), count)):
        path = os.path.join(folder, f"{number}.ron")
        save(project, path)
        yield Case(name, project, path, routing, {})


def compare(arguments):
    binary, case, error = arguments
    theirs = said(binary, case)
    try:
        ours = expect(case.project, case.routing, case.options, error)
    except ArithmeticError as fault:
        raise ArithmeticError(f"{case.name}: {fault}") from fault
    return case.name, sorted(differences(case, ours, theirs), key=lambda one: -one[3])


def main():
    parser = arguments(__doc__, LAWS)
    parser.add_argument("--only", default="", help="only cases with this in their name")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, multiprocessing.Pool() as pool:
        cases = [*cases_of_examples(folder), *cases_of_variants(folder, VARIANTS)]
        cases = [case for case in cases if asked.only in case.name]
        if asked.error:
            missing = [part for part in SOME if not any(part in case.name for case in cases)]
            if missing and not asked.only:
                raise RuntimeError(f"no case is named {', '.join(missing)}")
            cases = [case for case in cases if any(part in case.name for part in SOME)]
        worst, differ, values = 0.0, 0, 0
        for name, found in pool.imap(compare, [(asked.binary, case, asked.error) for case in cases]):
            what, here, there, share = found[0]
            worst, values = max(worst, share), values + len(found)
            if share > LIMIT:
                differ += 1
                apart = sum(one[3] > LIMIT for one in found)
                print(f"{name}: {what} is {here} here, {there} there ({share:.1e}); {apart} of {len(found)} values differ")
    if not values:
        raise RuntimeError("nothing was compared")
    print(f"{len(cases)} cases, {values} values compared, largest difference {worst:.1e} (limit {LIMIT:g}), {differ} cases differ")
    sys.exit(DIFFERS if differ else AGREES)


if __name__ == "__main__":
    main()
