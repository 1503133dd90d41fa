#!/usr/bin/env python3
"""Makes golden.txt: resistances of networks by ngspice and by exact fractions.

    python3 golden.py snapshots/it__circuit__simulator__layout_networks.snap > golden.txt

Reads the networks of the layouts, adds 240 random ones of 1 ohm to 1 megohm and 60 wide ones
that mix joints of 10 milliohm with megohms, and asks the simulator for each. Small resistances
are given to it as laws of their current: as siemens they would cost its node matrix digits (up
to 2e-8 on the wide ones). Each answer stands beside that of star-mesh elimination in fractions,
which loses none. Where no path joins the probes the answer is inf.
"""

import pathlib
import random
import re
import subprocess
import sys
import tempfile
from fractions import Fraction


def random_rows():
    chance = random.Random(20240517)
    narrow = [lambda: chance.uniform(1, 100), lambda: chance.uniform(3e3, 2e4),
              lambda: chance.uniform(1e5, 1e6), lambda: 10 ** chance.uniform(0, 6)]
    wide = [lambda: chance.uniform(0.01, 0.1), lambda: chance.uniform(3e3, 2e4),
            lambda: chance.uniform(1e5, 1e6), lambda: 10 ** chance.uniform(-2, 6)]
    for kind, count, sizes in (("random", 240, narrow), ("wide", 60, wide)):
        for number in range(count):
            terminals = chance.randint(2, 40)
            branches = []
            for _ in range(int(terminals * chance.uniform(0.9, 2.2)) + 1):
                one, other = chance.randrange(terminals), chance.randrange(terminals)
                if one != other:
                    branches.append((one, other, chance.choice(sizes)()))
            ends = sorted({end for one, other, _ in branches for end in (one, other)})
            if len(ends) >= 2:
                yield f"{kind} {number}", ends[0], ends[-1], branches


def layout_rows(path):
    text = pathlib.Path(path).read_text(encoding="utf-8").split("---\n")[2]
    for line in filter(None, text.split("\n")):
        name, start, end, branches = line.split(" | ")
        branches = [branch.split() for branch in branches.split("; ")]
        yield name, int(start), int(end), [(int(a), int(b), float(r)) for a, b, r in branches]


def joined(start, branches):
    known, before = {start}, 0
    while len(known) != before:
        before = len(known)
        for one, other, _ in branches:
            if one in known or other in known:
                known |= {one, other}
    return known


def exact(start, end, branches):
    beside = {at: {} for at in joined(start, branches)}
    if end not in beside:
        return "inf"
    for one, other, ohms in branches:
        if one in beside and one != other:
            beside[one][other] = beside[other][one] = beside[one].get(other, 0) + 1 / Fraction(ohms)
    while len(beside) > 2:
        centre = min(beside.keys() - {start, end}, key=lambda at: len(beside[at]))
        rays = list(beside.pop(centre).items())
        total = sum(by for _, by in rays)
        for place, (one, by) in enumerate(rays):
            del beside[one][centre]
            for other, and_by in rays[place + 1:]:
                both = beside[one].get(other, 0) + by * and_by / total
                beside[one][other] = beside[other][one] = both
    return repr(float(1 / beside[start][end]))


def answers(rows):
    deck = ["networks, each with 1 A from one probe to the other"]
    for number, (_, start, end, branches) in enumerate(rows):
        known = joined(start, branches)
        if end not in known:
            continue
        node = lambda at: "0" if at == end else f"n{number}_{at}"
        deck.append(f"i{number} 0 {node(start)} 1")
        for at, (one, other, ohms) in enumerate(branches):
            if one in known:
                one, other, part = node(one), node(other), f"{number}_{at}"
                if ohms < 10:
                    # A joint as a law of its current keeps digits that its siemens would cost.
                    deck.append(f"v{part} {one} m{part} 0")
                    deck.append(f"h{part} m{part} {other} v{part} {ohms!r}")
                else:
                    deck.append(f"r{part} {one} {other} {ohms!r}")
    deck += [".control", "set filetype=ascii", "op", "write answers.raw all", "quit", ".endc", ".end"]
    with tempfile.TemporaryDirectory() as folder:
        pathlib.Path(folder, "deck.cir").write_text("\n".join(deck) + "\n")
        subprocess.run(["ngspice", "-b", "deck.cir"], cwd=folder, check=True, capture_output=True)
        raw = pathlib.Path(folder, "answers.raw").read_text()
    head, values = raw.split("Values:\n")
    names = [line.split()[1] for line in head.split("Variables:\n")[1].split("\n") if line]
    values = [line.split()[-1] for line in values.split("\n") if line.strip()]
    volts = dict(zip(names, values))
    for number, (_, start, _, _) in enumerate(rows):
        yield volts.get(f"v(n{number}_{start})", "inf")


def main():
    rows = list(random_rows()) + list(layout_rows(sys.argv[1]))
    version = subprocess.run(["ngspice", "--version"], capture_output=True, text=True, check=True)
    print("# Ohms between two terminals. Made by golden.py with",
          re.search(r"ngspice-\S+", version.stdout).group())
    for (name, start, end, branches), answer in zip(rows, answers(rows)):
        wires = "; ".join(f"{one} {other} {ohms!r}" for one, other, ohms in branches)
        print(f"{name} | {start} | {end} | {wires} | {answer} | {exact(start, end, branches)}")


main()
