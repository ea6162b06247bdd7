"""`analyze` on files as they come from loggers: what it prints, what it says about bad ones, and its exit codes.

The expected figures are worked out by hand from how each file was made, independently of the tool.
"""
import datetime
import json
import subprocess
import unittest
import xml.etree.ElementTree

from harness import TOOL, EndToEnd


def square(t, on_s, period_s, high=240.0, low=0.0, start_s=0.0):
    """A square wave that is low before start_s, then on for on_s in each period."""
    return high if t >= start_s and (t - start_s) % period_s < on_s else low


class Analyze(EndToEnd):
    def write(self, name, lines):
        path = self.dir / name
        path.write_text("\n".join(lines) + "\n")
        return path

    def regular(self, name="good.csv", on_s=12.0, period_s=30.0, cycles=25, every_s=0.5, header="time,load (V)", high=240.0):
        """on 12 s in 30 s: duty 0.4; starts low; sampled every half second."""
        count = int((cycles * period_s + 5.0) / every_s)
        rows = [f"{i * every_s:.1f},{square(i * every_s, on_s, period_s, high=high, start_s=3.0):.1f}" for i in range(count)]
        return self.write(name, [header, *rows])

    def json(self, *arguments, code=0):
        return [json.loads(line) for line in self.tool("analyze", *arguments, "--json", code=code).stdout.splitlines()]

    def test_every_complete_cycle_then_a_summary_per_channel(self):
        lines = self.json(self.regular())
        cycles, summary = lines[:-1], lines[-1]
        self.assertTrue(all(line["type"] == "cycle" for line in cycles))
        self.assertEqual([c["index"] for c in cycles], list(range(1, len(cycles) + 1)))
        self.assertEqual(summary["type"], "summary")
        self.assertEqual(summary["complete_cycles"], len(cycles))
        self.assertEqual(len(cycles), 25)  # 26 rising edges at 3, 33, ... 753 s
        self.assertEqual((summary["channel"], summary["state"], summary["trust"]), ("load (V)", "cycling", "good"))
        for key, value in (("on_s", 12.0), ("off_s", 18.0), ("period_s", 30.0)):
            self.assertAlmostEqual(summary[key]["mean"], value, delta=0.5)
            self.assertGreater(summary[key]["U"], 0.0)
        self.assertAlmostEqual(summary["duty"]["mean"], 0.4, delta=0.02)
        self.assertEqual(summary["steady_from_cycle"], 1)
        self.assertEqual((summary["low_level"], summary["high_level"]), (0.0, 240.0))
        for cycle in cycles:
            self.assertAlmostEqual(cycle["period_s"], cycle["on_s"] + cycle["off_s"])

    def test_an_absent_statistic_is_absent(self):
        path = self.write("flat.csv", ["time,load (V)", *(f"{i},240.0" for i in range(50))])
        summary = self.json(path)[-1]
        self.assertEqual(summary["state"], "always-on")
        self.assertEqual(summary["complete_cycles"], 0)
        for key in ("on_s", "off_s", "period_s", "duty", "low_level", "steady_from_cycle"):
            self.assertNotIn(key, summary)

    def test_files_as_loggers_write_them(self):
        start = datetime.datetime(2026, 3, 1, 9, 0, 0)
        stamp = lambda i: (start + datetime.timedelta(seconds=i)).isoformat()
        value = lambda i: square(i, 12, 30, start_s=3)
        n = range(400)
        files = {
            "semicolon and decimal comma": ["Zeit;Last (V)", *(f"{i},0;{value(i):.1f}".replace(".", ",") for i in n)],
            "ISO 8601 times": ["when,load (V)", *(f"{stamp(i)},{value(i):.1f}" for i in n)],
            "tab": ["t\tload (V)", *(f"{i}\t{value(i):.1f}" for i in n)],
            "CR LF and a byte order mark": ["\ufefftime,load (V)\r", *(f"{i},{value(i):.1f}\r" for i in n)],
            "milliseconds since 1970": ["time,load (V)", *(f"{1772355600000 + 1000 * i},{value(i):.1f}" for i in n)],
        }
        for what, rows in files.items():
            with self.subTest(what=what):
                summary = self.json(self.write("logger.csv", rows))[-1]
                self.assertEqual(summary["complete_cycles"], 13)  # rising at 3, 33 ... 393 s
                self.assertAlmostEqual(summary["on_s"]["mean"], 12.0, delta=1.0)
                self.assertAlmostEqual(summary["period_s"]["mean"], 30.0, delta=0.1)

    def test_several_channels_are_told_apart(self):
        rows = [f"{i},{square(i, 12, 30, start_s=3):.1f},{square(i, 40, 100, start_s=3):.1f},240.1" for i in range(600)]
        lines = self.json(self.write("three.csv", ["time,load (V),fan (V),line (V)", *rows]))
        summaries = lines[-3:]
        self.assertEqual([s["type"] for s in summaries], ["summary"] * 3)
        self.assertEqual([s["channel"] for s in summaries], ["load (V)", "fan (V)", "line (V)"])
        self.assertEqual([s["state"] for s in summaries], ["cycling", "cycling", "always-on"])
        self.assertAlmostEqual(summaries[1]["period_s"]["mean"], 100.0, delta=0.5)
        for summary in summaries:
            cycles = [c for c in lines[:-3] if c["channel"] == summary["channel"]]
            self.assertEqual(len(cycles), summary["complete_cycles"])

    def test_a_gap_that_could_hide_a_cycle_makes_its_cycle_incomplete(self):
        rows = [f"{i},{square(i, 12, 30, start_s=3):.1f}" for i in range(600) if not 200 < i < 290]
        summary = self.json(self.write("gap.csv", ["time,load (V)", *rows]))[-1]
        self.assertEqual(summary["gaps"], 1)
        self.assertGreaterEqual(summary["incomplete_cycles"], 1)
        self.assertLess(summary["complete_cycles"], 19)
        self.assertAlmostEqual(summary["period_s"]["max"], 30.0, delta=2.0)
        self.assertEqual([e["kind"] for e in summary["events"]][0], "gap")

    def test_a_series_too_coarse_for_its_pulses_gives_no_on_times_and_no_cycles(self):
        rows = [f"{i * 7.0},{square(i * 7.0, 9, 16):.1f}" for i in range(300)]
        lines = self.json(self.write("coarse.csv", ["time,load (V)", *rows]))
        self.assertEqual(len(lines), 1)
        self.assertEqual(lines[0]["trust"], "poor")
        self.assertTrue(lines[0]["reasons"])
        self.assertNotIn("on_s", lines[0])
        self.assertIn("NOT TO BE TRUSTED", self.tool("analyze", self.dir / "coarse.csv").stdout)

    def test_bad_rows_are_counted_and_named_by_line_on_stderr(self):
        lines = self.regular().read_text().splitlines()
        lines[4] = "garbage"
        lines[9] = "4.0,twelve"
        done = self.tool("analyze", self.write("bad.csv", lines), "--json")
        self.assertIn("bad.csv:5:", done.stderr)
        self.assertIn("bad.csv:10:", done.stderr)
        self.assertEqual(json.loads(done.stdout.splitlines()[-1])["bad_rows"], 2)

    def test_what_cannot_be_read_is_one_clear_sentence_and_exit_2(self):
        self.write("empty.csv", [])
        (self.dir / "nothing.csv").write_bytes(b"")
        self.write("words.csv", ["time,load", "a,b", "c,d"])
        (self.dir / "folder").mkdir()
        for name in ("missing.csv", "nothing.csv", "empty.csv", "words.csv", "folder"):
            with self.subTest(name=name):
                done = self.tool("analyze", self.dir / name, code=2)
                self.assertEqual(done.stdout, "")
                self.assertIn("switchwright: ", done.stderr)
                self.assertIn(name, done.stderr)
                self.assertNotIn("unexpected", done.stderr)

    def test_a_file_without_a_header_is_read_and_the_guess_is_said(self):
        lines = self.regular().read_text().splitlines()[1:]
        done = self.tool("analyze", self.write("bare.csv", lines), "--json")
        self.assertEqual(json.loads(done.stdout.splitlines()[-1])["complete_cycles"], 25)
        self.assertIn("header", done.stderr)

    def test_standard_input_gives_the_same_as_the_file(self):
        path = self.regular()
        with open(path) as file:
            done = subprocess.run([TOOL, "analyze", "-", "--json"], stdin=file, env=self.env, capture_output=True, text=True)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertEqual(done.stdout, self.tool("analyze", path, "--json").stdout)

    def test_the_judgement_decides_the_exit_code(self):
        # regulator-shunt-240, medium: on 4 to 25 s, off 8 to 45 s, duty 0.25 to 0.50 (invented, in the profile).
        #       on   period  supply  verdict      code
        rows = [(12, 30, "240", "pass", 0),
                (3, 30, "240", "fail", 1),       # duty 0.1, on 3 s
                (12, 30, None, "pass", 0)]       # voltage not known: judged as measured
        for on_s, period_s, supply, verdict, code in rows:
            with self.subTest(on_s=on_s, supply=supply):
                path = self.regular("judged.csv", on_s=on_s, period_s=period_s)
                options = ["--supply", supply] if supply else []
                last = self.json(path, "--profile", "regulator-shunt-240", "--position", "medium", *options, code=code)[-1]
                self.assertEqual((last["type"], last["verdict"]), ("verdict", verdict))

    def test_the_duty_is_carried_to_rated_voltage_by_the_square(self):
        # 12 s of 30 s at 208 V on a 240 V part: 0.4 * (208/240)^2 = 0.3004 (arithmetic). On a supply that is not its own nothing passes.
        last = self.json(self.regular(high=208.0), "--profile", "regulator-shunt-240", "--position", "medium", "--supply", "208", code=3)[-1]
        self.assertAlmostEqual(last["duty_at_rated"], 0.4 * (208 / 240) ** 2, delta=0.01)
        self.assertEqual(last["heater"], "shunt")

    def test_a_load_that_never_goes_off_names_both_causes(self):
        path = self.write("welded.csv", ["time,load (V)", *(f"{i},240.0" for i in range(2000))])
        last = self.json(path, "--profile", "regulator-shunt-240", "--position", "medium", "--supply", "240", code=1)[-1]
        self.assertEqual([f["fault"] for f in last["faults"]], ["never-opens"])
        self.assertIn("welded", last["headline"])
        self.assertIn("heater", last["headline"])

    def test_at_off_the_load_must_stay_dead(self):
        # Zero volts prove something only beside a live line.
        dead = self.write("dead.csv", ["time,load (V),line (V)", *(f"{i},0.0,240.0" for i in range(100))])
        out = self.write("out.csv", ["time,load (V)", *(f"{i},0.0" for i in range(100))])
        live = self.write("live.csv", ["time,load (V)", *(f"{i},240.0" for i in range(100))])
        for path, verdict, code in ((dead, "pass", 0), (out, "undecided", 3), (live, "fail", 1)):
            last = self.json(path, "--profile", "regulator-shunt-240", "--position", "off", code=code)[-1]
            self.assertEqual(last["verdict"], verdict)

    def test_a_pilot_that_drops_out_fails_although_the_timing_is_right(self):
        rows = [f"{i},{square(i, 12, 30, start_s=3):.1f},{0 if 300 <= i < 310 else 240}.0" for i in range(700)]
        path = self.write("pilot.csv", ["time,load (V),pilot (V)", *rows])
        last = self.json(path, "--profile", "regulator-shunt-240", "--position", "medium", "--supply", "240", code=1)[-1]
        self.assertEqual([(c["channel"], c["outcome"]) for c in last["channels"]], [("pilot (V)", "fail")])

    def test_a_line_outside_its_range_leaves_the_question_open(self):
        # ANSI C84.1 range A, 240 V: 228 to 252 V (from memory).
        rows = [f"{i},{square(i, 12, 30, start_s=3):.1f},215.0" for i in range(700)]
        path = self.write("line.csv", ["time,load (V),line (V)", *rows])
        last = self.json(path, "--profile", "regulator-shunt-240", "--position", "medium", code=3)[-1]
        self.assertEqual(last["verdict"], "undecided")
        self.assertEqual(last["supply_v"], 215.0)

    def test_a_missing_or_unknown_position_names_what_there_is(self):
        path = self.regular()
        for options in ([], ["--position", "midium"]):
            done = self.tool("analyze", path, "--profile", "regulator-shunt-240", *options, code=2)
            self.assertIn("medium", done.stderr)

    def test_people_get_two_rows_per_figure(self):
        text = self.tool("analyze", self.regular()).stdout
        self.assertIn("25 complete cycles", text)
        self.assertRegex(text, r"on +1[12]\.\d+ s \+/- 0\.\d+ s")
        self.assertRegex(text, r"median")
        self.assertIn("k = 2", text)

    def test_a_time_column_in_milliseconds_is_taken_as_that_and_it_is_said(self):
        rows = [f"{i * 500},{square(i * 0.5, 12, 30, start_s=3):.1f}" for i in range(1500)]
        #       header            options                  period, s  said
        rows_ = [("time_ms",       [],                      30.0,      "milliseconds"),
                 ("t [ms]",        [],                      30.0,      "milliseconds"),
                 ("t",             ["--time-unit", "ms"],   30.0,      ""),
                 ("time_ms",       ["--time-unit", "s"],    30000.0,   ""),
                 ("time_s",        [],                      30000.0,   "")]
        for header, options, period_s, said in rows_:
            with self.subTest(header=header, options=options):
                path = self.write("ms.csv", [f"{header},load (V)", *rows])
                done = self.tool("analyze", path, "--json", *options)
                self.assertAlmostEqual(json.loads(done.stdout.splitlines()[-1])["period_s"]["mean"] / period_s, 1.0, delta=0.01)
                self.assertIn(said, done.stderr)

    def test_a_picture_that_is_no_svg_is_refused_before_the_work(self):
        done = self.tool("analyze", self.regular(), "--picture", self.dir / "p.png", code=2)
        self.assertIn(".svg", done.stderr)
        self.assertFalse((self.dir / "p.png").exists())

    def test_the_picture_is_one_well_formed_svg_of_all_channels(self):
        rows = [f"{i},{square(i, 12, 30, start_s=3):.1f},240.1" for i in range(400)]
        path = self.write("two.csv", ["time,load (V),line <b> (V)", *rows])
        self.tool("analyze", path, "--picture", self.dir / "p.svg")
        root = xml.etree.ElementTree.parse(self.dir / "p.svg").getroot()
        self.assertTrue(root.tag.endswith("svg"))
        self.assertEqual(len([e for e in root if e.tag.endswith("svg")]), 2)


if __name__ == "__main__":
    unittest.main()
