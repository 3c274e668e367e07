#!/usr/bin/env python3
"""Every example project, every routing, through `equirow export` and the EPA network engine (owa-epanet, public domain).

Usage: examples.py EQUIROW_BINARY [--error LAW]
Needs: owa-epanet, fluids (pip). Exit code 0 if all agrees, 9 if a tolerance is exceeded; anything else is a fault of the check.

`equirow export` writes each routing twice: in the neutral format, which `equirow network` solves, and as an .inp file, which
the EPA engine solves in this process. Compared are the flow of every row, and the pressure loss of every run (pipe: hose,
tube, manifold body) that loses more than 1 % of what the run with the largest loss does, because row flows, which metering
rules, would hide an error of friction.

Known differences, and what is made of them:
  - Friction formulas. Above Re 4000 the EPA engine takes Swamee-Jain and we take Colebrook; from 2000 to 4000 both take a
    cubic of their own. Both sides' factors are worked out here from the published formulas (Colebrook by `fluids`) at the
    Reynolds number and roughness of each run, so that their difference is measured, run by run, and printed. A run then has
    to agree within LOSS of what is left when that difference is taken out; as they stand, losses must agree within that
    difference and LOSS.
  - Where flow can part (two mains to one manifold, or several manifolds), other friction sends other flows each way. That is
    why LOSS and FLOW are not zero in turbulent flow. They are some twice the largest differences measured, 2.2e-3 and
    8.4e-4 (the bar whose two outer manifolds hang on inner ones, at Re 2000 to 5000), as PRESSURE is of 1.2e-3.
  - Where a run takes more than RULING of the whole pressure it rules its row: a metering tube. The square of a row's flow
    then goes as one over the friction factor, so that flows may differ by half of what the formulas do in such runs, and
    losses by twice that more. Which runs these are and how much that is comes from each network, not from its name.
  - Laminar flow has one formula on both sides: with all runs laminar everything must agree within LAMINAR.
  - Gravity, cracking pressures, metering and its cubic: see the comments in the exported file; none of it shows here.
  - A shut check valve of the EPA engine may pass a trickle: rows that are shut on our side count if they pass more than
    TRICKLE of the largest row.
`--error LAW` changes one law by 5 % on our side only: the comparison must then fail. It looks at fewer cases.
"""
import json, math, os, re, subprocess, sys, tempfile
import epanet.toolkit as en

from common import AGREES, DIFFERS, arguments, by_formula, changed

GRAVITY = 32.2 * 0.3048
FLOW, LOSS, PRESSURE, LAMINAR, TRICKLE = 2e-3, 5e-3, 2.5e-3, 3e-5, 1e-3
LAMINAR_RATE = 0.05  # of the usual rate
RULING = 0.3
# Not the roughness: 5 % of 1.5 µm is a ten-thousandth of a loss, less than what is left between the friction formulas.
LAWS = ["length", "bore", "k", "cd", "cracking", "height", "density", "viscosity"]


def epa(path, folder):
    """Flows in m3/s and losses in m by link name, and gauge pressures in m by node name."""
    project = en.createproject()
    en.open(project, path, os.path.join(folder, "report.txt"), "")
    en.openH(project)
    en.initH(project, en.INITFLOW)
    en.runH(project)
    found = {}
    for index in range(1, en.getcount(project, en.LINKCOUNT) + 1):
        found[en.getlinkid(project, index)] = (en.getlinkvalue(project, index, en.FLOW) / 1000,
                                               en.getlinkvalue(project, index, en.HEADLOSS))
    pressures = {en.getnodeid(project, index): en.getnodevalue(project, index, en.PRESSURE)
                 for index in range(1, en.getcount(project, en.NODECOUNT) + 1)
                 if en.getnodetype(project, index) == en.JUNCTION}
    en.close(project)
    en.deleteproject(project)
    return found, pressures


