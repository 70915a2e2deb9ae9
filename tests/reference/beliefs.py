#!/usr/bin/env python3
"""Writes beliefs.json: exact posteriors of small jobs, as reference for the engine's belief. Nothing of the crate is used.

`joint`: a supply, a feed joint, a load, an earth joint and a second load. Readings are jointly Gaussian around a dense nodal
solution; sensitivities are central differences of that solution, at every one of 2,000 severities; blunders are summed over
all subsets, severity by the midpoint rule. A black lead on the wrong metal shifts all readings of a stay by the same
unknown volts, or they are lost: all of them any values, or all of them none. A single one that is spoilt shows any value,
or none. numpy does the algebra.

`discrete`: suspects without severity and readings without tolerances, blunders as binary latents; solved by variable
elimination in pgmpy, which also gives the probability of each blunder.

    python3 tests/reference/beliefs.py > tests/reference/beliefs.json     (numpy 2.x, pgmpy 1.1.2)
"""
import itertools
import json
import random
import sys

import numpy as np

EMF, SPAN, BLUNDER, LASTING = 12.6, 30.0, 0.02, 0.5
SHIFTED, UNTOUCHED, MISSED = 0.5, 0.5, 0.25
METER, FLOOR, OPEN = 0.02, 0.01, 0.3
NOTHING = UNKNOWN = 0.02
PLUS, FEED, EARTH, MINUS = range(4)
# name, from, to, ohms, relative spread
PARTS = [("feed joint", PLUS, FEED, 0.03, 0.2), ("load", FEED, EARTH, 2.0, 0.1),
         ("earth joint", EARTH, MINUS, 0.02, 0.3), ("second load", FEED, MINUS, 5.0, 0.1)]
INTERNAL, INTERNAL_SPREAD, SHARED = 0.02, 0.4, 0.025
STEADY, SAGGING, SAGS = (0.005, 0.001), (0.04, 0.02), 0.02
LOW, HIGH, POINTS = 0.1, 100.0, 2000
SUSPECTS = [("nothing", None, None), ("feed joint", 0, "series"), ("earth joint", 2, "series"), ("load", 1, "open"),
            ("second load", 3, "open")]


def solve(emf, internal, ohms, pair):
    """Voltages of many circuits at once, a 10 Mohm meter between the two nodes of `pair`."""
    count = len(emf)
    a = np.zeros((count, 4, 4))

    def stamp(i, j, g):
        a[:, i, i] += g
        a[:, j, j] += g
        a[:, i, j] -= g
        a[:, j, i] -= g

    stamp(PLUS, MINUS, 1 / internal)
    for (_, i, j, _, _), r in zip(PARTS, ohms):
        with np.errstate(divide="ignore"):
            stamp(i, j, np.where(np.isinf(r), 0.0, 1 / r))
    stamp(*pair, np.full(count, 1e-7))
    b = np.zeros((count, 4))
    b[:, PLUS] = emf / internal
    volts = np.linalg.solve(a[:, :3, :3], b[:, :3, None])[:, :, 0]
    volts = np.hstack([volts, np.zeros((count, 1))])
    return volts[:, pair[0]] - volts[:, pair[1]]


def gauss(x, sigma):
    return float(np.exp(-0.5 * (x / sigma) ** 2)) / (sigma * (2 * np.pi) ** 0.5)


def latents(readings):
    """(members, chance, whose): own blunders, stays of the black lead, stays of the set-up."""
    groups = []
    for key in ("black", "stay"):
        runs = [list(g) for _, g in itertools.groupby(range(len(readings)), key=lambda i: readings[i][key])]
        groups += [(run, 0.5 * LASTING * BLUNDER, key) for run in runs if len(run) > 1]
    own = [([i], BLUNDER - sum(c for m, c, _ in groups if i in m), "own") for i in range(len(readings))]
    return own + groups


def outcomes(readings):
    """Prior weight of each (readings that count, readings that show nothing, groups that are shifted together)."""
    all_latents = latents(readings)
    ways = []
    for _, chance, whose in all_latents:
        if whose == "black":
            lost = chance * (1 - SHIFTED)
            ways.append([(None, 1 - chance), ("any", lost * (1 - UNTOUCHED)), ("none", lost * UNTOUCHED),
                         ("shift", chance * SHIFTED)])
        elif whose == "own":
            ways.append([(None, 1 - chance), ("any", chance * (1 - MISSED)), ("none", chance * MISSED)])
        else:
            ways.append([(None, 1 - chance), ("any", chance)])
    weights = {}
    for chosen in itertools.product(*ways):
        weight, any_value, none, shifts = 1.0, set(), set(), []
        # What lasts comes first: a reading that it spoils cannot be spoilt otherwise.
        for (members, _, whose), (how, chance) in sorted(zip(all_latents, chosen), key=lambda x: x[0][2] == "own"):
            weight *= chance
            left = set(members) - any_value - none
            if how == "any":
                any_value |= left
            elif how == "none":
                none |= left
            elif how == "shift":
                shifts += [tuple(g) for _, g in itertools.groupby(members, key=lambda i: readings[i]["stay"])]
        kept = tuple(i for i in range(len(readings)) if i not in any_value | none)
        shifts = tuple(sorted(tuple(i for i in group if i in kept) for group in shifts))
        key = (kept, tuple(sorted(none)), tuple(g for g in shifts if g))
        weights[key] = weights.get(key, 0.0) + weight
    return weights


