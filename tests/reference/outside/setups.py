"""What a person does to a circuit, said in the scenario."""

from .numbers import number


class Setups:
    def unplug(self, device):
        """All pins of a device part; its wire side stays."""
        self.setups.append(f"unplug {device}")
        for entry in self.branches:
            if entry["name"] == device or entry["name"].startswith(f"{device}."):
                entry["on"] = False
                entry["unplugged"] = True

    def pull(self, fuse):
        self.setups.append(f"pull {fuse}")
        for entry in self.branches:
            if entry["name"] == fuse:
                entry["on"] = False

    def jumper(self, a, b):
        self.setups.append(f"jumper {a} to {b}")
        self.branch("jumper", self.node_of[a], self.node_of[b], "joint", label=False)

    def test_load(self, a, b, watts, volts):
        self.setups.append(f"load {a} to {b} {number(watts)} W {number(volts)} V")
        ohms = volts * volts / watts
        self.branch("test_load", self.node_of[a], self.node_of[b], "r", load=True, ohms=ohms, label=False)
