#!/usr/bin/env python3
"""Random circuits with answers from outside Keyon.

  generate.py write            makes the committed fixtures anew
  generate.py check            makes them anew and compares them with the committed ones, figures up to rounding
  generate.py fresh BIN [N]    runs `BIN state … --format json` on N circuits of seeds that no fixture has, and on a
                               tenth as many for node states alone

`circuits.jsonl`: one circuit a line, its text and what is expected of its scenario `now`; `cargo test` reads it and
needs no Python. `reach.jsonl` has node states only, `exact.jsonl` figures of exact fractions. Everything follows from the seeds.
"""

import concurrent.futures
import functools
import json
import os
import pathlib
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from outside import answer, exact, random_circuits  # noqa: E402

HERE = pathlib.Path(__file__).parent
NUMERIC, REACH, EXACT = 400, 500, 120
FRESH = 1_000_000  # the first seed that no fixture has


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
    """The first so many good ones, in the order of their seeds, however many processes make them."""
    found, seed, stretch = [], first, 64
    with concurrent.futures.ProcessPoolExecutor() as pool:
        while len(found) < count:
            made = pool.map(functools.partial(case, make, numeric=numeric), range(seed, seed + stretch), chunksize=8)
            found += [one for one in made if one]
            seed += stretch
    return found[:count]


def fixtures():
    yield "circuits.jsonl", cases(random_circuits.numeric, 0, NUMERIC, True)
    yield "exact.jsonl", [exact.case(seed) for seed in range(EXACT)]
    yield "reach.jsonl", cases(random_circuits.reach, 0, REACH, False)


def line(one):
    return json.dumps(one, separators=(",", ":"), ensure_ascii=False) + "\n"


def write():
    for name, made in fixtures():
        (HERE / name).write_text("".join(map(line, made)), encoding="utf-8")


def alike(a, b):
    """The same, figures up to rounding: in what order a processor adds up shows in the twelfth digit."""
    if isinstance(a, float) or isinstance(b, float):
        numbers = all(isinstance(x, (int, float)) for x in (a, b))
        return numbers and abs(a - b) <= 1e-9 * max(abs(a), abs(b)) + 1e-11
    if isinstance(a, dict) and isinstance(b, dict):
        return a.keys() == b.keys() and all(alike(a[k], b[k]) for k in a)
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(map(alike, a, b))
    return a == b


def check():
    stale = []
    for name, made in fixtures():
        known = (HERE / name).read_text(encoding="utf-8").splitlines()
        if len(known) != len(made) or not all(map(alike, map(json.loads, known), json.loads(json.dumps(made)))):
            stale.append(name)
    if stale:
        sys.exit(f"{', '.join(stale)}: not what generate.py makes; run it with `write` and look at the difference")
    print("fixtures are current")


def near(got, expected):
    return got is not None and abs(got - expected) <= 1e-9 * abs(expected) + 1e-9


def differences(expected, found):
    """What `keyon state --format json` says otherwise."""
    words = {code: word for word, code in answer.CODES.items()}
    for name, entry in expected["points"].items():
        if name == "ground":  # the common ground is where the black lead is, no point of its own
            continue
        point = found["points"].get(name)
        if point is None:
            yield f"{name} is missing"
            continue
        if entry[0] != "?" and point["node_state"] != words[entry[0]]:
            yield f"{name} is {point['node_state']} instead of {words[entry[0]]}"
        if len(entry) > 1 and entry[1] != "?" and not near(point["volts"], entry[1]):
            yield f"{name} reads {point['volts']} instead of {entry[1]}"
    for name, amps in expected["amps"].items():
        device = found["devices"].get(name)
        # A device of one element: by that element.
        inside = list(device["elements"].values()) if device else []
        element = found["elements"].get(name) or (inside[0] if len(inside) == 1 else None)
        if element and not near(element["amps"], amps):
            yield f"{name} carries {element['amps']} instead of {amps}"
    for name, state in expected["devices"].items():
        if found["devices"][name]["state"] != state:
            yield f"{name} {found['devices'][name]['state']} instead of {state}"
    if found["blown"] != expected["blown"]:
        yield f"blown {found['blown']} instead of {expected['blown']}"
    alive = sorted(name for name, module in found["modules"].items() if module["alive"])
    if alive != expected["alive"]:
        yield f"alive {alive} instead of {expected['alive']}"


def answered(binary, folder, one):
    """What the built binary says otherwise of one circuit."""
    path = pathlib.Path(folder) / f"seed_{one['seed']}.keyon"
    path.write_text(one["text"], encoding="utf-8")
    run = subprocess.run([binary, "state", str(path), "--in", "now", "--format", "json"], capture_output=True, text=True)
    try:
        return list(differences(one["expect"], json.loads(run.stdout)))
    except (json.JSONDecodeError, KeyError, TypeError) as error:
        return [f"no answer ({error!r}): {run.stderr.strip()[:2000]}"]


def fresh(binary, count):
    """Through the built binary, from text to JSON, on circuits that were never looked at."""
    bad = 0
    made = cases(random_circuits.numeric, FRESH, count, True)
    made += cases(random_circuits.reach, FRESH, max(count // 10, 1), False)
    with tempfile.TemporaryDirectory() as folder, concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        for one, wrong in zip(made, pool.map(functools.partial(answered, binary, folder), made)):
            if wrong:
                bad += 1
                print(f"seed {one['seed']}:", *wrong, sep="\n  ")
                if bad == 1:
                    print(one["text"])
    if bad:
        sys.exit(f"{bad} of {len(made)} circuits differ")
    print(f"{len(made)} fresh circuits agree")


if __name__ == "__main__":
    if sys.argv[1:] == ["write"]:
        write()
    elif sys.argv[1:] == ["check"]:
        check()
    elif sys.argv[1:2] == ["fresh"] and len(sys.argv) in (3, 4):
        fresh(sys.argv[2], int(sys.argv[3]) if len(sys.argv) == 4 else 2000)
    else:
        sys.exit(__doc__)
