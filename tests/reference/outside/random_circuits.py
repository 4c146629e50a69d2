"""Random circuits that look like something: feeds through a key and fuses, loads of all kinds, modules, sensors."""

import random

from .circuit import Circuit
from .module import Module

SIZES = ["0.5", "0.75", "1", "1.5", "2.5", "AWG 20", "AWG 16"]


class Builder:
    def __init__(self, seed):
        self.r = random.Random(seed)
        self.c = Circuit(f"random_{seed}")
        self.count = {}
        self.duty = None

    def name(self, stem):
        self.count[stem] = self.count.get(stem, 0) + 1
        return f"{stem}{self.count[stem]}"

    def some(self, *values):
        return self.r.choice(values)

    def round(self, low, high, digits=1):
        return round(self.r.uniform(low, high), digits)

    def wire(self, a, b, ideal=0.4):
        gauge = () if self.r.random() < ideal else (self.r.choice(SIZES), self.round(0.3, 6.0))
        if self.r.random() < 0.06:
            return self.c.inline(self.name("X"), a, b, *gauge)
        return self.c.wire(a, b, *gauge)

    def splice(self, stem="S"):
        return self.c.splice(self.name(stem))

    def different(self, nodes, other):
        """One of the points that is not ideally joined to `other`; None if there is none."""
        apart = [n for n in nodes if self.c.may_join(self.c.node_of[n], self.c.node_of[other])]
        return self.r.choice(apart) if apart else None

    # --- the frame of it

    def power(self):
        c, r = self.c, self.r
        c.supply("battery", self.round(11.0, 28.0), self.some(0, 0.015, 0.04))
        self.grounds = [c.ground(self.name("G"), self.some(0, 0, 0.03)) for _ in range(r.randint(1, 2))]
        self.feeds = ["battery"]
        self.stacked = r.random() < 0.06
        if self.stacked:
            c.supply("upper", 12.0, self.some(0, 0.02), negative="battery")
        if r.random() < 0.5:
            c.key("key")
            self.wire("battery", "key.B")
            c.turn("key", self.some("off", "run", "run", "run", "start"))
            self.feeds += ["key.R", "key.S"] if r.random() < 0.3 else ["key.R"]
        for _ in range(r.randint(1, 3)):
            splice = self.splice("F_S")
            start = r.choice(self.feeds)
            if r.random() < 0.7:
                kind, stem = self.some(("fuse", "F"), ("fuse", "F"), ("fuse", "F"), ("breaker", "CB"), ("link", "FL"))
                c.fuse(self.name(stem), start, splice, self.some(2, 3, 10, 15, 20), kind)
            else:
                self.wire(start, splice)
            self.feeds.append(splice)
        if self.stacked:
            self.feeds.append("upper")
        self.inner = [self.splice() for _ in range(r.randint(0, 3))]
        self.returns = list(self.grounds)

    def module(self):
        c, r = self.c, self.r
        m = Module(c, self.name("M"))
        feed = r.random() < 0.8
        ground = r.random() < 0.8
        # Modules hang on the first supply: what they make of twice its volts is nobody's matter.
        own = [f for f in self.feeds if f != "upper"]
        if feed:
            self.wire_later.append((r.choice(own), m.feed("bplus", self.some(None, None, 0.2))))
            if r.random() < 0.3:
                self.wire_later.append((r.choice(own), m.feed("tap")))
        if ground:
            self.wire_later.append((m.ground("gnd"), r.choice(self.grounds)))
            if r.random() < 0.3:
                self.wire_later.append((m.ground("gnd_p"), r.choice(self.grounds)))
        for _ in range(r.randint(0, 3)):
            way = self.some("low", "low", "high", "half") if feed else "low"
            at = self.some(*{"low": ("off", "on"), "high": ("off", "on"), "half": ("open", "low", "high")}[way])
            duty = None
            if way != "half" and at == "on" and self.duty is None and r.random() < 0.25 and self.steady():
                duty = self.duty = self.round(0.1, 0.9, 2)
            pin = m.drives(self.name("cmd"), way, self.some(0, 0.12, 0.3), at, duty, last=r.random() < 0.3)
            splice = self.splice("D")
            self.wire_later.append((splice, pin))
            (self.returns if way == "low" else self.inner).append(splice)
        if feed and ground and r.random() < 0.35:
            self.bridge(m)
        if r.random() < 0.6:
            self.sensors(m)
        m.finish()
        for a, b in self.wire_later:
            self.wire(a, b)
        self.wire_later = []

    def steady(self):
        """Nothing is there that a pulse would make a matter of its mean: relays, motors that start to turn."""
        return not self.relays and not self.motors

    def bridge(self, m):
        """A motor between two changeovers that move together."""
        at = self.some("stop", "open", "open", "shut")
        pulsed = at != "stop" and self.duty is None and self.r.random() < 0.4 and self.steady()
        duty = self.round(0.1, 0.9, 2) if pulsed else None
        self.duty = self.duty if duty is None else duty
        ends = []
        for pin in m.gang(self.name("drive"), at, self.some(0.06, 0.2), duty):
            ends.append(self.splice("B_M"))
            self.wire_later.append((ends[-1], pin))
        self.later.append(lambda: self.motor(*ends))

    def motor(self, a, b):
        """A winding; where nothing pulses perhaps one that is known turning."""
        turns = self.duty is None and self.r.random() < 0.5
        more = dict(runs=self.some(0.4, 1.5), rated=12) if turns else {}
        self.motors += turns
        at = self.some(0.4, 0.9) if self.stacked else self.some(None, 0.4, 0.9)
        self.c.winding(self.name("M_W"), a, b, self.some(6, 11, 30), at, **more)

    def sensors(self, m):
        c, r = self.c, self.r
        back = m.back(self.name("low"), self.some(None, None, True, True, False))
        splice = self.splice("B")
        self.wire_later.append((splice, back))
        reference = None
        if r.random() < 0.8:
            limit = self.some(None, 0.05, 0.01)
            reference = self.splice("V")
            nominal = self.some(5, 5, 8)
            pin = m.reference(self.name("vref"), nominal, self.some(0, 5, 20), limit)
            self.wire_later.append((reference, pin))
        for _ in range(r.randint(1, 3)):
            kinds = ("thermistor", "track", "variable", "transducer", "switch")
            kind = self.some(*kinds) if reference else self.some("thermistor", "variable", "switch")
            if kind == "switch":
                pin = m.senses(self.name("in"), up=self.some(2.2e3, 4.7e3), digital=True)
                signal = self.splice("I")
                self.wire_later.append((signal, pin))
                c.switch(self.name("SW"), signal, r.choice(self.grounds), ["off", "on"], ["on"], self.some("off", "on"))
            elif kind == "transducer":
                pin = m.senses(self.name("in"), down=self.some(10e3, 100e3))
                name, over = self.name("PT"), self.some(100, 1000)
                span = self.some((0.5, 4.5), (0.25, 4.75))
                make = lambda n=name, s=span, o=over: c.transducer(
                    n, s, o, self.round(0, 1.2 * o, 0), self.some(None, nominal))
                self.later.append(make)
                self.wire_later += [(reference, f"{name}.1"), (splice, f"{name}.2"), (f"{name}.3", pin)]
            elif kind == "track":
                down, up = self.some((220e3, None), (10e3, None), (None, None), (None, 47e3))
                pin = m.senses(self.name("in"), up=up, down=down)
                track = self.name("P")
                travel = self.some((0.05, 0.95), (0.1, 0.9), (0.05, 0.85))
                self.later.append(lambda t=track, tr=travel: c.track(t, self.some(1e3, 5e3, 10e3), tr, self.round(0, 1, 2)))
                self.wire_later += [(reference, f"{track}.1"), (f"{track}.2", pin), (f"{track}.3", splice)]
            else:
                target = "feed" if m.feeds and r.random() < 0.2 else 5.0
                pin = m.senses(self.name("in"), up=self.some(1e3, 2.2e3, 4.7e3), up_volts=target)
                signal = self.splice("I")
                self.wire_later.append((signal, pin))
                if kind == "thermistor":
                    curve = self.some(
                        ("beta", self.some(2.5e3, 10e3), 25, self.some(3435, 3500, 3950)),
                        ("steinhart", 1.129e-3, 2.341e-4, 8.775e-8),
                        ("table", [(-40, 50e3), (0, 7.3e3), (25, 2.5e3), (60, 720), (120, 140)]),
                    )
                    c.thermistor(self.name("T"), signal, splice, curve, r.randint(-30, 110))
                else:
                    c.variable(self.name("R_var"), signal, splice, 10e3, self.r.randint(50, 9000))
        for make in self.later:
            make()
        self.later = []

    # --- loads

    def load(self):
        c, r = self.c, self.r
        a = r.choice(self.feeds + self.inner + self.inner)
        b = self.different(self.inner + self.returns + self.returns, a)
        if b is None:
            return
        if r.random() < 0.3:
            between = self.splice("W")
            if r.random() < 0.5:
                c.switch(self.name("SW"), a, between, ["off", "on"], ["on"], self.some("off", "on"))
            else:
                self.wire(a, between)
            a = between
        if r.random() < 0.15:
            a, b = b, a
        kind = self.some("lamp", "heater", "coil", "winding", "resistor", "resistor", "coil")
        if kind == "lamp":
            cold = self.some(None, None, 0.7)
            c.rated("lamp", self.name("L"), a, b, self.some(5, 10, 21, 55), self.some(12, 12, 24), cold)
        elif kind == "heater":
            c.rated("heater", self.name("H"), a, b, self.some(40, 60, 90), 12)
        elif kind == "coil":
            ohms = self.some(24, 85, 48)
            pulls = round(8 / ohms, 3) if self.stacked else self.some(None, round(8 / ohms, 3))
            c.coil(self.name("C"), a, b, ohms, pulls, pulls and round(pulls / 3, 3))
        elif kind == "winding":
            self.motor(a, b)
        else:
            c.resistor(self.name("R"), a, b, self.some(4.7, 47, 100, 470, 1000, 2200))

    def diode(self):
        """In series with a resistor, out of a feed, or the other way round."""
        a = self.r.choice(self.feeds + self.inner)
        b = self.different(self.inner + self.returns, a)
        if b is None:
            return
        middle = self.splice("X")
        if self.r.random() < 0.3:
            a, b = b, a
        self.c.diode(self.name("D_"), a, middle, self.some(0.3, 0.7, 0.65))
        self.c.resistor(self.name("R"), middle, b, self.some(22, 100, 330))
        if self.r.random() < 0.4:
            self.inner.append(middle)

    def feed_diode(self):
        """Two feeds joined through diodes."""
        joined = self.splice("J")
        for start in self.r.sample(self.feeds, min(2, len(self.feeds))):
            self.c.diode(self.name("D_"), start, joined, 0.7)
        self.inner.append(joined)

    def relay(self):
        c, r = self.c, self.r
        name = self.name("K")
        self.relays += 1
        ohms = self.some(60, 85, 120)
        pulls = round(0.6 * c.volts / ohms, 3)
        c.relay(name, ohms, pulls, round(pulls / 4, 3), self.some(None, 0.7))
        plus = r.choice(self.feeds)
        minus = self.r.choice(self.returns)
        if r.random() < 0.5:
            middle = self.splice("W")
            c.switch(self.name("SW"), plus, middle, ["off", "on"], ["on"], self.some("off", "on", "on"))
            plus = middle
        # The diode across the coil blocks when pin 85 is the positive one.
        self.wire(plus, f"{name}.85")
        self.wire(f"{name}.86", minus)
        self.wire(r.choice(self.feeds), f"{name}.30")
        for pin in ("87", "87a"):
            splice = self.splice("O")
            self.wire(f"{name}.{pin}", splice)
            self.inner.append(splice)

    def selector(self):
        """A hand-operated changeover out of a feed."""
        c, r = self.c, self.r
        name = self.name("SEL")
        c.selector(name, self.some(0.02, 0.05), self.some("left", "right"))
        self.wire(r.choice(self.feeds), f"{name}.in")
        for pin in "abc":
            splice = self.splice("O")
            self.wire(f"{name}.{pin}", splice)
            self.inner.append(splice)

    def coils(self):
        """A device of several coils, each with a switch to ground."""
        c, r = self.c, self.r
        name = self.name("MC")
        ohms = r.sample([48, 24, 36, 72], r.randint(2, 3))
        c.coils(name, ohms)
        self.wire(r.choice(self.feeds), f"{name}.C")
        for pin in range(1, len(ohms) + 1):
            splice = self.splice("O")
            self.wire(f"{name}.{pin}", splice)
            c.switch(self.name("SW"), splice, r.choice(self.grounds), ["off", "on"], ["on"], self.some("off", "on"))

    def absolute_transducer(self):
        """Fed by the supply itself."""
        c, r = self.c, self.r
        name = self.name("PT")
        c.transducer(name, (0.5, 4.5), 1000, self.round(0, 1100, 0))
        self.wire(r.choice(self.feeds), f"{name}.1")
        self.wire(f"{name}.2", r.choice(self.returns))
        out = self.splice("I")
        self.wire(f"{name}.3", out)
        c.resistor(self.name("R"), out, r.choice(self.grounds), self.some(1000, 10e3))

    def setup(self):
        """What a person does: unplug, pull, bridge, load."""
        c, r = self.c, self.r
        kind = self.some("unplug", "unplug", "pull", "jumper", "load", "load")
        named = [b["name"] for b in c.branches]
        parts = sorted({n.split(".")[0] for n in named if n.startswith(("K", "L", "C", "R", "M_W", "SEL", "MC", "T"))
                        and not n.startswith("CB")} & self.count_names())
        fuses = [b["name"] for b in c.branches if b.get("fuse")]
        spots = self.feeds + self.inner + self.returns
        if kind == "unplug" and parts:
            c.unplug(r.choice(parts))
        elif kind == "pull" and fuses:
            c.pull(r.choice(fuses))
        elif kind == "jumper":
            a = r.choice(spots)
            b = self.different(spots, a)
            if b:
                c.jumper(a, b)
        else:
            a, b = r.choice(self.feeds + self.inner), r.choice(self.grounds)
            c.test_load(a, b, self.some(5, 21), 12)

    def count_names(self):
        return {f"{stem}{n}" for stem, count in self.count.items() for n in range(1, count + 1)}

    def build(self, numeric=True):
        r = self.r
        self.wire_later, self.later, self.relays, self.motors = [], [], 0, 0
        self.power()
        plan = {
            "relay": r.random() < 0.3,
            "module": r.random() < 0.6,
            "feed_diode": r.random() < 0.2,
            "diode": r.random() < 0.35,
            "selector": r.random() < 0.15,
            "coils": r.random() < 0.15,
            "absolute_transducer": r.random() < 0.15,
        }
        for step, wanted in plan.items():
            if wanted:
                getattr(self, step)()
        for _ in range(r.randint(2, 6)):
            self.load()
        if r.random() < 0.12:
            self.c.elsewhere("fan", self.some(1, 3), r.choice([f for f in self.feeds if f != "upper"]))
        if r.random() < 0.25:
            self.setup()
        return self.c, self.duty


