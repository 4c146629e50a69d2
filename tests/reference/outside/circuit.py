"""A circuit as this check sees it, and the same circuit as Keyon text.

Every method adds one thing to both: lines of text, and branches between named nodes. "0" is the common ground. A branch
is a dictionary: name, a, b, kind (joint, r, source, diode, output), load (bool), and what it needs besides.
"""

import csv
import math
import pathlib

from .bodies import Bodies
from .curves import beta, steinhart, table
from .numbers import number
from .setups import Setups

OHM_PER_KM = {
    row["size"]: float(row["value"])
    for row in csv.DictReader(open(pathlib.Path(__file__).parent.parent / "conductors.csv", encoding="utf-8"))
}


def awg_ohm_per_metre(size):
    """A solid copper conductor at 20 degC: diameter by ASTM B258, resistivity of IEC 60028."""
    diameter = 0.127e-3 * 92 ** ((36 - size) / 39)
    return 1.7241e-8 / (math.pi / 4 * diameter * diameter)


class Circuit(Bodies, Setups):
    def __init__(self, name):
        self.lines = [f"circuit {name}", ""]
        self.branches = []
        self.points = ["ground"]  # names that are probed
        self.node_of = {"ground": "0"}
        self.settings = []
        self.setups = []
        self.devices = {}  # name -> list of branch names, with how to judge them in the branch
        self.inputs = []  # (cavity path, module)
        self.modules = {}  # name -> (feed nodes, ground nodes)
        self.volts = None  # of the supply that rated states refer to
        self.counter = 100
        self.ideal = {}  # union-find over joints, so that none closes a loop

    # --- nodes

    def point(self, name, node=None):
        self.points.append(name)
        self.node_of[name] = node or name
        return self.node_of[name]

    def root(self, node):
        while self.ideal.get(node, node) != node:
            node = self.ideal[node]
        return node

    def branch(self, name, a, b, kind, load=False, **more):
        if kind == "joint":
            ra, rb = self.root(a), self.root(b)
            assert ra != rb, f"joint {name} closes a loop"
            self.ideal[ra] = rb
        entry = dict(name=name, a=a, b=b, kind=kind, load=load, on=True, module=None, **more)
        self.branches.append(entry)
        return entry

    def may_join(self, a, b):
        return self.root(a) != self.root(b)

    # --- top level

    def supply(self, name, volts, inner=0.0, negative=None):
        """`negative`: a point that its other pole is on, a supply that this one stands on."""
        text = f"supply {name}  {number(volts)} V"
        if inner:
            text += f"  inner {number(inner * 1000)} mohm"
        if negative:
            text += f"  negative {negative}"
        self.lines.append(text)
        node, foot = self.point(name), self.node_of[negative] if negative else "0"
        potential = volts + (self.volts if negative else 0)
        values = dict(volts=volts, inner=inner, limit=None, origin="supply", potential=potential)
        self.branch(name, foot, node, "source", **values)
        self.volts = self.volts or volts
        return node

    def ground(self, name, ohms=0.0):
        self.lines.append(f"ground {name}" + (f"  {number(ohms * 1000)} mohm" if ohms else ""))
        node = self.point(name)
        self.branch(name, node, "0", "r" if ohms else "joint", ohms=ohms)
        return node

    def splice(self, name):
        self.lines.append(f"splice {name}")
        return self.point(name)

    def stretch(self, label, na, nb, size, length):
        """A stretch of wire between nodes; what of it is written. Ideal without a size, unless that closes a loop."""
        if size is None and not self.may_join(na, nb):
            size, length = "0.75", 1.5
        if size is None:
            self.branch(label, na, nb, "joint")
            return ""
        if size.startswith("AWG"):
            self.branch(label, na, nb, "r", ohms=awg_ohm_per_metre(int(size[4:])) * length)
            return f"  {size}  {number(length)} m"
        self.branch(label, na, nb, "r", ohms=OHM_PER_KM[size] * length / 1000)
        return f"  {size} mm2  {number(length)} m"

    def wire(self, a, b, size=None, length=None):
        """Between points by name."""
        self.counter += 1
        label = str(self.counter)
        written = self.stretch(label, self.node_of[a], self.node_of[b], size, length)
        self.lines.append(f"wire {label}  {a} -> {b}{written}")
        return label

    def inline(self, name, a, b, size=None, length=None):
        """A wire through an in-line connector of its own: side a is where the wire comes from."""
        self.lines.append(f"connector {name} {{ 1 }}")
        near, far = self.point(f"{name}.1.a"), self.point(f"{name}.1.b")
        self.branch(f"{name}.1", near, far, "joint")
        self.counter += 1
        label = str(self.counter)
        # A gauge in the middle is that stretch's own; one at the end alone would be the whole wire's: both or none.
        if size is None and not self.may_join(self.node_of[a], self.node_of[b]):
            size, length = "0.75", 1.5
        first = self.stretch(f"{label}.1", self.node_of[a], near, size, length)
        second = self.stretch(f"{label}.2", far, self.node_of[b], size, length)
        self.lines.append(f"wire {label}  {a} -> {name}.1{first} -> {b}{second}")

    def fuse(self, name, a, b, amps, kind="fuse"):
        self.lines.append(f"{kind} {name}  {a} -> {b}  {number(amps)} A")
        self.branch(name, self.node_of[a], self.node_of[b], "joint", fuse=amps)

    def elsewhere(self, title, amps, a):
        """A load that leaves the page, on the first supply's volts."""
        self.lines.append(f'elsewhere "{title}"  {number(amps)} A  {a}')
        self.branch(title, self.node_of[a], "0", "r", load=True, ohms=self.volts / amps, label=False)

    def pins(self, name, a, b):
        """A device of two pins whose path is named at once: its pins are those points (and not probed again)."""
        self.node_of[f"{name}.1"], self.node_of[f"{name}.2"] = self.node_of[a], self.node_of[b]
        return self.node_of[a], self.node_of[b]

    def switch(self, name, a, b, positions, closed, at):
        words = ", ".join(positions)
        self.lines.append(f"switch {name}  {a} -> {b}  positions {words} closed in {', '.join(closed)}")
        if at != positions[0]:
            self.settings.append(f"{name} {at}")
        na, nb = self.pins(name, a, b)
        self.branch(name, na, nb, "joint")["on"] = at in closed

    def two_pin(self, kind, name, a, b, text, ohms, **judge):
        self.lines.append(f"{kind} {name}  {a} -> {b}  {text}")
        na, nb = self.pins(name, a, b)
        entry = self.branch(name, na, nb, "r", load=True, ohms=ohms, **judge)
        self.devices[name] = [entry["name"]]
        return entry

    def resistor(self, name, a, b, ohms):
        self.two_pin("resistor", name, a, b, f"{number(ohms)} ohm", ohms)
        del self.devices[name]

    def rated(self, kind, name, a, b, watts, volts, cold=None):
        """`cold` is for the moment of starting, and changes nothing here."""
        text = f"{number(watts)} W {number(volts)} V" + (f" cold {number(cold)} ohm" if cold else "")
        self.two_pin(kind, name, a, b, text, volts * volts / watts, rated=watts / volts)

    def coil(self, name, a, b, ohms, pulls_in=None, drops_out=None):
        text = f"{number(ohms)} ohm"
        if pulls_in:
            text += f" pulls_in {number(pulls_in)} A drops_out {number(drops_out)} A"
        self.two_pin("coil", name, a, b, text, ohms, threshold=pulls_in, rated=self.volts / ohms)

    def winding(self, name, a, b, ohms, turns_at, runs=None, rated=None):
        """`runs`: amps that it draws turning at `rated` volts."""
        text = f"{number(ohms)} ohm" + (f" turns_at {number(turns_at)} A" if turns_at else "")
        if runs:
            text += f" rated {number(rated)} V runs {number(runs)} A"
        amps = (rated or self.volts) / ohms
        more = dict(turning=rated / runs) if runs else {}
        self.two_pin("winding", name, a, b, text, ohms, threshold=turns_at, rated=amps, directed=True, **more)

    def thermistor(self, name, a, b, curve, now):
        """`curve`: ("beta", ohms, at, beta), ("steinhart", a, b, c) or ("table", rows of degC and ohms)."""
        kind, *values = curve
        if kind == "beta":
            ohms, at, constant = values
            text = f"{number(ohms)} ohm at {number(at)} degC beta {number(constant)} K"
            value = beta(ohms, at, constant, now)
        elif kind == "steinhart":
            text = "steinhart " + " ".join(f"{v:.6e}" for v in values)
            value = steinhart(*values, now)
        else:
            text = "table { " + ", ".join(f"{number(t)} degC {number(r)} ohm" for t, r in values[0]) + " }"
            value = table(values[0], now)
        self.two_pin("thermistor", name, a, b, text, value)
        del self.devices[name]
        self.settings.append(f"{name} {number(now)} degC")

    def variable(self, name, a, b, high, now):
        self.two_pin("variable", name, a, b, f"0 .. {number(high)} ohm", now)
        del self.devices[name]
        self.settings.append(f"{name} {number(now)} ohm")

    def diode(self, name, a, b, drop):
        self.lines.append(f"diode {name}  {a} -> {b}  drop {number(drop)} V")
        na, nb = self.pins(name, a, b)
        self.branch(name, na, nb, "diode", drop=drop)

    # --- text

    def text(self):
        body = ", ".join(self.settings + self.setups)
        return "\n".join(self.lines + ["", f"scenario now {{ {body} }}" if body else "scenario now { }", ""])
