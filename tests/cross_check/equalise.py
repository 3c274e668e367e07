#!/usr/bin/env python3
"""Lengths of metering tubes that make all rows equal, against scipy's least squares on the exported network.

Usage: equalise.py EQUIROW_BINARY [--error LAW]
Needs: numpy, scipy, fluids (pip). Exit code 0 if all agrees, 9 if a tolerance is exceeded; anything else is a fault of the
check.

`equirow study equalise --tube` meters every row of an example with a tube of its own length and writes the project;
`equirow export --network` writes its network. The network is solved here by the solver of plan_road.py, and
`scipy.optimize.least_squares` looks for the lengths, from tubes of one length, that make the sum of squares of flow over
mean flow less 1 least, over all rows at the slowest, usual and fastest speed, the product of all lengths kept. Lengths must
agree within half of what tubes are cut to and LENGTH; the coefficient of variation with the program's rounded lengths must
not be above that with scipy's by more than CV.

`--error LAW` changes one law of all hoses by 5 % on this side only: the comparison must then fail.
"""
import json, math, os, subprocess, sys, tempfile

import numpy
import scipy.linalg
import scipy.optimize

import ron
from common import AGREES, BY, DIFFERS, arguments
from plan_road import Link, Solver, save

LENGTH, CV = 2e-3, 1e-3
CASES = [("twelve-metre-bar.ron", "A", "metering-tube-1.5"), ("twelve-metre-bar.ron", "A", "metering-tube-2.0")]
LAWS = ["length", "bore"]
EXAMPLES = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples")


def link(one, index, error):
    """A link of the neutral format; metering tubes by the law that is documented for them, not by the loss at one flow."""
    ends = index[one["from"]], index[one["to"]]
    if one["kind"] == "pipe":
        metering = "metering tube" in one["id"]
        main = not metering and " " not in one["id"]
        length = one["length_m"] * (BY if error == "length" and main else 1)
        bore = one["bore_m"] * (BY if error == "bore" and main else 1)
        k = [] if metering else [(one["k_minor"], one["bore_m"])]
        return Link(*ends, k=k, length=length, bore=bore, roughness=one["roughness_m"], metering=metering)
    if one["kind"] == "fitting":
        return Link(*ends, k=[(one["k"], one["bore_m"])], bore=one["bore_m"])
    if one["kind"] == "check_valve":
        return Link(*ends, k=[(one["k"], one["bore_m"])], bore=one["bore_m"], cracking=one["crack_pressure_pa"], valve=True)
    if one["kind"] == "orifice":
        return Link(*ends, k=[(1 / one["cd"] ** 2, one["diameter_m"])], bore=one["diameter_m"])
    sys.exit(f"a link of a kind that is not known here: {one['kind']}")


class Bar:
    """The exported network, solved with any lengths of its metering tubes."""

    def __init__(self, network, speeds, error):
        self.network, self.speeds = network, speeds
        nodes = network["nodes"]
        index = {node["id"]: at for at, node in enumerate(nodes)}
        self.links = [link(one, index, error) for one in network["links"]]
        self.tubes = {one["id"].split()[0]: at for at, one in enumerate(network["links"]) if "metering tube" in one["id"]}
        self.heights = [node["elevation_m"] for node in nodes]
        self.outlets = [at for at, node in enumerate(nodes) if "fixed_pressure_pa" in node]
        supplies = [(at, node["inflow_m3s"]) for at, node in enumerate(nodes) if node.get("inflow_m3s")]
        (self.pump, self.inflow), = supplies
        # Only closed ends have no link.
        self.last = {at: one for at, one in enumerate(self.links) if one.end in set(self.outlets)}

    def flows(self, lengths, share):
        for tag, length in lengths.items():
            self.links[self.tubes[tag]].length = length
        fluid = self.network["fluid"]
        solver = Solver(self.links, self.outlets, self.heights, self.pump, fluid["density_kg_m3"], fluid["viscosity_dynamic_pa_s"])
        flows, _ = solver.solve(inflow=self.inflow * share)
        return numpy.array([flows[at] for at in self.last])

    def residuals(self, lengths):
        all_flows = [self.flows(lengths, speed / self.speeds[1]) for speed in self.speeds]
        return numpy.concatenate([flows / flows.mean() - 1 for flows in all_flows])

    def worst_cv(self, lengths):
        return max(self.flows(lengths, speed / self.speeds[1]).std() / self.flows(lengths, speed / self.speeds[1]).mean()
                   for speed in self.speeds)


def compare(binary, example, routing, tube, error):
    path = os.path.join(EXAMPLES, example)
    project = ron.read(open(path, encoding="utf-8").read())["project"]
    # The least squares are over all duties: one is enough here.
    project["duties"] = project["duties"][:1]
    with tempfile.TemporaryDirectory() as folder:
        one_duty, cut, network_path = (os.path.join(folder, name) for name in ("one.ron", "cut.ron", "network.json"))
        save(project, one_duty)
        options = ["--routing", routing]
        run = lambda *command: subprocess.run([binary, *command], capture_output=True, text=True)
        asked = run("study", "equalise", one_duty, *options, "--tube", tube, "--format", "json", "--out", cut)
        answer = json.loads(asked.stdout)
        if not os.path.exists(cut):
            sys.exit(f"{example} {routing}: not worth it, so nothing to compare: {asked.stderr}")
        duty = project["duties"][0]
        export = run("export", cut, *options, "--network", network_path)
        if export.returncode:
            sys.exit(export.stderr)
        network = json.load(open(network_path))
    bar = Bar(network, [duty["slowest"], duty["usual"], duty["fastest"]], error)
    numbers = {row["id"]: row["number"] for row in project["bar"]["rows"]}
    feeds = next(one for one in project["routings"] if one["name"] == routing)["feeds"]
    tag_of = {numbers[branch["row"]]: feed["tag"] for feed in feeds for branch in feed["branches"]}
    rows = [row for row in answer["rows"] if row["length_mm"] is not None]
    ours = {tag_of[row["row"]]: row["length_mm"] / 1000 for row in rows}
    before = {tag_of[row["row"]]: row["start_length_mm"] / 1000 for row in rows}
    tags = list(ours)
    plane = scipy.linalg.null_space(numpy.ones((1, len(tags))))
    at = lambda y: dict(zip(tags, numpy.array([before[tag] for tag in tags]) * numpy.exp(plane @ y)))
    found = scipy.optimize.least_squares(lambda y: bar.residuals(at(y)), numpy.zeros(plane.shape[1]), xtol=1e-10, ftol=1e-12)
    theirs = at(found.x)
    step = 0.005
    off = max((abs(ours[tag] - theirs[tag]) - step / 2) / theirs[tag] for tag in tags)
    first, mine, other = bar.worst_cv(before), bar.worst_cv(ours), bar.worst_cv(theirs)
    ok = off <= LENGTH and mine <= other + CV
    print(f"{example} {routing} {tube}: {len(tags)} lengths, worst {max(off, 0):.1e} beyond half a step (limit {LENGTH:.1g}); "
          f"CV {first:.2%} before, {mine:.3%} ours, {other:.3%} scipy's{'' if ok else '  DIFFERS'}")
    return ok


def main():
    given = arguments(__doc__, LAWS).parse_args()
    cases = CASES[:1] if given.error else CASES
    ok = [compare(given.binary, *case, given.error) for case in cases]
    sys.exit(AGREES if all(ok) else DIFFERS)


if __name__ == "__main__":
    main()
