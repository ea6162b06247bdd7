"""The main job over a real pseudo-terminal: simulated switch and meter, the real binary, exit codes and records."""
import csv
import io
import json
import sqlite3
import subprocess
import unittest

from harness import SOURCE, TOOL, EndToEnd, interrupt, wait_until, _end


def deviation(verdict, position, *pair):
    return [d for d in verdict["deviations"] if d.get("position") == position and set(d["pair"]) == set(pair)]


class Qualify(EndToEnd):
    def test_a_good_switch_passes_with_exit_0(self):
        def check(profile):
            verdict = self.qualify(self.simulator(profile=profile), profile=profile)[-1]
            self.assertEqual(verdict["type"], "verdict")
            self.assertEqual(verdict["verdict"], "pass")
            self.assertEqual(verdict["deviations"], [])

        self.at_once([(profile,) for profile in ("regulator-shunt-120", "regulator-shunt-208", "regulator-shunt-240")], check)

    def test_a_good_switch_passes_with_every_shipped_kind_of_meter(self):
        def check(meter):
            verdict = self.qualify(self.simulator(meter=meter), meter=meter, timeout=170)[-1]
            self.assertEqual(verdict["verdict"], "pass")

        self.at_once([(meter,) for meter in ("scpi", "lcd-segment-14", "ascii-nibble-14")], check)

    def test_each_fault_is_found_where_it_is(self):
        #    fault                    position  pair          kind               severity
        rows = [("stuck-closed:cycling", "off", ("L2", "H2"), "stays-closed", "critical"),
                ("stuck-open:line", "low", ("L1", "H1"), "stays-open", "major"),
                ("stuck-open:pilot", "high", ("L1", "P"), "stays-open", "major"),
                ("resistive:line=25", "medium", ("L1", "H1"), "high-resistance", "major"),
                ("open:heater", "off", ("H1", "H2"), "stays-open", "major"),
                ("drifted:heater=50", "off", ("H1", "H2"), "out-of-band", "major"),
                ("swapped:L1,L2", "low", ("L1", "H1"), None, None),
                ("clocked=1", "off", ("L1", "H1"), "stays-closed", "critical")]
        def check(fault, position, pair, kind, severity):
            verdict = self.qualify(self.simulator("--fault", fault), code=1)[-1]
            self.assertEqual(verdict["verdict"], "fail")
            found = deviation(verdict, position, *pair)
            self.assertEqual(len(found), 1, verdict["deviations"])
            if kind:
                self.assertEqual((found[0]["kind"], found[0]["severity"]), (kind, severity))

        self.at_once(rows, check)

    def test_a_welded_contact_reads_its_value_with_uncertainty_against_its_limit(self):
        verdict = self.qualify(self.simulator("--fault", "stuck-closed:cycling"), code=1)[-1]
        found = deviation(verdict, "off", "L2", "H2")[0]
        self.assertLess(abs(found["value_ohm"]), 1.0)
        self.assertGreater(found["U_ohm"], 0.0)
        self.assertEqual(found["expected"]["min_ohm"], 1e6)
        self.assertNotIn("max_ohm", found["expected"])

    def test_the_record_holds_every_reading_and_its_chain_is_whole(self):
        events = self.qualify(self.simulator())
        record = events[-1]["record"]
        kept = sum(e["type"] in ("judged", "kept") for e in events)
        seen = sum(e["type"] == "reading" for e in events)
        database = sqlite3.connect(self.store)
        self.assertEqual(database.execute("select count(*) from indication").fetchone()[0], kept)
        self.assertEqual(database.execute("select count(*) from reading").fetchone()[0], seen)
        self.assertEqual(database.execute("pragma journal_mode").fetchone()[0], "wal")
        self.assertIn("chain whole", self.tool("records", "--check").stdout)
        self.assertIn(record, self.tool("records").stdout)

    def test_an_edited_record_is_found_out(self):
        self.qualify(self.simulator("--fault", "stuck-closed:cycling"), code=1)
        database = sqlite3.connect(self.store)
        database.execute("update finding set outcome = 'pass'")
        database.commit()
        self.assertNotIn("chain whole", self.tool("records", "--check", code=5).stdout)

    def test_reports_come_in_every_format_and_outside_text_stays_text(self):
        hostile = "<script>alert(1)</script>\x1b[2J"
        formula = '=HYPERLINK("http://example.invalid")'
        events = self.qualify(self.simulator(), "--part", hostile, "--serial", formula)
        record = events[-1]["record"]
        html = self.tool("report", record, "--format", "html").stdout
        self.assertNotIn("<script", html)
        self.assertIn("&lt;script&gt;", html)
        for outside in ("http://", "https://", "src=", "@import"):
            self.assertNotIn(outside, html.replace("http://www.w3.org/", "").replace("http://example.invalid", ""), outside)
        self.assertNotIn("\x1b", self.tool("report", record, "--format", "text").stdout)
        rows = list(csv.reader(io.StringIO(self.tool("report", record, "--format", "csv").stdout)))
        self.assertTrue(all(not cell.startswith(("=", "@", "\t")) for row in rows for cell in row))
        self.assertIn(json.dumps(hostile)[1:-1], self.tool("report", record, "--format", "json").stdout)

    def test_the_default_store_is_under_xdg_data_home(self):
        del self.env["SWITCHWRIGHT_STORE"]
        self.qualify(self.simulator())
        self.assertTrue((self.dir / "data/switchwright/records.sqlite").exists())

    def test_ctrl_c_keeps_what_was_measured_and_the_work_can_be_resumed(self):
        ready = self.simulator(rate="20")
        arguments = ["qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", ready["port"],
                     "--hands", "sim:" + ready["hands"], "--acknowledge", "de-energised", "--operator", "test",
                     "--settle", "0.1s", "--json"]
        process = subprocess.Popen([TOOL, *arguments], env=self.env, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        judged = 0
        for line in process.stdout:
            judged += json.loads(line)["type"] == "judged"
            if judged == 5:
                interrupt(process)
                break
        process.stdout.read()
        self.assertEqual(process.wait(timeout=10), 130)
        record = json.loads(self.tool("records", "--json").stdout)
        self.assertEqual(record["verdict"], "unfinished")
        events = self.qualify(ready, "--resume", "latest")
        self.assertEqual(events[-1]["verdict"], "pass")
        self.assertEqual(events[-1]["record"], record["record"])
        self.assertEqual(events[-1]["findings"], 60)
        # 60 places, and six readings more for the closings.
        self.assertLess(sum(e["type"] == "judged" for e in events), 66)

    def test_a_reader_that_goes_away_stops_the_work_without_losing_anything(self):
        ready = self.simulator(rate="30")
        process = subprocess.Popen(
            f"'{TOOL}' qualify --profile regulator-shunt-240 --meter lcd-segment-14 --port {ready['port']} --hands "
            f"sim:{ready['hands']} --acknowledge de-energised --settle 0.1s --json | head -n 40 >/dev/null; "
            "echo ${PIPESTATUS[0]}", shell=True, executable="/bin/bash", env=self.env, text=True, stdout=subprocess.PIPE)
        out, _ = process.communicate(timeout=60)
        self.assertEqual(out.strip(), "130")
        self.assertIn("chain whole", self.tool("records", "--check").stdout)


if __name__ == "__main__":
    unittest.main()