def predicted(suspect, severities, readings):
    """Means (severity, reading), and sensitivities to emf, internal and each part for a relative change."""
    _, part, how = suspect
    count = len(severities)
    base = [np.full(count, r) for _, _, _, r, _ in PARTS]

    def reading(pair, emf=1.0, internal=1.0, scale=None):
        ohms = [r * (scale[k] if scale else 1.0) for k, r in enumerate(base)]
        if how == "series":
            ohms[part] = ohms[part] + severities
        if how == "open":
            ohms[part] = np.full(count, np.inf)
        return solve(np.full(count, EMF * emf), np.full(count, INTERNAL * internal), ohms, pair)

    means, slopes = [], []
    step = 1e-4
    for r in readings:
        pair = (r["red"], r["black"])
        means.append(reading(pair))
        rows = [reading(pair, emf=1 + step) - reading(pair, emf=1 - step),
                reading(pair, internal=1 + step) - reading(pair, internal=1 - step)]
        for k in range(len(PARTS)):
            up = [1 + step * (j == k) for j in range(len(PARTS))]
            down = [1 - step * (j == k) for j in range(len(PARTS))]
            rows.append(reading(pair, scale=up) - reading(pair, scale=down))
        slopes.append(np.stack(rows) / (2 * step))
    return np.stack(means, 1), np.stack(slopes, 1)  # (unknown, reading, severity) in slopes


def log_likelihood(suspect, readings, strays):
    soft = suspect[2] == "series"
    t = (np.arange(POINTS) + 0.5) / POINTS if soft else np.array([0.5])
    severities = LOW * (HIGH / LOW) ** t
    means, slopes = predicted(suspect, severities, readings)
    values = np.array([r["value"] for r in readings])
    n = len(readings)
    total = np.full(len(severities), -np.inf)
    for (own, drift), chance in ((STEADY, 1 - SAGS), (SAGGING, SAGS)) if strays else ((STEADY, 1.0),):
        cov = np.zeros((len(severities), n, n))
        if strays:
            spreads = [SHARED, INTERNAL_SPREAD] + [p[4] for p in PARTS]
            for k, s in enumerate(spreads):
                row = slopes[k].T * s
                cov += row[:, :, None] * row[:, None, :]
            emf = slopes[0].T
            moved = np.array([[own ** 2 * (readings[i]["stay"] == readings[j]["stay"]) + drift ** 2 * min(i, j)
                               for j in range(n)] for i in range(n)])
            cov += emf[:, :, None] * emf[:, None, :] * moved
        cov += np.eye(n) * (METER ** 2 + FLOOR ** 2)
        for (kept, none, shifts), weight in outcomes(readings).items():
            k = list(kept)
            log = np.log(weight * chance) - (n - len(k) - len(none)) * np.log(SPAN)
            open_line = METER ** 2 + FLOOR ** 2 + OPEN ** 2
            for i in none:
                log = log - 0.5 * values[i] ** 2 / open_line - 0.5 * np.log(2 * np.pi * open_line)
            if k:
                sub = cov[:, k][:, :, k].copy()
                for group in shifts:
                    moved = np.array([i in group for i in k], dtype=float)
                    sub += moved[:, None] * moved[None, :] * SPAN ** 2 / 12
                residual = (values - means)[:, k]
                chi = np.einsum("si,si->s", residual, np.linalg.solve(sub, residual[:, :, None])[:, :, 0])
                log = log - 0.5 * chi - 0.5 * np.linalg.slogdet(2 * np.pi * sub)[1]
            total = np.logaddexp(total, log)
    return float(np.logaddexp.reduce(total) - np.log(len(severities)))


def posterior(readings):
    prior = (1 - NOTHING - UNKNOWN) / (len(SUSPECTS) - 1)
    logs = {}
    for suspect in SUSPECTS:
        share = NOTHING if suspect[1] is None else prior
        logs[suspect[0]] = np.log(share) + log_likelihood(suspect, readings, True)
    logs["unknown"] = np.log(UNKNOWN) - len(readings) * np.log(SPAN)
    top = np.logaddexp.reduce(list(logs.values()))
    return {name: float(np.exp(log - top)) for name, log in logs.items()}


