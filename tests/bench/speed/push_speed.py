#!/usr/bin/python3
"""How long does a push of a million readings take against psql's \\copy of the same rows, in the same run?
    push_speed.py SWITCHWRIGHT TRACE_STORE_SPEED [READINGS]
Starts a PostgreSQL of its own (tests/cli/postgres.py). Run it on a machine that is doing nothing else."""
import os
import pathlib
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "cli"))
import postgres


def timed(*command, **options):
    begun = time.monotonic()
    subprocess.run([*map(str, command)], check=True, **options)
    return time.monotonic() - begun


def main():
    tool, maker = sys.argv[1:3]
    readings = int(sys.argv[3]) if len(sys.argv) > 3 else 1_000_000
    server = postgres.Postgres()
    try:
        with tempfile.TemporaryDirectory() as folder:
            store = pathlib.Path(folder) / "records.sqlite"
            seconds = readings / 30
            made = timed(maker, "make", store, f"{seconds / 3600:.9f}", "10", "3")
            print(f"store: {readings} readings in one-second batches, each synced: {readings / made:.0f} readings/s")
            server.sql(subprocess.run([tool, "records", "push", "--sql"], check=True, stdout=subprocess.PIPE, text=True).stdout)
            url = f"postgresql://owner@/postgres?host={server.dir}&port={server.port}"
            push = timed(tool, "records", "push", "--to", url, "--store", store)
            rows = server.sql("SELECT count(*) FROM switchwright.reading")
            psql = [server.bin / "psql", "-X", "-q", "-h", server.dir, "-p", str(server.port), "-U", "owner", "postgres"]
            for table in ("link", "reading"):
                subprocess.run([*map(str, psql), "-c", f"\\copy (SELECT * FROM switchwright.{table}) TO '{folder}/{table}'"], check=True)
            server.sql("CREATE TABLE plain_link (LIKE switchwright.link INCLUDING INDEXES);"
                       "CREATE TABLE plain_reading (LIKE switchwright.reading INCLUDING INDEXES);")
            copy = sum(timed(*psql, "-c", f"\\copy plain_{table} FROM '{folder}/{table}'") for table in ("link", "reading"))
            print(f"push of {rows} readings: {push:.2f} s; psql \\copy of the same rows: {copy:.2f} s; ratio {push / copy:.2f}")
            again = timed(tool, "records", "push", "--to", url, "--store", store)
            print(f"push again, nothing new: {again:.2f} s")
    finally:
        server.remove()


if __name__ == "__main__":
    main()
