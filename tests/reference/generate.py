#!/usr/bin/env python3
"""Random circuits with answers from outside Keyon.

  generate.py write            makes the committed fixtures anew
  generate.py check            makes them anew and compares them byte for byte with the committed ones
  generate.py fresh BIN [N]    runs `BIN state … --format json` on N circuits of seeds that no fixture has

`circuits.jsonl`: one circuit a line, its text and what is expected of its scenario `now`; `cargo test` reads it and
needs no Python. `reach.jsonl` has node states only. Everything follows from the seeds.
"""

import json
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from outside import answer, random_circuits  # noqa: E402

HERE = pathlib.Path(__file__).parent
NUMERIC, REACH = 220, 500


def short(value):
    """Twelve digits; what is smaller than a picovolt or picoampere is nothing."""
    if isinstance(value, float):
        return 0.0 if abs(value) < 1e-12 else float(f"{value:.12g}")
    if isinstance(value, list):
        return [short(v) for v in value]
    if isinstance(value, dict):
        return {k: short(v) for k, v in value.items()}
    return value


def case(make, seed, numeric):
    """The circuit of a seed with its answers, or None where it is no good test."""
    try:
        circuit, duty = make(seed)
        expected = answer.answer(circuit, duty, numeric)
    except (answer.Ambiguous, AssertionError):
        return None
    # A circuit in which nothing flows has little to tell: one in twenty is enough.
    if numeric and seed % 20 and not any(abs(a) > 0.01 for a in expected["amps"].values()):
        return None
    return {"seed": seed, "text": circuit.text(), "expect": short(compact(expected))}


def compact(expected):
    """Volts without the meter only where they differ from those with it in twelve digits."""
    for entry in expected["points"].values():
        if len(entry) == 3 and short(entry[1]) == short(entry[2]):
            del entry[2]
    return expected


def cases(make, first, count, numeric):
    found, seed = [], first
    while len(found) < count:
        one = case(make, seed, numeric)
        if one:
            found.append(one)
        seed += 1
    return found


def fixtures():
    yield "circuits.jsonl", cases(random_circuits.numeric, 0, NUMERIC, True)
    yield "reach.jsonl", cases(random_circuits.reach, 0, REACH, False)


def line(one):
    return json.dumps(one, separators=(",", ":"), ensure_ascii=False) + "\n"


def write():
    for name, made in fixtures():
        (HERE / name).write_text("".join(map(line, made)), encoding="utf-8")


def check():
    stale = []
    for name, made in fixtures():
        if (HERE / name).read_text(encoding="utf-8") != "".join(map(line, made)):
            stale.append(name)
    if stale:
        sys.exit(f"{', '.join(stale)}: not what generate.py makes; run it with `write` and look at the difference")
    print("fixtures are current")


if __name__ == "__main__":
    if sys.argv[1:] == ["write"]:
        write()
    elif sys.argv[1:] == ["check"]:
        check()
    else:
        sys.exit(__doc__)