def taken(dice, count):
    pairs = [(FEED, MINUS), (EARTH, MINUS), (FEED, EARTH), (PLUS, FEED), (PLUS, MINUS)]
    dice.shuffle(pairs)
    stay, list_of = 0, []
    for red, black in pairs[:count]:
        list_of.append({"red": red, "black": black, "stay": stay, "value": 0.0})
        stay += dice.random() < 0.4
    return list_of


def joint(dice):
    """A job drawn from the model itself, blunders made three times as common; in every fifth the black lead lies elsewhere."""
    readings = taken(dice, dice.choice([2, 3, 4, 5]))
    suspect = dice.choice(SUSPECTS)
    severity = np.array([LOW * (HIGH / LOW) ** dice.random()])
    means, slopes = predicted(suspect, severity, readings)
    spreads = [SHARED, INTERNAL_SPREAD] + [p[4] for p in PARTS]
    parts = [dice.gauss(0, s) for s in spreads]
    elsewhere = (dice.random() - 0.5) * SPAN if dice.random() < 0.2 else 0.0
    black = readings[0]["black"]
    for i, r in enumerate(readings):
        value = means[0, i] + (elsewhere if r["black"] == black else 0.0) + sum(slopes[k, i, 0] * d for k, d in enumerate(parts)) + dice.gauss(0, METER)
        if dice.random() < 3 * BLUNDER:
            value = dice.gauss(0, METER) if dice.random() < MISSED else (dice.random() - 0.5) * SPAN
        r["value"] = round(float(value), 2)
    return {"readings": readings, "posterior": posterior(readings)}


def discrete(dice):
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork
    hard = [s for s in SUSPECTS if s[2] != "series"]
    readings = taken(dice, 4)
    truth = dice.choice(hard)
    means = [predicted(s, np.array([1.0]), readings)[0][0] for s in hard]
    for i, r in enumerate(readings):
        value = means[hard.index(truth)][i] + dice.gauss(0, METER)
        if dice.random() < 0.25:
            value = dice.gauss(0, METER) if dice.random() < MISSED else (dice.random() - 0.5) * SPAN
        r["value"] = round(float(value), 2)
    all_latents = latents(readings)
    model = DiscreteBayesianNetwork()
    model.add_node("suspect")
    share = (1 - NOTHING - UNKNOWN) / (len(hard) - 1)
    priors = [NOTHING] + [share] * (len(hard) - 1) + [UNKNOWN]
    cpds = [TabularCPD("suspect", len(priors), [[p] for p in priors])]
    for k, (_, chance, _) in enumerate(all_latents):
        model.add_node(f"b{k}")
        cpds.append(TabularCPD(f"b{k}", 2, [[1 - chance], [chance]]))
    sigma = (METER ** 2 + FLOOR ** 2) ** 0.5
    scale = 0.05  # turns a density per volt into a probability; it cancels
    for i, r in enumerate(readings):
        spoil = [k for k, (members, _, _) in enumerate(all_latents) if i in members]
        parents = ["suspect"] + [f"b{k}" for k in spoil]
        for p in parents:
            model.add_edge(p, f"r{i}")
        seen = []
        for s in range(len(priors)):
            for on in itertools.product([0, 1], repeat=len(spoil)):
                if s == len(hard) or any(on[k] for k in range(len(spoil)) if spoil[k] >= len(readings)):
                    seen.append(scale / SPAN)
                elif any(on):
                    seen.append(scale * ((1 - MISSED) / SPAN + MISSED * gauss(r["value"], (METER ** 2 + FLOOR ** 2 + OPEN ** 2) ** 0.5)))
                else:
                    seen.append(scale * gauss(r["value"] - means[s][i], sigma))
        cpds.append(TabularCPD(f"r{i}", 2, [seen, [1 - p for p in seen]], parents, [len(priors)] + [2] * len(spoil)))
    model.add_cpds(*cpds)
    inference = VariableElimination(model)
    evidence = {f"r{i}": 0 for i in range(len(readings))}
    names = [s[0] for s in hard] + ["unknown"]
    found = inference.query(["suspect"], evidence=evidence, show_progress=False).values
    # The unknown has no readings that could be spoilt: its blunders are as likely as before, and are not counted.
    doubts = []
    for k, (members, _, _) in enumerate(all_latents):
        both = inference.query(["suspect", f"b{k}"], evidence=evidence, show_progress=False)
        table = both.values if both.variables[0] == "suspect" else both.values.T
        kind = "reading" if k < len(readings) else None
        doubts.append({"members": members, "single": kind is not None, "share": float(table[:-1, 1].sum())})
    return {"readings": readings, "posterior": dict(zip(names, map(float, found))), "doubts": doubts}


def main():
    dice = random.Random(7)
    cases = {"joint": [joint(dice) for _ in range(60)], "discrete": [discrete(dice) for _ in range(30)]}
    json.dump(cases, sys.stdout, indent=None, separators=(",", ":"))
    print()


main()
