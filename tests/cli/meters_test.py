"""`meters find`, `meters check` and `meters own` with the real binary."""
import json
import unittest

from harness import SOURCE, EndToEnd, ScriptedHands, ScriptedMeter, lcd_frame


class Meters(EndToEnd):
    def lines(self, done):
        return [json.loads(line) for line in done.stdout.splitlines()]

    def scripted(self, speak):
        meter = ScriptedMeter(speak)
        self.addCleanup(meter.close)
        return meter

    # find

    def test_find_names_the_definition_that_decodes_a_listening_port(self):
        meter = self.scripted(lambda: lcd_frame("0047", point=4))
        done = self.tool("meters", "find", "--port", meter.port, "--listen", "1")
        self.assertIn(f"switchwright read --meter lcd-segment-14 --port {meter.port}", done.stdout)
        best = self.lines(self.tool("meters", "find", "--port", meter.port, "--listen", "1", "--json"))[0]
        self.assertEqual((best["meter"], best["value"], best["asked"]), ("lcd-segment-14", 4.7, False))
        self.assertGreater(best["score"], 0.9)

    def test_find_at_a_port_with_noise_says_that_bytes_came(self):
        meter = self.scripted(lambda: b"\x00\xff\x37garbage\x80")
        done = self.tool("meters", "find", "--port", meter.port, "--listen", "0.3", code=4)
        self.assertIn("no meter definition finds a frame", done.stdout)

    def test_find_at_a_silent_port_says_so(self):
        meter = self.scripted(lambda: b"")
        done = self.tool("meters", "find", "--port", meter.port, "--listen", "0.2", code=4)
        self.assertIn("nothing came", done.stdout)

    # check

    def test_check_says_ok_for_every_definition_and_the_template(self):
        files = sorted((SOURCE / "meters").glob("*.toml")) + [SOURCE / "meters/template/my-meter.toml"]
        done = self.tool("meters", "check", *files)
        self.assertEqual(len([line for line in done.stdout.splitlines() if ": ok: " in line]), len(files))

    def test_check_prints_every_mistake_at_once_with_its_place(self):
        (self.dir / "bad.toml").write_text('schema = 1\ntitle = "x"\nprovenance = "made up"\n[link]\nbaud = 19230\n'
                                           'parity = "evn"\n[decoder]\nkind = "scpy"\n[[correction]]\nquantity = "ohms"\n')
        done = self.tool("meters", "check", "bad.toml", code=2)
        for place, text in (("5:8", "19200"), ("6:10", "even"), ("8:8", "scpi"), ("10:12", "ohms"), ("9:", "from")):
            self.assertTrue([line for line in done.stderr.splitlines() if f"bad.toml:{place}" in line and text in line],
                            (place, text, done.stderr))
        self.assertIn("there is no such", self.tool("meters", "check", "missing.toml", code=2).stderr)

    # own

    def own(self, name, *options, meter="lcd-segment-14", **more):
        return self.tool("meters", "own", "add", name, "--meter", meter, *options, **more)

    def test_own_meters_are_kept_and_their_calibration_is_told(self):
        self.own("bench-1", "--serial", "10428", "--calibrated", "2026-01-15", "--due", "2999-01-15", "--certificate", "K-1",
                 "--correction", "resistance 0..400 +0.05 U 0.04")
        self.own("bench-2", "--serial", "10429", "--calibrated", "2019-01-15", "--due", "2020-01-15")
        self.own("bench-3")
        rows = {row["name"]: row for row in self.lines(self.tool("meters", "own", "list", "--json"))}
        self.assertEqual({name: row["calibration"] for name, row in rows.items()},
                         {"bench-1": "valid", "bench-2": "overdue", "bench-3": "unknown"})
        self.assertEqual(rows["bench-1"]["corrections"],
                         [{"quantity": "resistance", "unit": "ohm", "from": 0.0, "to": 400.0, "add": 0.05, "U": 0.04, "k": 2.0}])
        self.assertIn("OVERDUE", self.tool("meters", "own").stdout)
        self.assertIn("resistance 0..400 ohm: +0.05 ohm", self.tool("meters", "own", "show", "10428").stdout)
        self.assertTrue((self.dir / "config/switchwright/meters-own.toml").exists())

    def test_own_refuses_what_it_could_not_read_back(self):
        #        options                                        what is told
        rows = [(["--calibrated", "15.1.2026"], "no day of the calendar"),
                (["--due", "2026-02-30"], "expected a date"),
                (["--correction", "resistance 0..400 +0.05"], "uncertainty of the correction is missing"),
                (["--correction", "ohms 0..400 +0.05 U 1"], "no quantity"),
                (["--correction", "resistance 400..0 +0.05 U 1"], "must rise")]
        for options, told in rows:
            with self.subTest(options):
                self.assertIn(told, self.own("bench-1", *options, code=2).stderr)
        self.own("bench-1")
        self.assertIn("--replace", self.own("bench-1", code=2).stderr)
        self.own("bench-1", "--replace", "--serial", "7")
        self.assertIn("did you mean", self.tool("meters", "own", "show", "bench-l", code=2).stderr)
        self.assertIn("lcd-segment-14", self.own("bench-4", meter="lcd-segment-41", code=2).stderr)

    def report(self, events, form="text"):
        return self.tool("report", events[-1]["record"], "--format", form).stdout

    def test_an_overdue_calibration_stands_in_verdict_record_and_report(self):
        self.own("bench-2", "--serial", "10429", "--calibrated", "2019-01-15", "--due", "2020-01-15")
        events = self.qualify(self.simulator(), "--own", "bench-2")
        self.assertTrue([r for r in events[-1]["remarks"] if r.startswith("Calibration overdue: the meter bench-2")], events[-1])
        for form in ("text", "html"):
            text = " ".join(self.report(events, form).split())
            self.assertIn("Calibration overdue", text)
            self.assertIn("due 2020-01-15: OVERDUE", text)
            self.assertIn("10429", text)

    def test_a_serial_number_finds_the_ledger_entry(self):
        self.own("bench-2", "--serial", "10429", "--calibrated", "2019-01-15", "--due", "2020-01-15")
        events = self.qualify(self.simulator(), "--meter-serial", "10429")
        self.assertIn("Calibration overdue", "".join(events[-1]["remarks"]))

    def test_an_unknown_calibration_stands_in_the_report(self):
        events = self.qualify(self.simulator())
        self.assertIn("unknown: these readings are traceable to nothing", " ".join(self.report(events).split()))

    def test_corrections_are_added_before_judging_and_said(self):
        # Closed contacts read at most 2 ohm. The meter of this ledger reads 5 ohm too little between 1 and 100 ohm, so
        # a contact of 1.5 ohm that is still closed (though not sound) is 6.5 ohm; the leads (below 1 ohm) are not corrected.
        fault = ("--fault", "resistive:line=1.5")
        plain = self.qualify(self.simulator(*fault), code=None)[-1]
        self.own("bench-5", "--serial", "5", "--calibrated", "2026-01-15", "--due", "2999-01-15", "--certificate", "K-5",
                 "--correction", "resistance 1..100 +5 U 0.2")
        events = self.qualify(self.simulator(*fault), "--own", "bench-5", code=1)
        found = [d for d in events[-1]["deviations"] if d["pair"] == ["L1", "H1"] and d["position"] == "low"]
        self.assertEqual([d for d in plain["deviations"] if d["pair"] == ["L1", "H1"] and d["continuity"] == "fail"], [])
        self.assertAlmostEqual(found[0]["value_ohm"], 6.5, delta=0.5)
        self.assertIn("Corrections of certificate K-5", " ".join(self.report(events).split()))
        record = json.loads(self.report(events, "json"))
        self.assertIn("[[correction]]", json.dumps(record))

    # the dial of a meter that the tool cannot set

    def test_readings_in_the_wrong_function_or_a_frozen_mode_are_refused_and_the_right_one_is_noticed(self):
        hands = ScriptedHands(self.dir)
        self.addCleanup(hands.close)
        wrong = iter([dict(unit="V", dc=True), dict(hold=True), dict(relative=True)] + [dict()] * 10 ** 6)
        state = {"left": 0, "way": dict()}

        def speak():
            # The volt steps are done at once; on ohms each way of being wrong is shown for some frames.
            if hands.now.get("dial", "").startswith("voltage"):
                live = hands.now.get("probes") == "known-source"
                direct = hands.now["dial"] == "voltage-dc"
                return lcd_frame("0240" if live else "0000", point=4 if live else 2, unit="V", ac=not direct, dc=direct)
            if hands.now.get("probes") != "shorted":
                return lcd_frame(" 0L ", point=3, prefix="M")
            if state["left"] == 0:
                state.update(left=12, way=next(wrong))
            state["left"] -= 1
            return lcd_frame("0003", point=4, **state["way"])

        meter = self.scripted(speak)
        events = self.qualify({"port": meter.port, "hands": hands.path}, code=None)
        leads = next(e for e in events if e["type"] == "step" and e["kind"] == "leads-before")
        self.assertIn("Set the meter to ohms", leads["instruction"])
        refused = [e["refused"] for e in events if e["type"] == "reading" and e.get("refused")]
        for told in ("turn the dial to ohms", "switch hold off", "switch relative off"):
            self.assertTrue([r for r in refused if told in r], (told, refused[:3]))
        kept = next(e for e in events if e["type"] == "kept" and e["step"] == leads["step"])
        self.assertAlmostEqual(kept["value"], 0.3)


if __name__ == "__main__":
    unittest.main()
