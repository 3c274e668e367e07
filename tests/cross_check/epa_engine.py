#!/usr/bin/env python3
"""Pairs the engine with the EPA network engine (owa-epanet, public domain) on the same bars: values and speed.

Usage: epa_engine.py EQUIROW_BINARY [SPEED_PROGRAM] [--error LAW]
  EQUIROW_BINARY     the program, for `equirow network FILE`
  SPEED_PROGRAM      the built example `engine_speed`; without it no speed table
  --error LAW        changes one law by 5 % on our side only: the check must then differ
Needs: owa-epanet, fluids (pip). All networks are invented. Exit code 0 if all agrees, 9 if a tolerance is exceeded.

Differences that are known and why:
  - friction: the EPA engine takes Swamee-Jain above Re 4000 and a cubic between 2000 and 4000, we take Colebrook and another
    cubic. What that makes of each run's loss is worked out here from the published formulas (Colebrook by `fluids`) and
    taken out; what is left must agree within the limits that are printed. In laminar flow both have one formula.
  - its gravity is 32.2 ft/s2: heads are pressures divided by density times 9.81456 m/s2.
  - a cracking pressure is a raised outlet head, its check valve has no cracking pressure.
"""
import json, math, os, statistics, subprocess, sys, tempfile, time
import epanet.toolkit as en
import fluids

from common import AGREES, DIFFERS, arguments, by_formula, changed

GRAVITY = 32.2 * 0.3048
DENSITY = 1000.0
LAWS = ["length", "bore", "roughness", "k", "cd", "cracking", "height", "density", "viscosity"]
CRACK, ORIFICE, CD, VALVE_K = 15e3, 0.0012, 0.62, 6.0
PRESSURE = 2e5
# What is left in turbulent flow once the friction formulas' difference is taken out: it shifts the flows a little.
FLOW, LOSS = 5e-4, 1e-3


def supply_bore(count):
    """Wide enough that rows of any bar get about the same pressure: one bar is like another but for its size."""
    return 0.05 * max(1.0, count / 120) ** 0.4


