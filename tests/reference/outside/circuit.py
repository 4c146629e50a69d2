"""A circuit as this check sees it, and the same circuit as Keyon text.

Every method adds one thing to both: lines of text, and branches between named nodes. "0" is the common ground. A branch
is a dictionary: name, a, b, kind (joint, r, source, diode), load (bool), and what it needs besides.
"""

import csv
import pathlib

OHM_PER_KM = {
    row["size"]: float(row["value"])
    for row in csv.DictReader(open(pathlib.Path(__file__).parent.parent / "conductors.csv", encoding="utf-8"))
}


def number(value):
    """A number as the language writes it: no exponent, no trailing zeros."""
    text = f"{value:.9f}".rstrip("0").rstrip(".")
    return text or "0"


class Circuit:
    def __init__(self, name):
        self.lines = [f"circuit {name}", ""]
        self.branches = []
        self.points = ["ground"]  # names that are probed
        self.node_of = {"ground": "0"}
        self.settings = []
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

    def supply(self, name, volts, inner=0.0, limit=None):
        text = f"supply {name}  {number(volts)} V"
        if inner:
            text += f"  inner {number(inner * 1000)} mohm"
        self.lines.append(text)
        node = self.point(name)
        self.branch(name, "0", node, "source", volts=volts, inner=inner, limit=None, origin="supply")
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

    def wire(self, a, b, size=None, length=None):
        """Points by name. Ideal without a size, unless that would close a loop of ideal joints."""
        na, nb = self.node_of[a], self.node_of[b]
        if size is None and not self.may_join(na, nb):
            size, length = "0.75", 1.5
        self.counter += 1
        label = str(self.counter)
        text = f"wire {label}  {a} -> {b}"
        if size:
            self.lines.append(f"{text}  {size} mm2  {number(length)} m")
            self.branch(label, na, nb, "r", ohms=OHM_PER_KM[size] * length / 1000)
        else:
            self.lines.append(text)
            self.branch(label, na, nb, "joint")
        return label

    def fuse(self, name, a, b, amps):
        self.lines.append(f"fuse {name}  {a} -> {b}  {number(amps)} A")
        self.branch(name, self.node_of[a], self.node_of[b], "joint", fuse=amps)

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

    def rated(self, kind, name, a, b, watts, volts):
        text = f"{number(watts)} W {number(volts)} V"
        self.two_pin(kind, name, a, b, text, volts * volts / watts, rated=watts / volts)

    def coil(self, name, a, b, ohms, pulls_in=None, drops_out=None):
        text = f"{number(ohms)} ohm"
        if pulls_in:
            text += f" pulls_in {number(pulls_in)} A drops_out {number(drops_out)} A"
        self.two_pin("coil", name, a, b, text, ohms, threshold=pulls_in, rated=self.volts / ohms)

    def winding(self, name, a, b, ohms, turns_at):
        text = f"{number(ohms)} ohm" + (f" turns_at {number(turns_at)} A" if turns_at else "")
        rated = self.volts / ohms
        self.two_pin("winding", name, a, b, text, ohms, threshold=turns_at, rated=rated, directed=True)

    def thermistor(self, name, a, b, ohms, at, beta, now):
        text = f"{number(ohms)} ohm at {number(at)} degC beta {number(beta)} K"
        kelvin = 273.15
        from math import exp

        value = ohms * exp(beta * (1 / (now + kelvin) - 1 / (at + kelvin)))
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

    # --- devices with a body

    def track(self, name, ohms, travel, now):
        low, high = travel
        self.lines += [
            f"device {name} {{",
            "  pins 1, 2, 3",
            f"  track 1 -> 3 wiper 2 {number(ohms)} ohm travel {number(low * 100)} .. {number(high * 100)} %",
            "}",
        ]
        self.settings.append(f"{name} {number(now * 100)} %")
        at = low + (high - low) * now
        top, wiper, bottom = (self.point(f"{name}.{pin}") for pin in "123")
        self.branch(f"{name}.track+", top, wiper, "r", load=True, ohms=ohms * (1 - at), label=False)
        self.branch(f"{name}.track-", wiper, bottom, "r", load=True, ohms=ohms * at, label=False)

    def relay(self, name, ohms, pulls_in, drops_out, diode=None):
        self.lines += [
            f"device {name} {{",
            "  pins 30, 85, 86, 87, 87a",
            f"  coil K  85 -> 86  {number(ohms)} ohm  pulls_in {number(pulls_in)} A  drops_out {number(drops_out)} A",
            "  changeover 30 -> (rest 87a, active 87)  when K energised",
        ]
        pin = {p: self.point(f"{name}.{p}") for p in ("30", "85", "86", "87", "87a")}
        coil = f"{name}.K"
        self.branch(coil, pin["85"], pin["86"], "r", load=True, ohms=ohms, threshold=pulls_in, drops_out=drops_out)
        self.devices[name] = [coil]
        self.branch(f"{name}.30_87a", pin["30"], pin["87a"], "joint", coil=coil, when=False)
        self.branch(f"{name}.30_87", pin["30"], pin["87"], "joint", coil=coil, when=True)
        if diode:
            self.lines.append(f"  diode 86 -> 85  drop {number(diode)} V")
            self.branch(f"{name}.diode", pin["86"], pin["85"], "diode", drop=diode, label=False)
        self.lines.append("}")

    def key(self, name):
        """Positions off, run, start; contacts from B to R in run and start, to S in start."""
        self.lines += [
            f"device {name} {{",
            "  pins B, R, S",
            "  positions off, run, start",
            "  contact B -> R  closed in run, start",
            "  contact B -> S  closed in start",
            "}",
        ]
        b, r, s = (self.point(f"{name}.{pin}") for pin in "BRS")
        self.branch(f"{name}.B_R", b, r, "joint")["key"] = name
        self.branch(f"{name}.B_S", b, s, "joint")["key"] = name

    def turn(self, name, at):
        if at != "off":
            self.settings.append(f"{name} {at}")
        for entry in self.branches:
            if entry.get("key") == name:
                entry["on"] = at == "start" or (at == "run" and entry["name"].endswith("B_R"))

    # --- text

    def text(self):
        body = ", ".join(self.settings)
        return "\n".join(self.lines + ["", f"scenario now {{ {body} }}" if body else "scenario now { }", ""])
