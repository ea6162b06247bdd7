"""Pair resistances in exact rational arithmetic: the reference where a circuit simulator's doubles run out.

Reads lines "net NODES", then "FROM TO OHM" (hexadecimal floats, so nothing is rounded), "pair A B", "end".
Prints one decimal number per pair.
"""
import sys
from fractions import Fraction


def resistance(count, resistors, a, b):
    """Unit current in at a and out at b, node b at 0 V: the voltage at a."""
    keep = [n for n in range(count) if n != b]
    place = {n: i for i, n in enumerate(keep)}
    rows = [[Fraction(0)] * (len(keep) + 1) for _ in keep]
    for x, y, ohm in resistors:
        g = 1 / ohm
        for p, q in ((x, y), (y, x)):
            if p != b:
                rows[place[p]][place[p]] += g
                if q != b:
                    rows[place[p]][place[q]] -= g
    rows[place[a]][-1] = Fraction(1)
    n = len(keep)
    for c in range(n):
        pivot = next(r for r in range(c, n) if rows[r][c] != 0)
        rows[c], rows[pivot] = rows[pivot], rows[c]
        rows[c] = [v / rows[c][c] for v in rows[c]]
        for r in range(n):
            if r != c and rows[r][c] != 0:
                f = rows[r][c]
                rows[r] = [u - f * v for u, v in zip(rows[r], rows[c])]
    return rows[place[a]][-1]


count, resistors, pairs = 0, [], []
for line in sys.stdin:
    words = line.split()
    if words[0] == "net":
        count, resistors, pairs = int(words[1]), [], []
    elif words[0] == "pair":
        print(repr(float(resistance(count, resistors, int(words[1]), int(words[2])))))
    else:
        resistors.append((int(words[0]), int(words[1]), Fraction(float.fromhex(words[2]))))
