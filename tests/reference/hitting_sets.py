#!/usr/bin/env python3
"""Writes hitting_sets.json: which parts may be open in a tree of fuses and joints, as reference for sets of faults.

A tree feeds some branches; every branch is a chain of parts that can be open, and begins where another one ends. At the end
of a branch either the full voltage is read or none. A reading of nothing is a conflict: some part between the supply and that
point is open; a full reading clears every part before it. The candidates are the minimal hitting sets of the conflicts
(Reiter, "A theory of diagnosis from first principles", Artificial Intelligence 32, 1987), enumerated by python-sat. Nothing
of the crate is used.

    python3 tests/reference/hitting_sets.py > tests/reference/hitting_sets.json     (python-sat 1.9.dev24)
"""
import json
import random

from pysat.examples.hitman import Hitman


def case(seed):
    draw = random.Random(seed)
    branches = []
    for number in range(draw.randint(3, 5)):
        after = draw.choice([None] + list(range(len(branches))))
        parts = [f"{number}.{part}" for part in range(draw.randint(1, 3))]
        branches.append({"after": after, "parts": parts})

    def way(number):
        branch = branches[number]
        before = [] if branch["after"] is None else way(branch["after"])
        return before + branch["parts"]

    everything = [part for branch in branches for part in branch["parts"]]
    opened = set(draw.sample(everything, draw.randint(1, 3)))
    live = [not opened & set(way(number)) for number in range(len(branches))]
    cleared = {part for number, is_live in enumerate(live) if is_live for part in way(number)}
    conflicts = [sorted(set(way(number)) - cleared) for number, is_live in enumerate(live) if not is_live]
    with Hitman(bootstrap_with=conflicts, htype="sorted") as hitman:
        candidates = sorted(sorted(found) for found in hitman.enumerate())
    return {"branches": branches, "live": live, "candidates": candidates}


def main():
    cases = []
    seed = 0
    while len(cases) < 12:
        seed += 1
        found = case(seed)
        sizes = {len(candidate) for candidate in found["candidates"]}
        # Those that want two or three faults at least.
        if sizes and min(sizes) >= 2 and max(sizes) <= 3 and len(found["candidates"]) <= 30:
            cases.append(found)
    print(json.dumps({"python-sat": "1.9.dev24", "cases": cases}, indent=1))


if __name__ == "__main__":
    main()
