#!/usr/bin/python3
"""What the commands take on a store of 1, 10 and 100 per cent of so many records (100 readings each).
    fill_speed.py SWITCHWRIGHT FILL_SPEED [RECORDS] [FOLDER]"""
import os
import pathlib
import subprocess
import sys
import tempfile
import time


def timed(*command):
    """Seconds and peak MiB of one command."""
    begun = time.monotonic()
    process = subprocess.Popen([*map(str, command)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    assert status == 0 or status >> 8 in (1, 3), (command, status)
    return time.monotonic() - begun, usage.ru_maxrss / 1024


def main():
    tool, filler = sys.argv[1:3]
    full = int(sys.argv[3]) if len(sys.argv) > 3 else 100_000
    with tempfile.TemporaryDirectory(dir=sys.argv[4] if len(sys.argv) > 4 else None) as folder:
        store = pathlib.Path(folder) / "records.sqlite"
        there = 0
        for percent in (1, 10, 100):
            wanted = full * percent // 100
            made, _ = timed(filler, "make", store, wanted - there)
            print(f"\n{wanted} records, {100 * wanted} readings, {store.stat().st_size / 2**20:.0f} MiB; "
                  f"the last {wanted - there} made in {made:.1f} s")
            there = wanted
            print("keeping one more:", subprocess.run([filler, "add", store], check=True, capture_output=True, text=True).stdout.strip())
            for words in (["records"], ["records", "--serial", "S-000042"], ["records", "export"], ["records", "latest"],
                          ["report", "latest", "--format", "html", "-o", f"{folder}/r.html"], ["bag", "latest", "-o", f"{folder}/bag{percent}", "--without-pdf"]):
                seconds, mib = timed(tool, *words, "--store", store)
                print(f"  {' '.join(w for w in words if not w.startswith(folder)):<42} {seconds:7.2f} s {mib:7.0f} MiB", flush=True)


if __name__ == "__main__":
    main()