def rows_of(count):
    for row in range(count):
        first = row % 8 == 0
        yield row, first, (1.0 + row // 8 % 10 if first else 0.05), (1.8 if first else 0.3), 1.2 + 0.05 * (row % 8)


def neutral(count, viscosity):
    nodes = [{"id": "in", "elevation_m": 0.9, "fixed_pressure_pa": PRESSURE}, {"id": "hub", "elevation_m": 1.2}]
    pipe = lambda i, a, b, l, d, k: {"id": i, "kind": "pipe", "from": a, "to": b, "length_m": l, "bore_m": d,
                                     "roughness_m": 1.5e-6, "k_minor": k}
    links = [pipe("supply", "in", "hub", 4.0, supply_bore(count), 1.5)]
    before = "hub"
    for row, first, length, k, tube in rows_of(count):
        nodes += [{"id": f"p{row}", "elevation_m": 1.15}, {"id": f"t{row}", "elevation_m": 0.2},
                  {"id": f"v{row}", "elevation_m": 0.2}, {"id": f"o{row}", "elevation_m": 0.1, "fixed_pressure_pa": 0.0}]
        links += [pipe(f"s{row}", "hub" if first else before, f"p{row}", length, 0.019, k),
                  pipe(f"d{row}", f"p{row}", f"t{row}", tube, 0.005, 1.0),
                  {"id": f"c{row}", "kind": "check_valve", "from": f"t{row}", "to": f"v{row}",
                   "crack_pressure_pa": CRACK, "k": VALVE_K, "bore_m": 0.005},
                  {"id": f"m{row}", "kind": "orifice", "from": f"v{row}", "to": f"o{row}", "diameter_m": ORIFICE, "cd": CD}]
        before = f"p{row}"
    return {"format": "liquid-network/1", "gravity_m_s2": GRAVITY,
            "fluid": {"density_kg_m3": DENSITY, "viscosity_dynamic_pa_s": viscosity}, "nodes": nodes, "links": links}


def inp(count, viscosity, emitter):
    """The same bar as text for the EPA engine: orifice and valve as a minor loss of the tube, or as an emitter."""
    head = lambda pa: pa / (DENSITY * GRAVITY)
    ratio = (0.005 / ORIFICE) ** 4 / CD ** 2
    junctions, reservoirs, pipes, emitters = [f"hub {1.2}"], [f"in {0.9 + head(PRESSURE)}"], [], []
    pipes.append(f"supply in hub 4.0 {supply_bore(count) * 1000!r} 0.0015 1.5")
    before = "hub"
    # q [L/s] = C h^0.5 with h in metres
    coefficient = CD * math.pi / 4 * ORIFICE ** 2 * math.sqrt(2 * GRAVITY) * 1000
    for row, first, length, k, tube in rows_of(count):
        junctions.append(f"p{row} 1.15")
        pipes.append(f"s{row} {'hub' if first else before} p{row} {length} 19 0.0015 {k}")
        raised = 0.1 + head(CRACK)
        if emitter:
            junctions.append(f"o{row} {raised!r}")
            emitters.append(f"o{row} {coefficient!r}")
            pipes.append(f"d{row} p{row} o{row} {tube!r} 5 0.0015 {1.0 + VALVE_K}")
        else:
            reservoirs.append(f"o{row} {raised!r}")
            pipes.append(f"d{row} p{row} o{row} {tube!r} 5 0.0015 {1.0 + VALVE_K + ratio!r}")
        before = f"p{row}"
    relative = viscosity / DENSITY / (1.1e-5 * 0.3048 ** 2)
    return "\n".join(["[JUNCTIONS]", *junctions, "[RESERVOIRS]", *reservoirs, "[PIPES]", *pipes, "[EMITTERS]", *emitters,
                      "[OPTIONS]", "Units LPS", "Headloss D-W", f"Viscosity {relative!r}", "Accuracy 1e-6", "Trials 500",
                      "Emitter Exponent 0.5", "[TIMES]", "Duration 0", "[REPORT]", "Status No", "Summary No", "[END]", ""])


class Epa:
    def __init__(self, folder, count, viscosity, emitter):
        path = os.path.join(folder, "bar.inp")
        open(path, "w").write(inp(count, viscosity, emitter))
        self.project = en.createproject()
        en.open(self.project, path, os.path.join(folder, "bar.rpt"), "")
        en.openH(self.project)
        self.tube = en.getlinkindex(self.project, f"d{count // 3}")

    def cold(self):
        en.initH(self.project, en.INITFLOW)
        en.runH(self.project)

    def warm(self, length):
        en.setlinkvalue(self.project, self.tube, en.LENGTH, length)
        en.initH(self.project, en.NOSAVE)
        en.runH(self.project)

    def value(self, link, what):
        return en.getlinkvalue(self.project, en.getlinkindex(self.project, link), what)


def median(repeats, run):
    times = []
    for repeat in range(repeats):
        start = time.perf_counter()
        run(repeat)
        times.append((time.perf_counter() - start) * 1e6)
    return statistics.median(times)


def solve(binary, network, folder):
    path = os.path.join(folder, "bar.json")
    json.dump(network, open(path, "w"))
    return json.loads(subprocess.run([binary, "network", path], capture_output=True, text=True, check=True).stdout)


def compare(binary, error):
    all_agree = True
    for name, viscosity, flow_limit, loss_limit in [("turbulent", 1.0219e-3, FLOW, LOSS), ("laminar", 0.06, 1e-5, 3e-5)]:
        with tempfile.TemporaryDirectory() as folder:
            count = 120
            network = neutral(count, viscosity)
            ours = solve(binary, changed(network, error), folder)
            elevation = {node["id"]: node.get("elevation_m", 0.0) for node in network["nodes"]}
            links = {link["id"]: link for link in network["links"]}
            lift = DENSITY * GRAVITY
            total = lambda node: ours["node_pressure_pa"][node] + lift * elevation[node]
            epa = Epa(folder, count, viscosity, True)
            epa.cold()
            flows = losses = 0.0
            largest = max(epa.value(f"d{row}", en.HEADLOSS) for row in range(count))

            def loss(link, mine, more_k=0.0):
                """How far the loss of a run is off once the two friction formulas' difference is taken out."""
                theirs = epa.value(link["id"], en.HEADLOSS)
                if theirs <= 0.01 * largest:
                    return 0.0
                reynolds = 4 * DENSITY * abs(epa.value(link["id"], en.FLOW)) / 1000 / (math.pi * viscosity * link["bore_m"])
                return abs(mine / lift / theirs * by_formula(link, link["length_m"], link["k_minor"] + more_k, reynolds) - 1)

            # Valve and entry loss are in the EPA engine's tube: take ours over tube and valve, less the cracking pressure.
            for row in range(count):
                flows = max(flows, abs(ours["link_flow_m3s"][f"d{row}"] / (epa.value(f"d{row}", en.FLOW) / 1000) - 1))
                losses = max(losses, loss(links[f"d{row}"], total(f"p{row}") - total(f"v{row}") - CRACK, VALVE_K))
                start = "hub" if row % 8 == 0 else f"p{row - 1}"
                losses = max(losses, loss(links[f"s{row}"], total(start) - total(f"p{row}")))
            ok = flows <= flow_limit and losses <= loss_limit
            all_agree &= ok
            print(f"{name}: worst row flow {flows:.2e} (limit {flow_limit:g}), worst loss of a run {losses:.2e} "
                  f"(limit {loss_limit:g}): {'agree' if ok else 'DIFFER'}")
    return all_agree


def formulas(binary, error):
    """Friction factors, Poiseuille and orifice of single links against `fluids`, through the program itself."""
    worst = {"colebrook": 0.0, "churchill": 0.0, "poiseuille": 0.0, "orifice": 0.0}
    density, viscosity, bore, length = 1000.0, 1e-3, 0.02, 100.0
    area = math.pi / 4 * bore ** 2
    nodes, links, expected = {}, {}, {}
    for law in ("laminar_colebrook", "churchill"):
        nodes[law], links[law] = [], []
        for reynolds in [500, 1500, 4001, 1e4, 3.3e4, 1e5, 1e6, 1e7]:
            for relative in [0.0, 1e-5, 1e-4, 1e-3, 1e-2, 0.05]:
                name = f"{reynolds}/{relative}"
                velocity = reynolds * viscosity / density / bore
                nodes[law] += [{"id": "a" + name, "inflow_m3s": velocity * area}, {"id": "b" + name, "fixed_pressure_pa": 0}]
                links[law].append({"id": name, "kind": "pipe", "from": "a" + name, "to": "b" + name, "bore_m": bore,
                                   "length_m": length, "roughness_m": relative * bore})
                if law == "churchill":
                    factor, kind = fluids.friction.Churchill_1977(reynolds, relative), "churchill"
                elif reynolds <= 2000:
                    factor, kind = fluids.friction.friction_laminar(reynolds), "poiseuille"
                else:
                    factor, kind = fluids.friction.Colebrook(reynolds, relative), "colebrook"
                expected[law, name] = factor * length / bore * density * velocity ** 2 / 2, kind
    name = "orifice"
    flow = 1e-5
    nodes["churchill"] += [{"id": "ao", "inflow_m3s": flow}, {"id": "bo", "fixed_pressure_pa": 0}]
    links["churchill"].append({"id": "o", "kind": "orifice", "from": "ao", "to": "bo", "diameter_m": 0.002, "cd": 0.62})
    with tempfile.TemporaryDirectory() as folder:
        for law in nodes:
            network = {"format": "liquid-network/1", "friction_law": law, "nodes": nodes[law], "links": links[law],
                       "fluid": {"density_kg_m3": density, "viscosity_dynamic_pa_s": viscosity}}
            found = solve(binary, changed(network, error), folder)
            for (of_law, name), (loss, kind) in expected.items():
                if of_law == law:
                    worst[kind] = max(worst[kind], abs(found["node_pressure_pa"]["a" + name] / loss - 1))
            if law == "churchill":
                loss = fluids.dP_from_K(1 / 0.62 ** 2, density, flow / (math.pi / 4 * 0.002 ** 2))
                worst["orifice"] = abs(found["node_pressure_pa"]["ao"] / loss - 1)
    print("against fluids", fluids.__version__, {k: f"{v:.1e}" for k, v in worst.items()}, "(limit 1e-9)")
    return max(worst.values()) <= 1e-9


def speed(speed_program):
    counts = [24, 120, 1000, 10000]
    with tempfile.TemporaryDirectory() as folder:
        files = []
        for count in counts:
            files.append(os.path.join(folder, f"{count}.json"))
            json.dump(neutral(count, 1.0219e-3), open(files[-1], "w"))
        run = subprocess.run([speed_program, *files], capture_output=True, text=True, check=True)
        ours = [json.loads(line) for line in run.stdout.splitlines()]
    print("median microseconds; ratio = EPA engine's time over ours, above 1 means ours is faster")
    print("rows   ours cold (steps)  warm   set-up | merged cold ratio  warm ratio | emitter cold ratio  warm ratio | ours cold/row")
    for count, mine in zip(counts, ours):
        times = {}
        for emitter in (False, True):
            with tempfile.TemporaryDirectory() as folder:
                epa = Epa(folder, count, 1.0219e-3, emitter)
                repeats = max(15, min(2000, 200000 // count))
                epa.cold()
                times[emitter] = (median(repeats, lambda _: epa.cold()),
                                  median(repeats, lambda repeat: epa.warm(1.7 if repeat % 2 == 0 else 1.3)))
        (mc, mw), (ec, ew) = times[False], times[True]
        print(f"{count:6d} {mine['cold_us']:9.2f} ({mine['steps']})    {mine['warm_us']:8.2f} {mine['setup_us']:8.1f} | "
              f"{mc:9.1f} {mc / mine['cold_us']:5.2f} {mw:9.1f} {mw / mine['warm_us']:5.2f} | "
              f"{ec:9.1f} {ec / mine['cold_us']:5.2f} {ew:9.1f} {ew / mine['warm_us']:5.2f} | {mine['cold_us'] / count:.4f}")


def main():
    parser = arguments(__doc__, LAWS)
    parser.add_argument("speed_program", nargs="?")
    asked = parser.parse_args()
    agree = compare(asked.binary, asked.error)
    agree &= formulas(asked.binary, asked.error)
    if asked.speed_program:
        speed(asked.speed_program)
    sys.exit(AGREES if agree else DIFFERS)


if __name__ == "__main__":
    main()
