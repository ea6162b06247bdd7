"""A record that cannot be bent: two benches, stores that vanish, rows and bags that were changed, output that goes nowhere."""
import hashlib
import json
import os
import pathlib
import shutil
import sqlite3
import subprocess
import unittest

from harness import TOOL, EndToEnd, _end, interrupt, wait_until

FAULT = ("--fault", "stuck-closed:cycling")


class Bench(EndToEnd):
    def begin(self, ready, *options, patience="5s"):
        """A qualification that goes on by itself until it is through."""
        process = subprocess.Popen(
            [TOOL, "qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", ready["port"],
             "--hands", "sim:" + ready["hands"], "--acknowledge", "de-energised", "--operator", "test", "--settle", "0.3s",
             "--patience", patience, "--inspected", "yes", "--json", *options],
            env=self.env, cwd=self.dir, text=True, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        return process

    def until_kept(self, process, count=3):
        """Reads events until so many indications are kept. Returns the record."""
        record, kept = None, 0
        for line in process.stdout:
            event = json.loads(line)
            record = event.get("record", record)
            kept += event["type"] in ("kept", "judged")
            if kept >= count:
                return record
        self.fail("the work ended early: " + process.stderr.read())

    def end_of(self, process, code):
        out, error = process.communicate(timeout=60)
        self.assertEqual(process.returncode, code, error)
        return [json.loads(line) for line in out.splitlines()], error


class TwoBenches(Bench):
    def test_a_running_record_cannot_be_joined(self):
        first = self.begin(self.simulator(*FAULT, rate="50"))
        self.until_kept(first)
        record = json.loads(self.tool("records", "--json").stdout)["record"]
        for name, code in [(record, 5), ("latest", 2)]:
            done = self.tool("qualify", "--resume", name, "--meter", "lcd-segment-14", "--port", "/dev/null", "--hands",
                             "person", "--acknowledge", "de-energised", code=code)
            self.assertRegex(done.stderr, "being written|writing just now")
        interrupt(first)
        self.end_of(first, 130)
        self.assertIn("chain whole", self.tool("records", "--check").stdout)
        good = self.simulator()
        self.qualify(good, "--resume", record, code=None)
        self.assertIn("chain whole", self.tool("records", "--check").stdout)

    def test_a_bench_that_was_killed_leaves_its_record_free(self):
        first = self.begin(self.simulator(rate="50"))
        self.until_kept(first)
        first.kill()
        first.wait()
        self.assertEqual(self.qualify(self.simulator(), "--resume", "latest")[-1]["verdict"], "pass")


class StoreBehindTheBack(Bench):
    def test_a_store_that_is_taken_away_ends_the_work_with_everything_put_aside(self):
        other = self.dir / "other.sqlite"
        self.tool("records", "--store", other)
        ways = [("deleted", lambda: os.unlink(self.store)),
                ("replaced", lambda: shutil.copy(other, self.dir / "fresh") and os.replace(self.dir / "fresh", self.store)),
                ("cut to nothing", lambda: os.truncate(self.store, 0)),
                ("overwritten", lambda: shutil.copyfile(other, self.store))]
        for way, act in ways:
            with self.subTest(way=way):
                for end in ("", "-wal", "-shm", "-lock"):
                    pathlib.Path(str(self.store) + end).unlink(missing_ok=True)
                self.tool("records")
                process = self.begin(self.simulator(*FAULT, rate="50"))
                self.until_kept(process)
                act()
                events, error = self.end_of(process, 5)
                self.assertIn("--restore ", error)
                self.assertNotRegex(error, r"record 20\S+ in /")
                self.assertNotIn("pass", [e.get("verdict") for e in events])
                rescue = error.split("--restore ")[-1].strip()
                self.addCleanup(lambda p=rescue: [f.unlink() for f in pathlib.Path(p).parent.glob(pathlib.Path(p).name + "*")])
                fresh = self.dir / f"fresh-{way.replace(' ', '-')}.sqlite"
                self.assertIn("back in record", self.tool("records", "--restore", rescue, "--store", fresh).stdout)
                self.assertIn("chain whole", self.tool("records", "--check", "--store", fresh).stdout)
                readings = json.loads(self.tool("report", "latest", "--format", "json", "--store", fresh).stdout)["readings"]
                self.assertGreater(len(readings), 3)

    def test_a_store_locked_for_seconds_delays_nothing_but_the_writing(self):
        process = self.begin(self.simulator(rate="50"))
        self.until_kept(process)
        lock = sqlite3.connect(self.store, isolation_level=None)
        lock.execute("BEGIN IMMEDIATE")
        taken = 0
        for line in process.stdout:   # readings go on while nothing can be written
            taken += json.loads(line)["type"] == "reading"
            if taken > 40:
                break
        lock.execute("ROLLBACK")
        lock.close()
        events, _ = self.end_of(process, 0)
        self.assertEqual(events[-1]["verdict"], "pass")
        self.assertIn("chain whole", self.tool("records", "--check").stdout)


class ChangedRecord(EndToEnd):
    def setUp(self):
        super().setUp()
        self.qualify(self.simulator(*FAULT), code=1)
        self.record = json.loads(self.tool("records", "--json").stdout)["record"]

    def change(self, sql):
        with sqlite3.connect(self.store) as store:
            store.executescript(sql)
        store.close()

    def test_a_changed_verdict_is_told_by_every_command_that_shows_the_record(self):
        self.change("UPDATE verdict SET outcome = 'pass', headline = 'All is well'")
        fit = ("fit", "--profile", "regulator-shunt-240", "--supply", "240", "--load", "1500W@240", "--record", self.record)
        for arguments in [("report", self.record), ("report", self.record, "--format", "html"),
                          ("report", self.record, "--format", "json"), ("report", self.record, "--format", "csv"),
                          ("records", self.record), ("records",), ("records", "--json"), ("records", "--check"),
                          fit, ("profiles", "match", self.record), ("bag", self.record, "-o", self.dir / "bag")]:
            with self.subTest(arguments=arguments):
                done = self.tool(*arguments, code=5)
                self.assertNotIn("PASS", done.stdout)
                self.assertNotIn("All is well", done.stdout)
        text = self.tool("report", self.record, code=5).stdout
        self.assertTrue(text.startswith("NOT WHOLE"), text[:200])
        self.assertIn("FAIL", text)
        listed = json.loads(self.tool("records", "--json", code=5).stdout)
        self.assertEqual(listed["verdict"], "fail")
        self.assertIn("verdict", listed["fault"])

    def test_a_record_whose_batches_are_gone_is_listed_as_not_whole_beside_the_others(self):
        self.qualify(self.simulator(), "--serial", "G1", code=0)
        for gone in (f"record_id = '{self.record}' AND seq > 30", f"record_id = '{self.record}'"):
            self.change("DELETE FROM batch WHERE " + gone)
            for arguments in (("records",), ("records", "--check")):
                done = self.tool(*arguments, code=5)
                self.assertNotIn("unexpected", done.stderr)
            self.assertIn("G1", self.tool("records", code=5).stdout)

    def test_any_changed_row_is_told(self):
        for sql in ["UPDATE indication SET value = 0", "UPDATE event SET text = 'x'", "UPDATE step SET position = 'low'",
                    "UPDATE reading SET value = 1", "UPDATE acknowledgement SET who = 'x'", "DELETE FROM explanation",
                    "UPDATE finding SET outcome = 'pass', kind = NULL, severity = NULL", "UPDATE record SET serial = 'x'",
                    "DELETE FROM verdict", "UPDATE meter SET serial = 'x'", "DELETE FROM record"]:
            with self.subTest(sql=sql):
                shutil.copy(self.store, self.dir / "kept.sqlite")
                self.change(sql)
                self.assertIn("NOT WHOLE", self.tool("report", self.record, code=5).stdout)
                self.tool("records", "--check", code=5)
                shutil.copy(self.dir / "kept.sqlite", self.store)
        self.assertEqual(self.tool("records", "--check").returncode, 0)

    def test_a_record_whose_verdict_was_cut_off_is_not_resumed_to_another_one(self):
        with sqlite3.connect(self.store) as store:
            last = store.execute("SELECT max(seq) FROM batch").fetchone()[0]
            tables = [row[0] for row in store.execute(
                "SELECT m.name FROM sqlite_schema m JOIN pragma_table_info(m.name) c WHERE m.type = 'table' AND c.name = 'seq'")]
            for table in tables:
                store.execute(f"DELETE FROM {table} WHERE seq >= ?", (last,))
        store.close()
        self.assertIn("NOT WHOLE", self.tool("records", code=5).stdout)
        done = self.tool("qualify", "--resume", self.record, "--meter", "lcd-segment-14", "--port", "/dev/null",
                         "--acknowledge", "de-energised", code=5)
        self.assertIn("chain does not hold", done.stderr)


class ChangedBag(EndToEnd):
    def setUp(self):
        super().setUp()
        self.qualify(self.simulator(*FAULT), code=1)
        self.tool("bag", "latest", "-o", self.dir / "bag")

    def seal_again(self, bag):
        """What somebody does who changes a bag and knows how bags are made."""
        def manifest(files):
            return "".join(f"{hashlib.sha256((bag / f).read_bytes()).hexdigest()}  {f}\n" for f in sorted(files))
        data = [str(p.relative_to(bag)) for p in (bag / "data").rglob("*") if p.is_file()]
        size = sum((bag / f).stat().st_size for f in data)
        info = [line for line in (bag / "bag-info.txt").read_text().splitlines() if not line.startswith("Payload-Oxum")]
        (bag / "bag-info.txt").write_text("\n".join([*info, f"Payload-Oxum: {size}.{len(data)}"]) + "\n")
        (bag / "manifest-sha256.txt").write_text(manifest(data))
        (bag / "tagmanifest-sha256.txt").write_text(manifest(["bag-info.txt", "bagit.txt", "manifest-sha256.txt"]))

    def test_a_bag_that_was_changed_and_sealed_again_does_not_check(self):
        def replace(name, before, after):
            def act(bag):
                text = (bag / name).read_text()
                self.assertIn(before, text)
                (bag / name).write_text(text.replace(before, after))
            return act
        ways = {"nothing": lambda bag: None,
                "readings": replace("data/results.csv", "fail", "pass"),
                "profile": replace("data/profile.toml", "closed_max_ohm = 2.0", "closed_max_ohm = 200.0"),
                "meter": replace("data/meter.toml", "schema = 1", "schema = 1 "),
                "report": replace("data/report.html", "<title>Fail", "<title>Pass"),
                "record": replace("data/record.json", '"outcome": "fail"', '"outcome": "pass"'),
                "schema": replace("data/record.schema.json", "type", "kind"),
                "label": replace("bag-info.txt", "fail", "pass"),
                "removed": lambda bag: (bag / "data/results.csv").unlink(),
                "added": lambda bag: (bag / "data/certificate.txt").write_text("This part is good."),
                "year": replace("data/chain.jsonl", '"started":"20', '"started":"99')}
        for way, act in ways.items():
            with self.subTest(way=way):
                bag = self.dir / ("bag-" + way)
                shutil.copytree(self.dir / "bag", bag)
                act(bag)
                self.seal_again(bag)
                found = json.loads(self.tool("bag", "--check", bag, "--json", code=0 if way == "nothing" else 5).stdout)
                self.assertEqual(found["whole"], way == "nothing")


class Output(EndToEnd):
    def to_full(self, *arguments):
        with open("/dev/full", "wb") as full:
            return subprocess.run([TOOL, *map(str, arguments)], env=self.env, cwd=self.dir, stdin=subprocess.DEVNULL,
                                  stdout=full, stderr=subprocess.PIPE, text=True, timeout=60)

    def test_output_that_cannot_be_written_is_an_error_of_its_own(self):
        self.qualify(self.simulator(*FAULT), code=1)
        for arguments in [("report", "latest"), ("records",), ("records", "--check"), ("profiles",), ("meters",), ("--help",),
                          ("fit", "--profile", "regulator-shunt-240", "--supply", "240", "--load", "99999W@240")]:
            with self.subTest(arguments=arguments):
                done = self.to_full(*arguments)
                self.assertEqual(done.returncode, 6, done.stderr)
                self.assertIn("output", done.stderr)
        ready = self.simulator(*FAULT)
        done = self.to_full("qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", ready["port"],
                            "--hands", "sim:" + ready["hands"], "--acknowledge", "de-energised", "--settle", "0.03s")
        self.assertEqual(done.returncode, 6, done.stderr)

    def test_a_closed_pipe_leaves_the_exit_code_of_the_result(self):
        command = f"{TOOL} fit --profile regulator-shunt-240 --supply 240 --load 99999W@240 --json; echo code $? >&2"
        done = subprocess.run(["bash", "-c", f"({command}) | true"], env=self.env, cwd=self.dir, text=True, capture_output=True)
        self.assertIn("code 1", done.stderr)
        done = subprocess.run(["bash", "-c", f"({TOOL} profiles; echo code $? >&2) | head -1"], env=self.env, cwd=self.dir,
                              text=True, capture_output=True)
        self.assertIn("code 0", done.stderr)

    def test_a_report_that_cannot_be_written_is_refused_before_the_work(self):
        for place, words in [("report.docx", r"\.docx"), ("no/such/report.html", "folder"), (".", "folder"),
                             ("/proc/report.html", "could not be written")]:
            with self.subTest(place=place):
                done = self.tool("qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", "/dev/null",
                                 "--hands", "person", "--acknowledge", "de-energised", "--report", place, code=2)
                self.assertRegex(done.stderr, words)
                done = self.tool("trace", "--profile", "regulator-shunt-240", "--position", "low", "--channel",
                                 "load=lcd-segment-14@/dev/null", "--acknowledge", "energised", "--report", place, code=2)
        self.assertFalse(self.store.exists() and json.loads(self.tool("records", "--json").stdout or "null"))
        self.assertIn(".docx", self.tool("report", "latest", "-o", "x.docx", code=2).stderr)


if __name__ == "__main__":
    unittest.main()
