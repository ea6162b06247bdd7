#!/usr/bin/python3
"""Made-up lots per second, beside numpy (Debian package python3-numpy): lot_speed.py PATH/TO/lot_speed [LOTS].

numpy draws all lots at once: the defective units of each lot (binomial), then those of its samples (hypergeometric), on one core.
"""
import json
import subprocess
import sys
import time

import numpy

tool, lots = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 200_000
for line in subprocess.run([tool, str(lots)], check=True, capture_output=True, text=True).stdout.splitlines():
    case = json.loads(line)
    random = numpy.random.default_rng(1)
    begin = time.perf_counter()
    bad = random.binomial(case["lot_size"], case["p"], lots)
    first = random.hypergeometric(bad, case["lot_size"] - bad, case["n1"])
    accepted = first <= case["accept1"]
    if case["n2"]:
        between = (first > case["accept1"]) & (first < case["reject1"])
        left = bad[between] - first[between]
        second = random.hypergeometric(left, case["lot_size"] - case["n1"] - left, case["n2"])
        accepted[between] = first[between] + second <= case["accept2"]
    seconds = time.perf_counter() - begin
    theirs = lots / seconds
    print(f"{case['plan']:28} {case['lots_per_s']:>12,} lots/s   numpy {theirs:>12,.0f} lots/s   ratio {case['lots_per_s'] / theirs:.2f}"
          f"   accepted {case['accepted']:.4f} / {accepted.mean():.4f}")
