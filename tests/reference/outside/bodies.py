"""Devices with a body, as text and as branches."""

from .numbers import number


class Bodies:
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

    def selector(self, name, ohms, at):
        """A hand-operated changeover with a contact beside it that is closed at rest."""
        self.lines += [
            f"device {name} {{",
            "  pins in, a, b, c",
            "  positions left, right",
            "  changeover in -> (rest a, active b) in right",
            f"  contact in -> c  {number(ohms * 1000)} mohm  open in right",
            "}",
        ]
        pin = {p: self.point(f"{name}.{p}") for p in ("in", "a", "b", "c")}
        self.branch(f"{name}.in_a", pin["in"], pin["a"], "joint")["on"] = at == "left"
        self.branch(f"{name}.in_b", pin["in"], pin["b"], "joint")["on"] = at == "right"
        self.branch(f"{name}.in_c", pin["in"], pin["c"], "r", ohms=ohms)["on"] = at == "left"
        if at == "right":
            self.settings.append(f"{name} right")

    def transducer(self, name, volts, over, now, nominal=None):
        """Pins feed, return, output. With `nominal`, the volts of what feeds it, it follows its feed."""
        low, high = volts
        self.lines += [
            f"device {name} {{",
            "  pins 1, 2, 3",
            f"  transducer 1 -> 2 out 3  {number(low)} .. {number(high)} V  over 0 .. {number(over)} kPa"
            + ("  ratio" if nominal else ""),
            "}",
        ]
        self.settings.append(f"{name} {number(now)} kPa")
        feed, back, out = (self.point(f"{name}.{pin}") for pin in "123")
        share = min(max(now / over, 0.0), 1.0)
        values = dict(volts=low + (high - low) * share, feed=feed, nominal=nominal, label=False)
        self.branch(f"{name}.out", back, out, "output", load=True, **values)

    def coils(self, name, ohms):
        """One feed, several coils, a grade for all of them together."""
        pins = [str(n + 1) for n in range(len(ohms))]
        self.lines += [f"device {name} {{", f"  pins C, {', '.join(pins)}"]
        common = self.point(f"{name}.C")
        for pin, value in zip(pins, ohms):
            self.lines.append(f"  coil K{pin}  C -> {pin}  {number(value)} ohm  pulls_in {number(round(8 / value, 3))} A")
            node = self.point(f"{name}.{pin}")
            self.branch(f"{name}.K{pin}", common, node, "r", load=True, ohms=value, threshold=round(8 / value, 3))
        self.lines.append("}")
