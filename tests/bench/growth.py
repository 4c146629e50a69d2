#!/usr/bin/env python3
"""Whether checking grows with the file and not faster, by instructions and not by the clock: `growth.py KEYON`.

Rules without states, one file of 1,000 to 100,000 lines. Fails where a line of the largest costs more than half again what a line of 10,000 costs.
Needs `perf` (or `valgrind`, which takes minutes).
"""

import pathlib
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import libraries
import lint


def instructions(command):
    if shutil.which("perf"):
        ran = subprocess.run(["perf", "stat", "-x", ",", "-e", "instructions:u", *command], capture_output=True, text=True)
        for row in ran.stderr.splitlines():
            if "instructions" in row and row.split(",")[0].isdigit():
                return int(row.split(",")[0])
    with tempfile.NamedTemporaryFile() as out:
        tool = ["valgrind", "--tool=callgrind", f"--callgrind-out-file={out.name}"]
        ran = subprocess.run([*tool, *command], capture_output=True, text=True)
        collected = [row for row in ran.stderr.splitlines() if "Collected" in row]
        return int(collected[0].split(":")[1].replace(",", ""))


def main():
    keyon = str(pathlib.Path(sys.argv[1]).resolve())
    settings = "[rules]\n" + "".join(f'{rule} = "off"\n' for rule in lint.WITH_STATES)
    each = {}
    for size in [1_000, 10_000, 100_000]:
        with tempfile.TemporaryDirectory() as scratch:
            root = pathlib.Path(scratch) / "library"
            lines = libraries.library(root, 1, size)
            (root / "keyon.toml").write_text(settings)
            count = instructions([keyon, "check", str(root), "--no-cache"])
            each[size] = count / lines
            print(f"{lines:7} lines  {count:14,} instructions  {count / lines:8,.0f} a line", flush=True)
    ratio = each[100_000] / each[10_000]
    print(f"a line of 100,000 costs {ratio:.2f} of a line of 10,000")
    sys.exit(ratio > 1.5)


if __name__ == "__main__":
    main()
