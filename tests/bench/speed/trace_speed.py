#!/usr/bin/env python3
"""A trace with many meters: what share of one core the tool takes, and how late the worst sample was stamped.

One process plays every meter on a pseudo-terminal of its own; the real binary records them. A sample's delay is the time
it carries less the time it was sent. Not a test: it prints figures.

    SWITCHWRIGHT=build/release/switchwright tests/bench/speed/trace_speed.py [meters] [samples per second] [seconds]
"""
import datetime
import json
import os
import pathlib
import pty
import resource
import subprocess
import sys
import tempfile
import time
import tty

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "cli"))
from harness import TOOL, lcd_frame  # noqa: E402


def main():
    meters = int(sys.argv[1]) if len(sys.argv) > 1 else 64
    rate_hz = float(sys.argv[2]) if len(sys.argv) > 2 else 10.0
    seconds = float(sys.argv[3]) if len(sys.argv) > 3 else 20.0
    cables = []
    for _ in range(meters):
        master, slave = pty.openpty()
        tty.setraw(master)
        tty.setraw(slave)
        cables.append((master, os.ttyname(slave), slave))
    on = lcd_frame("2400", point=4, unit="V", ac=True)
    off = lcd_frame("0000", point=4, unit="V", ac=True)
    with tempfile.TemporaryDirectory() as folder:
        out = open(pathlib.Path(folder) / "out.jsonl", "w+")
        channels = [part for i, cable in enumerate(cables)
                    for part in ("--channel", f"{'load' if i == 0 else f'c{i}'}=lcd-segment-14@{cable[1]}")]
        process = subprocess.Popen([TOOL, "trace", "--profile", "regulator-shunt-240", "--position", "medium", "--json",
                                    "--acknowledge", "energised", "--for", f"{seconds}s", *channels],
                                   env=dict(os.environ, SWITCHWRIGHT_STORE=str(pathlib.Path(folder) / "records.sqlite")),
                                   stdout=out, stderr=subprocess.PIPE)
        time.sleep(1.0)
        sent = [[] for _ in cables]
        began = due = time.monotonic()
        step = 1.0 / rate_hz / meters
        n = 0
        while process.poll() is None and due < began + seconds + 5.0:
            wait = due - time.monotonic()
            if wait > 0:
                time.sleep(wait)
            i = n % meters
            level = on if (due - began) % 6.0 < 2.5 else off
            sent[i].append(time.time())
            os.write(cables[i][0], level)
            due += step
            n += 1
        stderr = process.communicate()[1].decode()
        use = resource.getrusage(resource.RUSAGE_CHILDREN)
        out.seek(0)
        delays, seen, summaries = [], {}, 0
        for line in out:
            event = json.loads(line)
            summaries += event["type"] == "summary"
            if event["type"] != "sample":
                continue
            name = event["channel"]
            i = 0 if name == "load" else int(name[1:])
            k = seen.get(i, 0)
            seen[i] = k + 1
            at = datetime.datetime.fromisoformat(event["time"].replace("Z", "+00:00")).timestamp()
            delays.append(at - sent[i][k])
    if not delays:
        sys.exit("no sample: " + stderr)
    delays.sort()
    lost = sum(len(s) for s in sent) - len(delays)
    cpu_s = use.ru_utime + use.ru_stime
    print(f"{meters} meters at {rate_hz:g} samples/s for {seconds:g} s: {len(delays)} samples, {summaries} summaries, "
          f"{lost} sent after the end")
    print(f"CPU share of one core: {100 * cpu_s / seconds:.1f} %   peak memory {use.ru_maxrss / 1024:.0f} MiB")
    print(f"delay of a stamp: median {1000 * delays[len(delays) // 2]:.1f} ms, 99.9 % "
          f"{1000 * delays[int(len(delays) * 0.999)]:.1f} ms, worst {1000 * delays[-1]:.1f} ms (resolved to 1 ms)")


if __name__ == "__main__":
    main()
