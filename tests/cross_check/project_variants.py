"""Invented projects for checks: the examples, changed at random in what the hydraulics depend on. A seed gives the same
project each time. Each is named after what was changed."""
import copy
import random

import ron
from ron import Variant, Wrapped

NONE = Variant("None")


def option(value):
    if value is None:
        return NONE
    return Variant("Some", Wrapped(value) if isinstance(value, dict) else value)


def enter_lengths_at_hinges(project):
    """Enters the extra length at every hinge, 0.25 m where a line lists it and none elsewhere: how the program computes it is
    checked by elastica.py and its own tests, what it makes of it by the checks here."""
    hinged = [section["id"] for section in project["bar"]["sections"] if section["hinge"].name == "Some"]
    for routing in project["routings"]:
        tubes = [element.value["line"] for feed in routing["feeds"] for elements in stretches(feed)
                 for element in elements if element.name == "Tube"]
        for line in [run["line"] for run in routing["runs"]] + tubes:
            for one in line["crossings"]:
                one.setdefault("entered", option(0.25))
            line["crossings"] += [{"section": section, "entered": option(0.0)} for section in hinged for _ in range(3)]


class Change:
    """A project that is being changed."""

    def __init__(self, project, routing, dice):
        self.project, self.dice = project, dice
        self.routing = next(one for one in project["routings"] if one["name"] == routing)
        self.items = {entry["key"]: entry["item"] for entries in project["catalogue"].values() for entry in entries}

    def parts(self, kind):
        return [part for part in self.routing["parts"] if self.items[part["entry"]].name == kind]

    def lines(self):
        tubes = [element.value["line"] for feed in self.routing["feeds"] for elements in stretches(feed)
                 for element in elements if element.name == "Tube"]
        return [run["line"] for run in self.routing["runs"]] + tubes

    def some(self, things, share):
        """A share of them, at least one if there is any."""
        things = list(things)
        return self.dice.sample(things, min(len(things), max(1, round(share * len(things)))))

    # ------------------------------------------------------------------ what can be changed

    def bores(self):
        for item in self.items.values():
            if item.name in ("Hose", "Tube"):
                item.value["bore"] *= self.dice.uniform(0.8, 1.1)
                item.value["roughness"] = self.dice.choice([0.0, 1.5e-6, 5e-5])
                item.value["outside"] = item.value["bore"] * 1.5
            elif item.name == "MeteringTube":
                item.value["bore"] *= self.dice.uniform(0.95, 1.1)

    def coefficients(self):
        for item in self.items.values():
            fields = item.value
            if item.name == "Tee":
                fields["k_through"] = self.dice.uniform(0.0, 1.0)
                fields["k_branch"] = fields["k_through"] / 2 + self.dice.uniform(0.0, 2.0)
            elif isinstance(fields, dict) and "k" in fields:
                fields["k"] *= self.dice.uniform(0.5, 3.0)
                fields["bore"] *= self.dice.uniform(0.85, 1.0)

    def manifold_bodies(self):
        for item in self.items.values():
            if item.name == "Manifold":
                item.value["bore"] *= self.dice.uniform(0.4, 0.8)
                item.value["spacing"] *= self.dice.uniform(0.8, 2.0)
                item.value["inlet"] = Variant(self.dice.choice(["End", "Middle"]))

    def orifices(self):
        for item in self.items.values():
            if item.name == "MeteringOrifice":
                item.value["cd"] = self.dice.uniform(0.6, 0.8)
                item.value["creeping"] = self.dice.random() < 0.5

    def slack_and_allowances(self):
        for line in self.some(self.lines(), 0.5):
            line["slack"] = self.dice.uniform(0.0, 0.2)
            for one in line["crossings"]:
                one["entered"] = option(self.dice.uniform(0.0, 1.0))

    def measured_lengths(self):
        for line in self.some(self.lines(), 0.4):
            line["measured"] = option(self.dice.uniform(0.2, 6.0))

    def _riding(self, x, y, z):
        """A point on any section: which it is changes no length, since lengths at hinges are entered."""
        return {"x": x, "y": y, "z": z, "section": self.dice.choice(self.project["bar"]["sections"])["id"]}

    def waypoints(self):
        for line in self.some(self.lines(), 0.3):
            line["waypoints"].append(self._riding(*(self.dice.uniform(-1.0, 1.0) for _ in "xyz")))

    def turned_parts(self):
        for part in self.routing["parts"]:
            if self.items[part["entry"]].name in ("Tee", "Manifold", "InletFilter", "SectionValve"):
                part["turn"] = self.dice.uniform(-3.2, 3.2)

    def heights_of_parts(self):
        for part in self.routing["parts"]:
            part["position"]["z"] += self.dice.uniform(-0.5, 0.5)

    def shares(self):
        for row in self.some(self.project["bar"]["rows"], 0.3):
            row["share"] = self.dice.choice([0.5, 0.75, 1.5])

    def own_strips(self):
        self.project["bar"]["row_widths"] = Variant("HalfWidths")
        for row in self.some(self.project["bar"]["rows"], 0.3):
            row["x"] += self.dice.uniform(-0.05, 0.05)
        # Outer rows reach to the edge of the working width.
        outer = min(self.project["bar"]["sections"], key=lambda section: section["left"])
        outer["left"] += self.dice.uniform(-0.3, 0.3)

    def outlet_heights(self):
        for row in self.project["bar"]["rows"]:
            row["outlet_height"] = self.dice.uniform(0.0, 0.4)

    def rows_left_out(self):
        """Left out and not plumbed."""
        feeds = self.some([feed for feed in self.routing["feeds"] if len(feed["branches"]) == 1], 0.15)
        gone = {feed["branches"][0]["row"] for feed in feeds}
        self.routing["feeds"] = [feed for feed in self.routing["feeds"] if feed not in feeds]
        for row in self.project["bar"]["rows"]:
            row["left_out"] = row["left_out"] or row["id"] in gone

    def plumbed_rows_left_out(self):
        for row in self.some(self.project["bar"]["rows"], 0.1):
            row["left_out"] = True

    def rows_without_tube(self):
        for feed in self.some(self.routing["feeds"], 0.1):
            self.routing["feeds"].remove(feed)

    def held_pressure(self):
        self.project["supply"]["control"] = Variant("Held", {"pressure": self.dice.uniform(0.6e5, 3e5)})
        self.project["supply"]["pump_capacity"] = NONE

    def held_pressure_at_capacity(self):
        self.project["supply"]["control"] = Variant("Held", {"pressure": 6e5})
        self.project["supply"]["pump_capacity"] = option(self.dice.uniform(0.5e-4, 1.5e-4))

    def pressure_limit(self):
        self.project["supply"]["control"] = Variant("Metered", {"limit": self.dice.uniform(0.5e5, 0.9e5)})

    def pump_capacity(self):
        self.project["supply"]["pump_capacity"] = option(self.dice.uniform(0.4e-4, 1.2e-4))

    def _curve(self):
        """A pump that gives less pressure the more it delivers, straight between its points."""
        flow, pressure = self.dice.uniform(0.6e-4, 6e-4), self.dice.uniform(1.2e5, 6e5)
        shape = [(0.0, 1.0), (self.dice.uniform(0.2, 0.5), self.dice.uniform(0.75, 0.95)),
                 (self.dice.uniform(0.6, 0.8), self.dice.uniform(0.4, 0.7)), (1.0, self.dice.uniform(0.0, 0.3))]
        self.project["supply"]["pump_curve"] = [{"flow": q * flow, "pressure": p * pressure} for q, p in shape]

    def pump_on_its_curve(self):
        self._curve()
        self.project["supply"]["control"] = Variant("Uncontrolled")
        self.project["supply"]["pump_capacity"] = NONE

    def pump_on_its_curve_up_to_its_capacity(self):
        self.pump_on_its_curve()
        end = self.project["supply"]["pump_curve"][-1]["flow"]
        self.project["supply"]["pump_capacity"] = option(end * self.dice.uniform(0.1, 0.9))

    def metered_flow_of_a_pump_with_a_curve(self):
        self._curve()
        self.project["supply"]["control"] = Variant("Metered", {"limit": self.dice.uniform(0.8e5, 5e5)})

    def held_pressure_of_a_pump_with_a_curve(self):
        self._curve()
        self.project["supply"]["control"] = Variant("Held", {"pressure": self.dice.uniform(0.6e5, 3e5)})

    def pump_place(self):
        self.project["supply"]["pump"] = {"x": self.dice.uniform(-2, 2), "y": self.dice.uniform(2, 5), "z": self.dice.uniform(0.2, 2)}

    def slopes(self):
        self.project["duties"][0]["side_slope"] = self.dice.uniform(-0.25, 0.25)
        self.project["duties"][0]["fore_aft_slope"] = self.dice.uniform(-0.25, 0.25)

    def thick_liquid(self):
        factor = self.dice.uniform(2.0, 60.0)
        for point in self.project["duties"][0]["liquid"]["points"]:
            point["viscosity"] *= factor
            point["density"] *= 1.1

    def cracking_pressures(self):
        for item in self.items.values():
            if item.name == "CheckValve":
                item.value["cracking"] *= self.dice.uniform(0.3, 2.0)
                item.value["closing"] = item.value["cracking"] * 0.8

    def no_check_valves(self):
        for feed in self.some(self.routing["feeds"], 0.3):
            for elements in stretches(feed):
                elements[:] = [element for element in elements if not is_piece(element, "CheckValve")]

    def flow_meters(self):
        """A flow meter in place of a stretch of the hose that leaves the pump, its other end at its way out."""
        meters = [key for key, item in self.items.items() if item.name == "FlowMeter"]
        run = next((run for run in self.routing["runs"] if "Supply" in (run["from"].name, run["to"].name)), None)
        if run is None:
            return
        part = copy.deepcopy(self.parts("Manifold")[0])
        pump = self.project["supply"]["pump"]
        part.update(id=9200, tag="FM9200", entry=self.dice.choice(meters), mount=NONE, shut=False,
                    turn=self.dice.uniform(-3.2, 3.2), position={**pump, "y": pump["y"] - self.dice.uniform(0.3, 0.8)})
        self.routing["parts"].append(part)
        ends = [Variant("Port", Wrapped({"part": 9200, "port": Variant(name)})) for name in ("In", "Out")]
        behind = copy.deepcopy(run)
        behind.update(id=9201, tag="H9201", **{"from": ends[1], "to": run["to"]})
        if run["from"].name != "Supply":
            behind.update(**{"to": run["from"], "from": ends[1]})
        behind["line"].update(waypoints=[], crossings=[])
        run.update(**{"from": Variant("Supply"), "to": ends[0]})
        run["line"].update(waypoints=[], crossings=[])
        self.routing["runs"].append(behind)

    def flow_indicators(self):
        indicators = [key for key, item in self.items.items() if item.name == "FlowIndicator"]
        for feed in self.some(self.routing["feeds"], 0.4):
            for elements in filter(None, stretches(feed)):
                piece = Variant("Piece", (Variant("FlowIndicator"), self.dice.choice(indicators)))
                elements.insert(self.dice.randint(0, len(elements)), piece)

    def order_of_elements(self):
        for feed in self.some(self.routing["feeds"], 0.3):
            for elements in stretches(feed):
                self.dice.shuffle(elements)

    def fittings_in_feeds(self):
        fitting = next(key for key, item in self.items.items() if item.name == "Fitting" and item.value["bore"] < 0.02)
        for feed in self.some(self.routing["feeds"], 0.3):
            for elements in stretches(feed):
                elements.insert(self.dice.randint(0, len(elements)), Variant("Fitting", fitting))

    def tubes_in_two_pieces(self):
        for feed in self.some(self.routing["feeds"], 0.3):
            for elements in stretches(feed):
                at = next((at for at, element in enumerate(elements) if element.name == "Tube"), None)
                if at is not None:
                    first = copy.deepcopy(elements[at])
                    first.value["line"]["waypoints"] = []
                    first.value["end"] = option(self._riding(self.dice.uniform(-2, 2), 0.1, 0.8))
                    elements.insert(at, first)

    def metering_tubes(self):
        stocks = [key for key, item in self.items.items() if item.name == "MeteringTube"]
        for feed in self.some(self.routing["feeds"], 0.5):
            for elements in stretches(feed):
                elements[:] = [Variant("MeteringTube", {"stock": self.dice.choice(stocks), "length": self.dice.uniform(0.1, 1.0),
                                                        "coil": NONE}) if is_piece(element, "MeteringOrifice") else element
                               for element in elements]

    def coiled_metering_tubes(self):
        self.metering_tubes()
        for feed in self.routing["feeds"]:
            for elements in stretches(feed):
                for element in elements:
                    if element.name == "MeteringTube":
                        element.value["coil"] = option(self.dice.uniform(0.03, 0.15))

    def exchanged_outlets(self):
        feeds = [feed for feed in self.routing["feeds"] if feed["from"].name == "Port"]
        ends = [feed["from"] for feed in feeds]
        self.dice.shuffle(ends)
        for feed, end in zip(feeds, ends):
            feed["from"] = end

    def hoses_drawn_the_other_way(self):
        for run in self.some(self.routing["runs"], 0.5):
            run["from"], run["to"] = run["to"], run["from"]
            run["line"]["waypoints"].reverse()

    def shared_feeds_of_one_row(self):
        """A shared feed that lost a row keeps its small tee."""
        for feed in self.routing["feeds"]:
            if len(feed["branches"]) > 1:
                feed["branches"].pop(self.dice.randrange(len(feed["branches"])))

    def new_shared_feeds(self):
        tee = next(key for key, item in self.items.items() if item.name == "SmallTee")
        single = [feed for feed in self.routing["feeds"] if not feed["trunk"] and len(feed["branches"]) == 1]
        for one, other in list(zip(single, single[1:]))[::4]:
            tube = copy.deepcopy(next(element for element in one["branches"][0]["elements"] if element.name == "Tube"))
            one["trunk"] = [tube]
            one["split"] = option({"entry": tee, "position": self._riding(self.dice.uniform(-3, 3), -0.4, 0.5)})
            one["branches"] += other["branches"]
            self.routing["feeds"].remove(other)

    def rings(self):
        """A hose between the far ends of two manifolds."""
        taken = [end.value for run in self.routing["runs"] for end in (run["from"], run["to"]) if end.name == "Port"]
        free = [port for port in ({"part": part["id"], "port": Variant("Out")} for part in self.parts("Manifold"))
                if port not in taken]
        if len(free) > 1:
            a, b = self.dice.sample(free, 2)
            run = copy.deepcopy(self.routing["runs"][-1])
            run.update(id=9001, tag="H9001", **{"from": Variant("Port", Wrapped(a)), "to": Variant("Port", Wrapped(b))})
            run["line"].update(waypoints=[], crossings=[])
            self.routing["runs"].append(run)

    def manifolds_fed_at_the_far_end(self):
        for part in self.some(self.parts("Manifold"), 0.5):
            for run in self.routing["runs"]:
                for end in (run["from"], run["to"]):
                    if end.name == "Port" and end.value["part"] == part["id"] and end.value["port"].name in ("In", "Out"):
                        end.value["port"] = Variant("Out" if end.value["port"].name == "In" else "In")

    def shut_section_valves(self):
        for part in self.some(self.parts("SectionValve"), 0.3):
            part["shut"] = True

    def gauges_on_outlets(self):
        """A gauge in place of a row feed."""
        gauges = [key for key, item in self.items.items() if item.name == "Gauge"]
        for number, feed in enumerate(self.some(self.routing["feeds"], 0.15)):
            self.routing["feeds"].remove(feed)
            part = copy.deepcopy(self.routing["parts"][0])
            part.update(id=9100 + number, tag=f"G{9100 + number}", entry=gauges[0], mount=option(dict(feed["from"].value)), shut=False)
            self.routing["parts"].append(part)


def is_piece(element, kind):
    """An element of a row feed is a whole piece of a kind."""
    return element.name == "Piece" and element.value[0].name == kind


def stretches(feed):
    return [feed["trunk"], *(branch["elements"] for branch in feed["branches"])]


# Every change, in the order that they are taken in turn.
CHANGES = [name for name in vars(Change) if not name.startswith("_") and name not in ("parts", "lines", "some")]


def variants(examples, count, seed=20260331):
    """`count` projects: (name, project, routing). Each kind of change comes first in its turn, others join it by chance."""
    routings = [(name, project, routing["name"]) for name, project in examples for routing in project["routings"]]
    for number in range(count):
        dice = random.Random(seed + number)
        name, project, routing = routings[(number + number // len(CHANGES)) % len(routings)]
        project = copy.deepcopy(project)
        change = Change(project, routing, dice)
        chosen = [CHANGES[number % len(CHANGES)], *dice.sample(CHANGES, dice.randint(1, 4))]
        chosen = list(dict.fromkeys(chosen))
        for one in chosen:
            getattr(change, one)()
        enter_lengths_at_hinges(project)
        yield f"variant {number}: {name} {routing} {', '.join(chosen)}".replace("_", " "), project, routing
