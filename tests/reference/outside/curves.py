"""Ohms of thermistors, from the formulas."""

from math import exp, log

KELVIN = 273.15


def beta(ohms, at, constant, now):
    """IEC 60539-1: R = R0 exp(B (1/T - 1/T0))."""
    return ohms * exp(constant * (1 / (now + KELVIN) - 1 / (at + KELVIN)))


def steinhart(a, b, c, now):
    """1/T = a + b ln R + c (ln R)^3, by bisection: it rises with R."""
    low, high = -20.0, 40.0
    for _ in range(200):
        middle = (low + high) / 2
        if a + b * middle + c * middle**3 < 1 / (now + KELVIN):
            low = middle
        else:
            high = middle
    return exp((low + high) / 2)


def table(rows, now):
    """ln R is linear in 1/T between the rows."""
    below = max((r for r in rows if r[0] <= now), default=rows[0])
    above = min((r for r in rows if r[0] > now), default=rows[-1])
    if below[0] == above[0]:
        return below[1]
    x0, x1, x = (1 / (t + KELVIN) for t in (below[0], above[0], now))
    return exp(log(below[1]) + (log(above[1]) - log(below[1])) * (x - x0) / (x1 - x0))
