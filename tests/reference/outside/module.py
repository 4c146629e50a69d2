"""A control module: its cavities and what stands behind them, by decision 23."""

from .numbers import number


class Module:
    def __init__(self, circuit, name):
        self.c, self.name = circuit, name
        self.rows, self.feeds, self.grounds, self.gangs = [], [], [], []
        self.draws, self.feed_names, self.ground_names = [], [], []
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

    def feed(self, name, draws=None):
        self.feeds.append(self.cavity(name, "feed" + (f"  draws {number(draws)} A" if draws else "")))
        if draws:
            self.draws.append((name, self.feeds[-1], draws))
        self.feed_names.append(name)
        return self.feeds[-1]

    def ground(self, name):
        self.ground_names.append(name)
        self.grounds.append(self.cavity(name, "ground"))
        return self.grounds[-1]

    def stage(self, tag, a, b, on, ohms):
        if not ohms and not self.c.may_join(a, b):
            ohms = 0.05
        self.gated(tag, a, b, "r" if ohms else "joint", ohms=ohms)["on"] = on
        return ohms

    def drives(self, name, way, ohms, at, duty=None, last=False):
        """Low to ground, high from the feed, half either; the first of each, or the last. Pulsed with a duty."""
        pulsed = "  pwm 150 Hz" if duty is not None else ""
        which = -1 if last else 0
        if last and way in ("low", "half") and self.grounds:
            pulsed = f"  to {self.ground_names[-1]}" + pulsed
        if last and way in ("high", "half") and self.feeds:
            pulsed = f"  from {self.feed_names[-1]}" + pulsed
        ground = self.grounds[which] if self.grounds else "0"
        place = len(self.rows)
        node = self.cavity(name, "")
        # Ideal stages only where they close no loop of ideal joints.
        used = ohms or (0.12 if way == "half" else 0.0)
        if way in ("low", "half"):
            on = at == ("on" if way == "low" else "low")
            used = self.stage(f"{name}.low", node, ground, on, used)
        if way in ("high", "half"):
            on = at == ("on" if way == "high" else "high")
            used = self.stage(f"{name}.high", node, self.feeds[which], on, used)
        on = f"  on {number(used * 1000)} mohm" if used else ""
        # Where it leads to stands before its options.
        to, _, pulse = pulsed.partition("  pwm")
        self.rows[place] = f"    {self.next}  {name}  drives {way}{to}{on}" + (f"  pwm{pulse}" if pulse else "")
        if at not in ("off", "open"):
            self.c.settings.append(f"{name} {at}" + (f" {number(duty * 100)} %" if duty is not None else ""))
        for entry in self.c.branches:
            if entry["name"] in (f"{name}.low", f"{name}.high"):
                entry["pulsed"] = duty is not None
        return node

    def gang(self, name, at, ohms, duty=None):
        """Two changeovers between feed and ground that move together: stop, open, shut. Their pins."""
        feed, ground = self.feed_names[0], self.ground_names[0]
        stages = [f"{name}_a", f"{name}_b"]
        nodes = []
        for stage in stages:
            node = self.cavity(stage, f"switches {{ {ground}, {feed} }}  on {number(ohms * 1000)} mohm")
            nodes.append(node)
            where = {"stop": ground, "open": feed if stage.endswith("a") else ground,
                     "shut": ground if stage.endswith("a") else feed}
            for target, end in ((feed, self.feeds[0]), (ground, self.grounds[0])):
                a, b = (end, node) if target == feed else (node, end)
                entry = self.gated(f"{stage}.{target}", a, b, "r", ohms=ohms)
                entry["on"], entry["rests"] = where[at] == target, where["stop"] == target
                entry["pulsed"] = duty is not None
        a, b = stages
        self.gangs += [
            f"  gang {name}" + ("  pwm 150 Hz" if duty is not None else "") + " {",
            f"    stop  {a} {ground}  {b} {ground}",
            f"    open  {a} {feed}  {b} {ground}",
            f"    shut  {a} {ground}  {b} {feed}",
            "  }",
        ]
        if at != "stop":
            self.c.settings.append(f"{name} {at}" + (f" {number(duty * 100)} %" if duty is not None else ""))
        return nodes

    def reference(self, name, volts, inner, limit=None):
        role = f"reference {number(volts)} V" + (f"  inner {number(inner)} ohm" if inner else "")
        role += f"  limit {number(limit * 1000)} mA" if limit else ""
        node = self.cavity(name, role)
        self.gated(
            name, self.inside_ground(), node, "source", volts=volts, inner=inner, limit=limit, origin="reference"
        )
        return node

    def back(self, name, switched=None):
        """A return; `switched`: whether the module has it on."""
        node = self.cavity(name, "return" + ("" if switched is None else "  switched"))
        entry = self.c.branch(f"{name}.return", node, self.inside_ground(), "joint", label=False)
        if switched is not None:
            entry["on"], entry["module"] = switched, None
            if switched:
                self.c.settings.append(f"{name} on")
        return node

    def senses(self, name, up=None, up_volts=5.0, down=None, digital=False):
        """With a pull-up in ohms to so many volts (or to the feed: "feed"), or a pull-down."""
        role = "senses digital  threshold 2.5 V" if digital else "senses"
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
        for name, node, amps in self.draws:
            ohms = self.c.volts / amps
            self.c.branch(f"{name}.draw", node, self.inside_ground(), "r", load=True, ohms=ohms, label=False)
        self.c.lines += [f"module {self.name} {{", "  connector A {", *self.rows, "  }", *self.gangs, "}"]
