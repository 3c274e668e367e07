"""What the checks against other engines share: their exit codes, the deliberate errors, and both sides' friction factors.

A deliberate error (`--error LAW`) changes one law by 5 % on the program's side only. A check that then differs ends with
DIFFERS; a crash, a missing file or a wrong argument never does, so that none of these passes for a noticed error.
"""
import argparse
import copy
import math

import fluids

AGREES, DIFFERS = 0, 9
BY = 1.05


def arguments(description, laws):
    """The command line of a check: the program, and perhaps one deliberate error."""
    parser = argparse.ArgumentParser(description=description, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("binary")
    parser.add_argument("--error", choices=laws, help="change this on one side only: the check must differ")
    parser.add_argument("--list-errors", action=ListErrors, nargs=0, laws=laws, help="what --error takes, one a line")
    return parser


class ListErrors(argparse.Action):
    def __init__(self, *given, laws, **named):
        super().__init__(*given, **named)
        self.laws = laws

    def __call__(self, parser, *_):
        print("\n".join(self.laws))
        parser.exit(AGREES)


def changed(network, law):
    """A neutral network with one law changed."""
    network = copy.deepcopy(network)

    def scale(thing, *keys):
        for key in keys:
            if key in thing:
                thing[key] *= BY

    for node in network["nodes"]:
        if law == "height":
            scale(node, "elevation_m")
    for link in network["links"]:
        if link["kind"] == "pipe":
            scale(link, *{"length": ["length_m"], "bore": ["bore_m"], "roughness": ["roughness_m"]}.get(law, []))
        scale(link, *{"k": ["k_minor", "k"], "cd": ["cd"], "cracking": ["crack_pressure_pa"]}.get(law, []))
    scale(network["fluid"], *{"density": ["density_kg_m3"], "viscosity": ["viscosity_dynamic_pa_s"]}.get(law, []))
    return network


def swamee_jain(reynolds, relative):
    """The EPA engine's factor: 64/Re, Dunlop's cubic, Swamee-Jain (EPANET manual, analysis algorithms)."""
    if reynolds <= 2000:
        return 64 / reynolds
    if reynolds >= 4000:
        return 0.25 / math.log10(relative / 3.7 + 5.74 / reynolds ** 0.9) ** 2
    y2 = relative / 3.7 + 5.74 / 4000 ** 0.9
    y3 = -0.86858896380650365530225783783321 * math.log(y2)
    fa = y3 ** -2
    fb = fa * (2 - 0.00514215 / (y2 * y3))
    r = reynolds / 2000
    return (7 * fa - fb) + r * ((0.128 - 17 * fa + 2.5 * fb) + r * ((-0.128 + 13 * fa - 2 * fb) + r * (0.032 - 3 * fa + 0.5 * fb)))


def colebrook(reynolds, relative):
    """Our factor: 64/Re, a cubic in ln G over ln Re with G = f Re^2, Colebrook (schema of the neutral format)."""
    if reynolds <= 2000:
        return 64 / reynolds
    if reynolds >= 4000:
        return fluids.friction.Colebrook(reynolds, relative)
    g = lambda re: math.log(fluids.friction.Colebrook(re, relative) * re * re)
    span, h = math.log(2), 1e-4
    y0, m0, y1 = math.log(128000), 1.0, g(4000)
    m1 = (g(4000 * math.exp(h)) - g(4000 * math.exp(-h))) / (2 * h)
    t = math.log(reynolds / 2000) / span
    y = ((2 * t ** 3 - 3 * t ** 2 + 1) * y0 + (t ** 3 - 2 * t ** 2 + t) * span * m0
         + (3 * t ** 2 - 2 * t ** 3) * y1 + (t ** 3 - t ** 2) * span * m1)
    return math.exp(y) / reynolds ** 2


def by_formula(link, length, k, reynolds):
    """What the EPA engine's friction formula makes of a pipe's whole loss, as a share of ours; worked out from the
    published formulas, so that their difference is known and not a tolerance."""
    relative, ratio = link["roughness_m"] / link["bore_m"], length / link["bore_m"]
    return (swamee_jain(reynolds, relative) * ratio + k) / (colebrook(reynolds, relative) * ratio + k)
