"""Networks whose resistances lie up to fifteen decades apart, solved in exact fractions.

Resistors between splices, a supply, ideal wires that may close loops, and now and then an island that hangs on nothing.
Values have two digits, so that text, fraction and number are the same.
"""

import random
from fractions import Fraction

from .numbers import number


class Ladder:
    """A circuit in the making: union-find over ideal wires, resistors between the sets."""

    def __init__(self, seed):
        self.r = random.Random(seed)
        self.lines = [f"circuit exact_{seed}", "", "ground G1"]
        self.root_of = {}
        self.resistors = []

    def root(self, node):
        while self.root_of.get(node, node) != node:
            node = self.root_of[node]
        return node

    def value(self, low, high):
        """So many ohms: two digits and a decade."""
        digits, decade = self.r.randint(10, 99), self.r.randint(low, high)
        return Fraction(digits) * Fraction(10) ** (decade - 1), f"{digits}e{decade - 1}"

    def resistor(self, a, b, low=-6, high=9):
        ohms, text = self.value(low, high)
        name = f"R{len(self.resistors) + 1}"
        self.lines.append(f"resistor {name}  {a} -> {b}  {text} ohm")
        self.resistors.append((name, a, b, ohms))

    def wire(self, a, b):
        self.lines.append(f"wire {100 + len(self.lines)}  {a} -> {b}")
        self.root_of[self.root(a)] = self.root(b)


def solve(matrix, right):
    """Gaussian elimination in fractions."""
    n = len(right)
    for column in range(n):
        pivot = next(row for row in range(column, n) if matrix[row][column])
        matrix[column], matrix[pivot] = matrix[pivot], matrix[column]
        right[column], right[pivot] = right[pivot], right[column]
        for row in range(n):
            factor = matrix[row][column] / matrix[column][column]
            if row != column and factor:
                for k in range(column, n):
                    matrix[row][k] -= factor * matrix[column][k]
                right[row] -= factor * right[column]
    return [right[row] / matrix[row][row] for row in range(n)]


def decimal(value):
    """A fraction with twenty-five digits."""
    if not value:
        return "0"
    scale, size = 0, abs(value)
    while size >= 10:
        size, scale = size / 10, scale + 1
    while size < 1:
        size, scale = size * 10, scale - 1
    digits = str(int(size * 10**24 + Fraction(1, 2)))
    return f"{'-' if value < 0 else ''}{digits}e{scale - len(digits) + 1 + (len(digits) - 25)}"


def case(seed):
    c = Ladder(seed)
    r = c.r
    volts = Fraction(r.randint(50, 280), 10)
    inner, text = c.value(-3, -1) if r.random() < 0.7 else (Fraction(0), None)
    c.lines.append(f"supply battery  {number(float(volts))} V" + (f"  inner {text} ohm" if text else ""))
    nodes = [f"S{n}" for n in range(1, r.randint(4, 9))]
    island = [f"I{n}" for n in range(1, 4)] if r.random() < 0.4 else []
    c.lines += [f"splice {n}" for n in nodes + island]
    # A way through all of it, and more between.
    c.resistor("battery", nodes[0])
    for a, b in zip(nodes, nodes[1:]):
        c.resistor(a, b)
    c.resistor(nodes[-1], "G1")
    for _ in range(r.randint(2, 8)):
        a, b = r.sample(nodes + ["G1", "battery"], 2)
        c.resistor(a, b)
    for _ in range(r.randint(0, 3)):
        a, b = r.sample(nodes, 2)
        c.wire(a, b)
        if r.random() < 0.5:
            c.wire(b, a)  # a loop without resistance
    for a, b in zip(island, island[1:]):
        c.resistor(a, b)
    if island:
        c.wire(island[0], island[2])
    # Unknown: one potential a set of joined nodes, "battery" behind the supply's own resistance.
    ground = c.root("G1")
    sets = sorted({c.root(n) for n in nodes + ["battery"]} - {ground})
    fixed = {ground: Fraction(0)}
    if not inner:
        fixed[c.root("battery")] = volts
    unknown = [s for s in sets if s not in fixed]
    row = {s: i for i, s in enumerate(unknown)}
    matrix = [[Fraction(0)] * len(unknown) for _ in unknown]
    right = [Fraction(0)] * len(unknown)

    def join(a, b, siemens):
        for one, other in ((a, b), (b, a)):
            if one in row:
                matrix[row[one]][row[one]] += siemens
                if other in row:
                    matrix[row[one]][row[other]] -= siemens
                else:
                    right[row[one]] += siemens * fixed[other]

    for _, a, b, ohms in c.resistors:
        a, b = c.root(a), c.root(b)
        if a != b and not a.startswith("I"):
            join(a, b, 1 / ohms)
    if inner:
        at = row[c.root("battery")]
        matrix[at][at] += 1 / inner
        right[at] += volts / inner
    found = dict(zip(unknown, solve(matrix, right)), **fixed)
    at = lambda n: found.get(c.root(n))
    expect = {n: decimal(at(n)) if at(n) is not None else None for n in nodes + island + ["battery"]}
    amps = {
        name: decimal((at(a) - at(b)) / ohms if at(a) is not None else Fraction(0)) for name, a, b, ohms in c.resistors
    }
    return {"seed": seed, "text": "\n".join(c.lines) + "\n", "volts": expect, "amps": amps}