def compare(binary, example, routing, options, error, laminar):
    with tempfile.TemporaryDirectory() as folder:
        network_path, inp_path = os.path.join(folder, "bar.json"), os.path.join(folder, "bar.inp")
        subprocess.run([binary, "export", example, "--routing", routing, *options, "--network", network_path, "--inp", inp_path],
                       check=True)
        network = json.load(open(network_path))
        json.dump(changed(network, error), open(network_path, "w"))
        ours = json.loads(subprocess.run([binary, "network", network_path], capture_output=True, text=True, check=True).stdout)
        theirs, pressures = epa(inp_path, folder)
    density, viscosity = network["fluid"]["density_kg_m3"], network["fluid"]["viscosity_dynamic_pa_s"]
    weight = density * network["gravity_m_s2"]
    nodes = {node["id"]: node for node in network["nodes"]}
    head = lambda node: ours["node_pressure_pa"][node] + weight * nodes[node]["elevation_m"]
    epa_name = lambda link: re.sub(r"[^A-Za-z0-9.()/+-]", "_", link["id"])[:31]
    flow = lambda link: ours["link_flow_m3s"][link["id"]]
    row_links = [link for link in network["links"] if "fixed_pressure_pa" in nodes[link["to"]]]
    largest_row = max(abs(flow(link)) for link in row_links)
    row_error = 0.0
    for link in row_links:
        mine, other = flow(link), theirs[epa_name(link)][0]
        if mine == 0.0:
            row_error = max(row_error, 1.0 if abs(other) > TRICKLE * largest_row else 0.0)
        else:
            row_error = max(row_error, abs(other / mine - 1))
    runs = [link for link in network["links"] if link["kind"] == "pipe" and flow(link) != 0.0]
    loss_of = {link["id"]: abs(head(link["from"]) - head(link["to"])) for link in runs}
    largest = max(loss_of.values())
    compared, raw, formula, left, highest, slack = 0, 0.0, 0.0, 0.0, 0.0, 0.0
    whole = max(head(node) for node in nodes) - min(head(node) for node in nodes)
    for link in runs:
        bore, mine = link["bore_m"], loss_of[link["id"]]
        reynolds = 4 * density * abs(flow(link)) / (math.pi * bore * viscosity)
        highest = max(highest, reynolds)
        if mine <= 0.01 * largest:
            continue
        compared += 1
        other = abs(theirs[epa_name(link)][1]) * density * GRAVITY
        formulas = by_formula(link, link["length_m"], link["k_minor"], reynolds)
        raw = max(raw, abs(other / mine - 1))
        formula = max(formula, abs(formulas - 1))
        if mine > RULING * whole:
            slack = max(slack, abs(formulas - 1) / 2)
        left = max(left, abs(other / (mine * formulas) - 1))
    # The pressures wherever liquid flows: what orifices and cracking pressures hold back shows nowhere else where the flow is
    # metered.
    most = max(value for value in ours["node_pressure_pa"].values() if value is not None)
    off = [abs(ours["node_pressure_pa"][node] - pressures[name] * density * GRAVITY) / most
           for node in {end for link in network["links"] if flow(link) != 0.0 for end in (link["from"], link["to"])}
           if (name := epa_name({"id": node})) in pressures]
    pressure_error = max(off)
    flow_limit, loss_limit = (LAMINAR, LAMINAR) if laminar else (FLOW + slack, LOSS + 2 * slack)
    pressure_limit = LAMINAR if laminar else PRESSURE + 2 * slack
    ok = (row_error <= flow_limit and left <= loss_limit and raw <= formula + loss_limit and pressure_error <= pressure_limit
          and compared > 0)
    if laminar and highest >= 2000:
        ok = False
        print(f"  not laminar: Re {highest:.0f}")
    print(f"{os.path.basename(example)} {routing} {' '.join(options) or 'usual'}: {len(row_links)} rows, worst flow {row_error:.1e} "
          f"(limit {flow_limit:.2g}); {len(off)} pressures, worst {pressure_error:.1e} (limit {pressure_limit:.2g}); {compared} runs to Re {highest:.0f}, worst loss {raw:.1e}, by formula {formula:.1e}, "
          f"left {left:.1e} (limit {loss_limit:.2g}): {'agree' if ok else 'DIFFER'}")
    return ok


def main():
    asked = arguments(__doc__, LAWS).parse_args()
    here = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "examples")
    agree, count = True, 0
    for name in sorted(os.listdir(here)):
        text = open(os.path.join(here, name), encoding="utf-8").read() if name.endswith(".ron") else ""
        if "routings: [" not in text:
            continue
        example = os.path.join(here, name)
        routings = re.findall(r'^\s*name: "([^"]*)"', text[text.index("routings: ["):], re.M)
        usual = float(json.loads(subprocess.run([asked.binary, "solve", example, "--format", "json"], capture_output=True,
                                                text=True).stdout)["rate_l_ha"])
        for routing in routings[:1] if asked.error else routings:
            count += 1
            points = [([], False), (["--slope", "10", "--temperature", "2"], False), (["--rate", repr(usual * LAMINAR_RATE)], True)]
            for options, laminar in points[1:] if asked.error else points:
                agree &= compare(asked.binary, example, routing, options, asked.error, laminar)
    if not count:
        raise RuntimeError("no routing to compare")
    print(f"{count} routings compared")
    sys.exit(AGREES if agree else DIFFERS)


if __name__ == "__main__":
    main()
