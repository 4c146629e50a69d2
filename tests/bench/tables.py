#!/usr/bin/env python3
"""Truth tables beside the same work in numpy and scipy, in one run.

    python3 tests/bench/tables.py MEASURE

where MEASURE is `cargo build --release -p keyon-solve --example measure`. Prints, for each circuit:

- trace: states of one coupled group traced, seconds, states a second, MiB;
- table: the truth table with device states, seconds, and how many times faster than scipy, which assembles and solves the nodal
  equations of every state once (sparse LU where there are many nodes, else a dense solve of all states at once, whichever is
  faster; for many states a sample is solved and the time scaled);
- solve: one state, seconds against the size of the circuit.

Needs numpy and scipy.
"""

import json
import pathlib
import subprocess
import sys
import tempfile
import time

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as spl

VOLTS, WIRE, STAGE = 12.6, 0.02, 0.12
SAMPLE = 2000


def ladder(controls: int) -> str:
    """One coupled group: a chain of switches, each with a lamp behind it, so that every switch matters to all further on."""
    text = ["circuit ladder", "supply battery 12.6 V  inner 15 mohm", "ground G1", "fuse F1  battery -> N0  60 A", "splice N0"]
    for i in range(1, controls + 1):
        text += [
            f"switch k{i}",
            f"wire {i}1  N{i - 1} -> k{i}.1  2.5 mm2  RD  0.3 m",
            f"wire {i}2  k{i}.2 -> N{i}  2.5 mm2  RD  0.3 m",
            f"splice N{i}",
            f"lamp l{i}  N{i} -> G1  5 W 12 V",
        ]
    return "\n".join(text) + "\n"


def drivers(controls: int) -> str:
    """Independent drivers of one module behind one fuse: a coil each."""
    text = ["circuit drivers", "supply battery 12.6 V  inner 15 mohm", "ground G1", "fuse F1  battery -> S1  60 A", "splice S1"]
    text += ["wire 1  S1 -> U.A.1  2.5 mm2  RD  1 m", "wire 2  U.A.2 -> G1  2.5 mm2  BK  1 m"]
    rows = ["    1  bplus  feed", "    2  gnd  ground"]
    for i in range(1, controls + 1):
        text += [
            f"coil c{i}  {20 + i % 9} ohm  rated 12 V",
            f"wire {i}01  S1 -> c{i}.1  0.75 mm2  OG  2 m",
            f"wire {i}02  c{i}.2 -> U.A.{i + 2}  0.75 mm2  OG/BK  2 m",
        ]
        rows.append(f"    {i + 2}  cmd{i}  drives low  on 120 mohm  limit 2 A  clamp")
    return "\n".join([*text, "module U {", "  connector A {", *rows, "  }", "}"]) + "\n"


def measure(tool: str, what: str, text: str) -> dict:
    with tempfile.NamedTemporaryFile("w", suffix=".keyon") as file:
        file.write(text)
        file.flush()
        runs = [json.loads(subprocess.run([tool, what, file.name], capture_output=True, text=True, check=True).stdout) for _ in range(3)]
    return min(runs, key=lambda run: run["seconds"])


def scipy_table(edges: list[tuple[int, int, float, int | None]], nodes: int, controls: int) -> float:
    """Seconds for solving every state: conductances between nodes, each under a control or always; node 0 is ground, and the
    supply drives node 1 through its inner resistance."""
    states = 2**controls
    count = min(states, SAMPLE)
    rng = np.random.default_rng(1)
    pick = rng.integers(0, states, count) if states > count else np.arange(states)
    leak, source = 1e-9, 1 / 0.015
    right = np.zeros(nodes)
    right[0] = VOLTS * source

    def sparse() -> float:
        start = time.perf_counter()
        for state in pick:
            rows, cols, data = list(range(nodes)), list(range(nodes)), [leak] * nodes
            rows.append(0), cols.append(0), data.append(source)
            for a, b, g, control in edges:
                if control is not None and not (int(state) >> control) & 1:
                    continue
                for i, j, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
                    if i and j:
                        rows.append(i - 1), cols.append(j - 1), data.append(sign * g)
            spl.spsolve(sp.csc_matrix((data, (rows, cols)), shape=(nodes, nodes)), right)
        return (time.perf_counter() - start) / count

    def dense() -> float:
        start = time.perf_counter()
        for chunk in np.array_split(pick, max(1, count // 256)):
            matrix = np.tile(np.eye(nodes) * leak, (len(chunk), 1, 1))
            matrix[:, 0, 0] += source
            for a, b, g, control in edges:
                on = np.ones(len(chunk)) if control is None else ((chunk >> control) & 1).astype(float)
                for i, j, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
                    if i and j:
                        matrix[:, i - 1, j - 1] += sign * g * on
            np.linalg.solve(matrix, np.tile(right, (len(chunk), 1))[..., None])
        return (time.perf_counter() - start) / count

    return min(sparse(), dense()) * states


def ladder_edges(controls: int) -> tuple[list, int]:
    edges, node = [], 1
    for i in range(controls):
        a, b, c = node, node + 1, node + 2
        edges += [(a, b, 1 / WIRE, None), (b, c, 1e3, i), (c, node + 3, 1 / WIRE, None), (node + 3, 0, 5 / 144, None)]
        node += 3
    return edges, node + 3


def driver_edges(controls: int) -> tuple[list, int]:
    edges, node = [], 1
    for i in range(controls):
        a, b, c = node + 1 + 3 * i, node + 2 + 3 * i, node + 3 + 3 * i
        edges += [(1, a, 1 / WIRE, None), (a, b, 1 / (20 + i % 9), None), (b, c, 1 / WIRE, None), (c, 0, 1 / STAGE, i)]
    return edges, 1 + 3 * controls


def main() -> None:
    tool = str(pathlib.Path(sys.argv[1]).resolve())
    print("one coupled group (ladder of switches)")
    for controls in (10, 16, 20, 24):
        got = measure(tool, "trace", ladder(controls))
        rate = got["states"] / got["seconds"]
        print(f"  trace 2^{controls:<3} {got['seconds'] * 1e3:9.2f} ms  {rate / 1e6:9.1f} million states a second  {got['peak_kib'] / 1024:6.1f} MiB")
    print("truth tables with device states, beside scipy")
    for name, make, edges in (("ladder", ladder, ladder_edges), ("drivers", drivers, driver_edges)):
        for controls in (4, 8, 12, 16, 20):
            got = measure(tool, "table", make(controls))
            other = scipy_table(*edges(controls), controls)
            print(
                f"  {name:8} {controls:3} controls  {got['seconds'] * 1e3:9.2f} ms  {got['rows']:6} rows   "
                f"scipy {other:12.3f} s   ratio {other / got['seconds']:12,.0f}"
            )
    got = measure(tool, "table", drivers(60))
    print(f"  60 independent drivers  {got['seconds'] * 1e3:9.2f} ms  {got['rows']} rows in {got['groups']} groups")
    print("one state, against the size of the circuit")
    for controls in (100, 300, 1000, 3000, 10000):
        got = measure(tool, "solve", ladder(controls))
        print(f"  {got['points']:7} points  {got['seconds'] * 1e3:9.2f} ms  {got['seconds'] / got['points'] * 1e6:7.2f} us a point")


if __name__ == "__main__":
    main()
