#!/usr/bin/env python3
"""Writes ladders.json: random circuits and their node voltages, as reference where ngspice is missing.

Linear circuits are solved in exact fractions; circuits with filaments and constant power by Newton's method
on the node voltages, tangents by hand, to the last digit of a double. Nothing of the crate is used.

    python3 tests/reference/ladders.py > tests/reference/ladders.json
"""
import json
import random
from fractions import Fraction


def solve(matrix, right):
    """Gauss-Jordan with pivoting by size; exact on fractions."""
    n = len(right)
    a = [row[:] + [b] for row, b in zip(matrix, right)]
    for k in range(n):
        p = max(range(k, n), key=lambda r: abs(a[r][k]))
        a[k], a[p] = a[p], a[k]
        for r in range(n):
            if r != k and a[r][k] != 0:
                share = a[r][k] / a[k][k]
                a[r] = [x - share * y for x, y in zip(a[r], a[k])]
    return [a[k][n] / a[k][k] for k in range(n)]


def current(element, v):
    """Current and slope at v volts."""
    kind = element["kind"]
    if kind == "source":
        return (v - element["emf"]) / element["ohms"], 1 / element["ohms"]
    if kind == "resistance":
        return v / element["ohms"], 1 / element["ohms"]
    if kind == "filament":
        share = (abs(v) / element["nominal"]) ** 0.45
        if share > 0.1:
            g = 1 / (element["ohms"] * share)
            return v * g, 0.55 * g
        return v / (0.1 * element["ohms"]), 1 / (0.1 * element["ohms"])
    return element["watts"] / v, -element["watts"] / v**2


def circuit(rng, nodes, nonlinear):
    exact = Fraction if not nonlinear else float
    pick = lambda low, high: exact(round(low * (high / low) ** rng.random(), 4))
    elements = [{"kind": "source", "from": 1, "to": 0, "emf": exact(12), "ohms": pick(0.01, 0.2)}]
    for node in range(2, nodes):
        near = rng.randrange(0 if nonlinear == 0 else 1, node)
        elements.append({"kind": "resistance", "from": near, "to": node, "ohms": pick(0.05, 2)})
        kind = rng.choice(["resistance", "filament", "power"]) if nonlinear else "resistance"
        load = {"kind": kind, "from": node, "to": 0}
        if kind == "resistance":
            load["ohms"] = pick(5, 5000)
        elif kind == "filament":
            load.update(ohms=pick(5, 60), nominal=12.0)
        else:
            load["watts"] = pick(0.5, 4)
        elements.append(load)
    for _ in range(nodes // 2):
        a, b = rng.sample(range(1, nodes), 2)
        elements.append({"kind": "resistance", "from": a, "to": b, "ohms": pick(0.5, 100)})
    v = [exact(0)] + [exact(12)] * (nodes - 1)
    for _ in range(60 if nonlinear else 1):
        matrix = [[exact(0)] * (nodes - 1) for _ in range(nodes - 1)]
        right = [exact(0)] * (nodes - 1)
        for e in elements:
            a, b = e["from"], e["to"]
            i, g = current(e, v[a] - v[b])
            for x, sign in ((a, 1), (b, -1)):
                if x:
                    right[x - 1] -= sign * i
                    for y, other in ((a, 1), (b, -1)):
                        if y:
                            matrix[x - 1][y - 1] += sign * other * g
        step = solve(matrix, right)
        v = [v[0]] + [x + s for x, s in zip(v[1:], step)]
    for e in elements:
        for key, value in e.items():
            if isinstance(value, Fraction):
                e[key] = float(value)
    return {"elements": elements, "volts": [float(x) for x in v]}


def main():
    rng = random.Random(20240229)
    made = [circuit(rng, 4 + k, nonlinear) for nonlinear in (0, 1) for k in range(12)]
    print("[\n" + ",\n".join(json.dumps(c) for c in made) + "\n]")


main()
