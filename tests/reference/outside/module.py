"""A control module: its cavities and what stands behind them, by decision 23."""

from .circuit import number


class Module:
    def __init__(self, circuit, name):
        self.c, self.name = circuit, name
        self.rows, self.feeds, self.grounds, self.control = [], [], [], {}
        self.next = 0

    def cavity(self, name, role):
        self.next += 1
        path = f"{self.name}.A.{self.next}"
        self.rows.append(f"    {self.next}  {name}  {role}")
        return self.c.point(path)

    def inside_ground(self):
        return self.grounds[0] if self.grounds else "0"

    def gated(self, name, a, b, kind, **more):
        entry = self.c.branch(name, a, b, kind, **more)
        entry["module"] = self.name
        entry["label"] = False  # inside the module: no name of its own
        return entry

    def feed(self, name):
        self.feeds.append(self.cavity(name, "feed"))
        return self.feeds[-1]

    def ground(self, name):
        self.grounds.append(self.cavity(name, "ground"))
        return self.grounds[-1]

    def stage(self, tag, a, b, on, ohms):
        if not ohms and not self.c.may_join(a, b):
            ohms = 0.05
        self.gated(tag, a, b, "r" if ohms else "joint", ohms=ohms)["on"] = on
        return ohms

    def drives(self, name, way, ohms, at, duty=None):
        """Low to ground, high from the feed, half either. Pulsed with a duty."""
        pulsed = "  pwm 150 Hz" if duty is not None else ""
        place = len(self.rows)
        node = self.cavity(name, "")
        # Ideal stages only where they close no loop of ideal joints.
        used = ohms or (0.12 if way == "half" else 0.0)
        if way in ("low", "half"):
            on = at == ("on" if way == "low" else "low")
            used = self.stage(f"{name}.low", node, self.inside_ground(), on, used)
        if way in ("high", "half"):
            on = at == ("on" if way == "high" else "high")
            used = self.stage(f"{name}.high", node, self.feeds[0], on, used)
        on = f"  on {number(used * 1000)} mohm" if used else ""
        self.rows[place] = f"    {self.next}  {name}  drives {way}{on}{pulsed}"
        if at not in ("off", "open"):
            self.c.settings.append(f"{name} {at}" + (f" {number(duty * 100)} %" if duty is not None else ""))
        for entry in self.c.branches:
            if entry["name"] in (f"{name}.low", f"{name}.high"):
                entry["pulsed"] = duty is not None
        return node

    def reference(self, name, volts, inner, limit=None):
        role = f"reference {number(volts)} V" + (f"  inner {number(inner)} ohm" if inner else "")
        role += f"  limit {number(limit * 1000)} mA" if limit else ""
        node = self.cavity(name, role)
        self.gated(
            name, self.inside_ground(), node, "source", volts=volts, inner=inner, limit=limit, origin="reference"
        )
        return node

    def back(self, name):
        node = self.cavity(name, "return")
        self.c.branch(f"{name}.return", node, self.inside_ground(), "joint", label=False)
        return node

    def senses(self, name, up=None, up_volts=5.0, down=None):
        """Analog, with a pull-up in ohms to so many volts (or to the feed: "feed"), or a pull-down."""
        role = "senses"
        node = self.c.point(f"{self.name}.A.{self.next + 1}")
        self.c.points.pop()
        if up:
            target = self.feed_name if up_volts == "feed" else f"{number(up_volts)} V"
            role += f"  pull_up {number(up)} ohm to {target}"
            if up_volts == "feed":
                rail = self.feeds[0]
            else:
                rail = f"{name}.rail"
                ground = self.inside_ground()
                self.gated(rail, ground, rail, "source", volts=up_volts, inner=0.0, limit=None, origin="reference")
            self.c.branch(f"{name}.up", rail, node, "r", load=True, ohms=up, label=False)
        if down:
            role += f"  pull_down {number(down)} ohm"
            self.c.branch(f"{name}.down", node, self.inside_ground(), "r", load=True, ohms=down, label=False)
        self.cavity(name, role)
        self.c.inputs.append((node, self.inside_ground()))
        return node

    feed_name = "bplus"

    def finish(self):
        self.c.modules[self.name] = (self.feeds, self.grounds)
        self.c.lines += [f"module {self.name} {{", "  connector A {", *self.rows, "  }", "}"]