def numeric(seed):
    return Builder(seed).build()


def reach(seed):
    """Wiring, switches and resistors without much sense: for node states alone. Clashes are welcome, fuses are not."""
    b = Builder(seed)
    c, r = b.c, b.r
    c.supply("battery", 12.6)
    points = ["battery"]
    if r.random() < 0.3:
        c.supply("second", b.some(12.6, 24))
        points.append("second")
    points += [c.ground(b.name("G")) for _ in range(r.randint(1, 2))]
    points += [b.splice() for _ in range(r.randint(4, 9))]
    if r.random() < 0.4:
        m = Module(c, "M1")
        feed, ground = r.random() < 0.7, r.random() < 0.7
        pins = []
        if feed:
            pins.append(m.feed("bplus"))
        if ground:
            pins.append(m.ground("gnd"))
        way = b.some("low", "high") if feed else "low"
        pins.append(m.drives("cmd", way, 0.1, b.some("off", "on")))
        pins.append(m.reference("vref", 5, 0))
        pins.append(m.senses("in", up=b.some(None, 2200), down=b.some(None, 1e5)))
        m.finish()
        points += [p for p in pins if r.random() < 0.9]
    for _ in range(r.randint(8, 18)):
        a = r.choice(points)
        z = b.different(points, a)
        if z is None:
            continue
        kind = b.some("wire", "switch", "switch", "resistor", "resistor", "resistor")
        if kind == "wire" and r.random() < 0.6:
            c.wire(a, z, "0.75", 1.0)
        elif kind == "switch":
            c.switch(b.name("SW"), a, z, ["off", "on"], ["on"], b.some("off", "on"))
        elif kind == "resistor":
            c.resistor(b.name("R"), a, z, 100)
    return c, None
