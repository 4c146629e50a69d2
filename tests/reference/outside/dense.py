"""Volts and amps by dense modified nodal analysis, written from the textbook and from nothing in Keyon.

Unknown are the potentials of all nodes that hang together with the common ground, and the currents of joints, sources
and conducting diodes. Diodes by brute force: every set of conducting ones is tried, the consistent ones are kept.
"""

import itertools

import numpy as np


class Ambiguous(Exception):
    """No answer that the definition makes certain."""


def connected(branches, start):
    """Nodes that hang together with `start` over these branches."""
    near = {}
    for b in branches:
        near.setdefault(b["a"], []).append(b["b"])
        near.setdefault(b["b"], []).append(b["a"])
    seen, stack = {start}, [start]
    while stack:
        for other in near.get(stack.pop(), []):
            if other not in seen:
                seen.add(other)
                stack.append(other)
    return seen


def linear(branches, limited):
    """Potentials of nodes that hang on ground, and currents a -> b of all branches (0 where nothing returns)."""
    alive = connected(branches, "0")
    used = [b for b in branches if b["a"] in alive]
    nodes = sorted(alive - {"0"})
    row = {n: i for i, n in enumerate(nodes)}
    with_current = [b for b in used if b["kind"] != "r" and b["name"] not in limited]
    n, m = len(nodes), len(with_current)
    matrix, right = np.zeros((n + m, n + m)), np.zeros(n + m)

    def leaves(node, column, sign):
        if node != "0":
            matrix[row[node], column] += sign

    for b in used:
        if b["name"] in limited:  # a constant current out of b
            for node, sign in ((b["a"], -1.0), (b["b"], 1.0)):
                if node != "0":
                    right[row[node]] += sign * b["limit"]
        elif b["kind"] == "r":
            g = 1.0 / b["ohms"]
            for one, other in ((b["a"], b["b"]), (b["b"], b["a"])):
                if one != "0":
                    matrix[row[one], row[one]] += g
                    if other != "0":
                        matrix[row[one], row[other]] -= g
    for k, b in enumerate(with_current):
        column = n + k
        leaves(b["a"], column, 1.0)
        leaves(b["b"], column, -1.0)
        # v(a) - v(b) + what the branch adds, less what it loses, is nothing.
        if b["a"] != "0":
            matrix[column, row[b["a"]]] += 1.0
        if b["b"] != "0":
            matrix[column, row[b["b"]]] -= 1.0
        if b["kind"] == "source":
            matrix[column, column] -= b["inner"]
            right[column] = -b["volts"]
        elif b["kind"] == "output" and not b["nominal"]:
            right[column] = -b["volts"]
        elif b["kind"] == "output":
            # It follows its feed: v(b) - v(a) is the stated volts times (v(feed) - v(a)) over the feed's nominal.
            share = b["volts"] / b["nominal"]
            for node, sign in ((b["feed"], share), (b["a"], -share)):
                if node != "0":
                    matrix[column, row[node]] += sign
        elif b["kind"] == "diode":
            right[column] = b["drop"]
    try:
        x = np.linalg.solve(matrix, right) if n + m else np.zeros(0)
        # Two steps of refinement with residuals in extended precision.
        wide, wide_right = matrix.astype(np.longdouble), right.astype(np.longdouble)
        x = x.astype(np.longdouble)
        for _ in range(2):
            x = x + np.linalg.solve(matrix, (wide_right - wide @ x).astype(float))
    except np.linalg.LinAlgError as error:
        raise Ambiguous("a loop of ideal branches") from error
    if not np.all(np.isfinite(x.astype(float))) or np.max(np.abs(x), initial=0.0) > 1e6:
        raise Ambiguous("a loop of ideal branches")
    volts = {"0": 0.0, **{node: float(x[i]) for node, i in row.items()}}
    amps = {b["name"]: 0.0 for b in branches}
    for b in used:
        if b["name"] in limited:
            amps[b["name"]] = b["limit"]
        elif b["kind"] == "r":
            amps[b["name"]] = (volts[b["a"]] - volts[b["b"]]) / b["ohms"]
    for k, b in enumerate(with_current):
        amps[b["name"]] = float(x[n + k])
        if b["kind"] == "output" and abs(amps[b["name"]]) > 0.015:
            raise Ambiguous("a transducer near the limit of its output")
    return volts, amps


def limits(branches):
    """Solves with references at constant current where they would give more than their limit."""
    limited = set()
    for _ in range(20):
        volts, amps = linear(branches, limited)
        before = set(limited)
        for b in branches:
            if not b.get("limit"):
                continue
            if b["name"] in limited:
                if volts.get(b["b"], 0) - volts.get(b["a"], 0) > b["volts"] - b["inner"] * b["limit"] + 1e-9:
                    limited.discard(b["name"])
            elif amps[b["name"]] > b["limit"] * (1 + 1e-9):
                limited.add(b["name"])
        if limited == before:
            return volts, amps
    raise Ambiguous("a reference that cannot settle at its limit")


def with_diodes(branches):
    """Every consistent set of conducting diodes: (set of names, volts, amps)."""
    diodes = [b for b in branches if b["kind"] == "diode"]
    others = [b for b in branches if b["kind"] != "diode"]
    found = []
    for on in itertools.product((True, False), repeat=len(diodes)):
        conducting = [d for d, yes in zip(diodes, on) if yes]
        try:
            volts, amps = limits(others + conducting)
        except Ambiguous:
            continue
        fits = all(amps[d["name"]] >= -1e-12 for d in conducting)
        for d in diodes:
            if d not in conducting:
                amps[d["name"]] = 0.0
                a, b = volts.get(d["a"]), volts.get(d["b"])
                if a is not None and b is not None and a - b > d["drop"] + 1e-9:
                    fits = False
        if fits:
            found.append(({d["name"] for d in conducting}, volts, amps))
    if not found:
        raise Ambiguous("no consistent set of diodes")
    return found
