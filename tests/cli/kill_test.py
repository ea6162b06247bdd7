"""A process that is killed at a random instant, by SIGKILL as a power cut or an impatient person does: the store opens, every
chain is whole, nothing of what the process had said was kept is missing but for the last second, and going on ends where an
undisturbed run ends. How often is a parameter: SWITCHWRIGHT_KILLS (default 4 each). Migrating: tests/record/store_crash_test.cpp.

The loss is counted against the killed process's own event stream."""
import hashlib
import json
import os
import random
import signal
import sqlite3
import subprocess
import time
import unittest

import postgres
import trace_simulated_test
from harness import TOOL, EndToEnd
from lot_test import PROFILE

KILLS = int(os.environ.get("SWITCHWRIGHT_KILLS", "4"))


def scope(verdict):
    return {part: found["outcome"] if isinstance(found, dict) else found for part, found in verdict["scope"].items()}


class KilledBench:
    def start(self, *arguments):
        return subprocess.Popen([TOOL, *map(str, arguments)], env=self.env, cwd=self.dir, text=True,
                                stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)

    def killed_after(self, process, seconds):
        """Its events, and whether the signal met it at work."""
        try:
            out, _ = process.communicate(timeout=seconds)
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            out, _ = process.communicate(timeout=60)
        events = []
        for line in out.splitlines():
            try:
                events.append(json.loads(line))
            except json.JSONDecodeError:
                pass  # the line that was cut
        return events, process.returncode == -signal.SIGKILL

    def rows(self, sql, *values):
        with sqlite3.connect(self.store) as database:
            return database.execute(sql, values).fetchall()

    def check_store(self):
        self.tool("records", "--check")
        self.assertEqual(self.rows("pragma integrity_check"), [("ok",)])


class Killed(KilledBench, EndToEnd):
    def setUp(self):
        super().setUp()
        self.profile = self.dir / "one.toml"
        self.profile.write_text(PROFILE)

    def test_qualify_killed_at_any_instant_loses_at_most_a_second_and_resumes_to_the_same_verdict(self):
        seed, met = random.Random(14), 0
        ready = self.simulator("--fault", "stuck-closed:line", profile=self.profile)
        bench = ["--port", ready["port"], "--hands", "sim:" + ready["hands"], "--acknowledge", "de-energised", "--inspected", "yes",
                 "--settle", "0.03s", "--json"]
        common = ["qualify", "--profile", self.profile, "--meter", "lcd-segment-14", "--operator", "test", *bench]
        begun = time.monotonic()
        whole = json.loads(self.tool(*common, code=1).stdout.splitlines()[-1])
        took_s = time.monotonic() - begun
        for _ in range(KILLS):
            events, killed = self.killed_after(self.start(*common), seed.uniform(0.02, took_s))
            self.check_store()
            if not killed or not any(e["type"] == "kept" for e in events):
                continue  # nothing was said to be kept
            met += 1
            record = json.loads(self.tool("records", "--json").stdout.splitlines()[0])["record"]
            kept = sum(e["type"] == "kept" for e in events)
            self.assertGreaterEqual(self.rows("select count(*) from indication where record_id = ?", record)[0][0], kept - 1)
            again = json.loads(self.tool("qualify", "--resume", record, *bench, code=1).stdout.splitlines()[-1])
            self.assertEqual((again["type"], again["verdict"], scope(again)), ("verdict", whole["verdict"], scope(whole)))
        self.check_store()
        self.assertGreater(met, 0, "no kill met a qualification at work")

    def test_a_bag_killed_at_any_instant_is_whole_or_says_that_it_is_not(self):
        seed = random.Random(15)
        self.qualify(self.simulator(profile=self.profile), profile=self.profile)
        for number in range(3 * KILLS):
            folder = self.dir / f"bag{number}"
            self.killed_after(self.start("bag", "latest", "-o", folder, "--without-pdf"), seed.uniform(0.0, 0.15))
            if folder.exists():
                code = self.tool("bag", "--check", folder, code=None).returncode
                self.assertIn(code, (0, 5))
                if code == 0:
                    subprocess.run(["sha256sum", "--quiet", "-c", "manifest-sha256.txt"], cwd=folder, check=True)
        self.check_store()

    @unittest.skipUnless(postgres.programs(), "SKIPPED: PostgreSQL is missing (Debian package postgresql)")
    def test_a_push_killed_at_any_instant_is_caught_up_by_the_next_and_leaves_no_half_link(self):
        server = postgres.Postgres()
        self.addCleanup(server.remove)
        server.sql(self.tool("records", "push", "--sql").stdout + "CREATE ROLE bench1 LOGIN PASSWORD 'secret' IN ROLE switchwright_bench;")
        (self.dir / "pgpass").write_text("*:*:*:bench1:secret\n")
        (self.dir / "pgpass").chmod(0o600)
        self.env["PGPASSFILE"] = str(self.dir / "pgpass")
        seed, ready, push, met = random.Random(16), self.simulator(profile=self.profile), ["records", "push", "--to", server.url("bench1")], 0
        for _ in range(KILLS):
            self.qualify(ready, "--plan", "short", profile=self.profile)
            for _ in range(3):
                met += self.killed_after(self.start(*push), seed.uniform(0.005, 0.06))[1]
                for line in server.sql("SELECT sha256 || ' ' || canonical FROM switchwright.link").splitlines():
                    told, _, canonical = line.partition(" ")
                    self.assertEqual(hashlib.sha256(canonical.encode()).hexdigest(), told)
            self.tool(*push)
            there = server.sql("SELECT record_id || ' ' || seq || ' ' || sha256 FROM switchwright.link ORDER BY record_id, seq").splitlines()
            self.assertEqual(there, [f"{r} {n} {h}" for r, n, h in self.rows("SELECT record_id, seq, sha256 FROM batch ORDER BY record_id, seq")])
        self.check_store()
        self.assertGreater(met, 0, "no kill met a push at work")


class KilledTrace(KilledBench, EndToEnd):
    bench, profile = trace_simulated_test.SimulatedTrace.bench, trace_simulated_test.SimulatedTrace.profile  # its bench, not its tests

    def test_a_trace_killed_at_any_instant_keeps_all_but_its_last_second(self):
        seed = random.Random(17)
        bench = self.bench()
        for _ in range(KILLS):
            events, killed = self.killed_after(self.start(*bench, "--for", "20s"), seed.uniform(1.5, 5.0))
            self.assertTrue(killed)
            self.check_store()
            said = [e for e in events if e["type"] == "sample"]
            self.assertTrue(said)
            record = json.loads(self.tool("records", "--json").stdout.splitlines()[0])["record"]
            kept = {(c, t) for c, t in self.rows("select name, round(t_s, 3) from sample join trace_channel using (record_id) where sample.channel = trace_channel.channel "
                                                 "and record_id = ?", record)}
            last = max(e["t_s"] for e in said)
            lost = [e for e in said if (e["channel"], round(e["t_s"], 3)) not in kept]
            self.assertTrue(all(e["t_s"] >= last - 1.2 for e in lost), lost[:3])
            self.tool("report", record)  # and it can be shown


if __name__ == "__main__":
    unittest.main()
