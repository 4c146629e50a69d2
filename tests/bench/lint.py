#!/usr/bin/env python3
"""Checks libraries of invented circuits, and as many lines of Python with the fastest general-purpose linter of the registries.

    python3 tests/bench/lint.py KEYON [RUFF]

prints one table: lines a second and peak memory, cold and from the cache. Columns:

- `no states`: all rules that need no enumeration of states (the others are off in keyon.toml), cold;
- `all rules`: everything, cold;
- `cached`: the same again with what is known of unchanged files;
- `ruff`: `ruff check` with its default rules on as many lines of Python, cold (`--no-cache`) and cached, and with all of its rules
  (`--select ALL`), cold. It knows an unchanged file by its time; we read it, for an entry of ours holds for a content.

Times are the best of three, of the whole process.
"""

import os
import pathlib
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import libraries

PYTHON = '''
"""Readings of station {n}."""

import math


class Station{n}:
    """Two valves, a lamp, a level and a temperature."""

    def __init__(self, volts: float, ohms: float = {ohm}.0) -> None:
        self.volts = volts
        self.ohms = ohms
        self.names = ["left", "right", "lamp", "level", "temp"]

    def amps(self, added: float = 0.0) -> float:
        """Amps of one valve with a resistance added."""
        total = self.ohms + added
        if total <= 0:
            raise ValueError("no resistance")
        return self.volts / total

    def thermistor(self, celsius: float) -> float:
        kelvin = celsius + 273.15
        return 2500.0 * math.exp(3500.0 * (1.0 / kelvin - 1.0 / 298.15))

    def table(self) -> dict[str, float]:
        rows = {{}}
        for index, name in enumerate(self.names):
            rows[name] = self.amps(float(index))
        return rows
'''


def python(folder: pathlib.Path, files: int, lines: int) -> int:
    folder.mkdir(parents=True)
    total = 0
    for i in range(files):
        blocks = max(1, round(lines / len(PYTHON.splitlines())))
        text = "".join(PYTHON.format(n=i * blocks + b, ohm=20 + b % 9) for b in range(blocks))
        # Imports stand first in a file, as they do in real ones.
        text = "import math\n" + text.replace("\nimport math\n", "")
        (folder / f"station_{i}.py").write_text(text)
        total += len(text.splitlines())
    return total


def run(command: list[str], times: int = 3) -> tuple[float, float]:
    """Best seconds of some runs, and the peak memory of any in MiB."""
    best, peak = float("inf"), 0.0
    for _ in range(times):
        start = time.perf_counter()
        child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        _, _, usage = os.wait4(child.pid, 0)
        best = min(best, time.perf_counter() - start)
        peak = max(peak, usage.ru_maxrss / 1024)
    return best, peak


def main() -> None:
    keyon = str(pathlib.Path(sys.argv[1]).resolve())
    ruff = sys.argv[2] if len(sys.argv) > 2 else None
    rules = subprocess.run([keyon, "explain"], capture_output=True, text=True, check=True).stdout
    states = [
        word
        for line in rules.splitlines()
        for word in line.split()[:1]
        if word in WITH_STATES
    ]
    missing = sorted(set(WITH_STATES) - set(states))
    if missing:
        sys.exit(f"unknown rules: {missing}")
    settings = "[rules]\n" + "".join(f'{rule} = "off"\n' for rule in states)
    shapes = [(10, 100), (1000, 100), (10000, 100), (1, 1000), (1, 10000), (1, 100000)]
    head = ["files", "lines", "no states", "MiB", "all rules", "MiB", "cached", "ruff", "MiB", "ruff cached", "ruff all"]
    print(" | ".join(f"{h:>11}" for h in head))
    for files, each in shapes:
        with tempfile.TemporaryDirectory() as scratch:
            root = pathlib.Path(scratch)
            lines = libraries.library(root / "all", files, each)
            libraries.library(root / "some", files, each)
            (root / "some" / "keyon.toml").write_text(settings)
            cache = ["--cache-dir", str(root / "cache")]
            few = run([keyon, "check", str(root / "some"), "--no-cache"])
            large = lines > 50_000
            every = run([keyon, "check", str(root / "all"), "--no-cache"], 1 if large else 3)
            run([keyon, "check", str(root / "all"), *cache], 1)
            again = run([keyon, "check", str(root / "all"), *cache])
            row = [str(files), str(lines)]
            row += [f"{lines / few[0]:,.0f}", f"{few[1]:.0f}", f"{lines / every[0]:,.0f}", f"{every[1]:.0f}"]
            row += [f"{lines / again[0]:,.0f}"]
            if ruff:
                count = python(root / "python", files, each)
                cold = run([ruff, "check", "--no-cache", "--isolated", str(root / "python")])
                kept = ["--isolated", "--cache-dir", str(root / "ruff")]
                run([ruff, "check", *kept, str(root / "python")], 1)
                warm = run([ruff, "check", *kept, str(root / "python")])
                every = run([ruff, "check", "--no-cache", "--isolated", "--select", "ALL", str(root / "python")])
                row += [f"{count / cold[0]:,.0f}", f"{cold[1]:.0f}", f"{count / warm[0]:,.0f}", f"{count / every[0]:,.0f}"]
            print(" | ".join(f"{cell:>11}" for cell in row), flush=True)


# The rules that enumerate states or solve some: power, return, driver, signal, sneak, thin wires, and what is proved of
# exercises, readings and expectations.
WITH_STATES = """
no-feed-path no-return-path blocked-diode stuck-input never-operates always-operates weak-device supply-to-ground supplies-joined fuse-over-wire
fuse-under-load fuse-fed-both-sides voltage-drop over-voltage key-off-draw stall-over-fuse
load-on-sensor-return module-ground-offset gang-short opposed-drivers driver-overload idle-driver reversed-suppression
drops-out-in-crank contact-overload signal-without-reference floating-input signal-out-of-range split-reference
supply-on-input reference-overload reference-without-return reversed-sensor sneak-path chattering-relay thin-wire unfused-feed
expectation-failed symptom-false exercise-ambiguous readings-unexplained exercise-giveaway unsafe-probe ohms-on-live
""".split()

if __name__ == "__main__":
    main()
