"""The millivolt drop under a known current, through the real binary. The meter and its hands are scripted: what the meter
shows is worked out here from U = I R. The hands switch the current when they are told to ("current" of the hands protocol)."""
import json
import pathlib
import signal
import subprocess
import tempfile
import unittest

from harness import SOURCE, TOOL, EndToEnd, ScriptedHands, ScriptedMeter, lcd_frame, wait_until

OHM = {("L1", "H1"): 0.020, ("L1", "P"): 0.030, ("L2", "H2"): 0.010}  # invented


class DropTest(EndToEnd):
    def bench(self, ohm, amps=1.0, thermal_v=0.0, exchanged=True, dead=False):
        """`exchanged`: whoever the hands are exchanges the clips when they are told to."""
        folder = pathlib.Path(tempfile.mkdtemp(dir=self.dir))
        hands = ScriptedHands(folder)

        def speak():
            pair = tuple(hands.now.get("pair", ("L1", "H1")))
            way = {"on": 1, "reversed": -1 if exchanged else 1}.get(hands.now.get("current"), 0) * (not dead)
            volt = way * ohm.get(pair, 0.0) * amps + thermal_v
            millivolt = round(volt * 1e4)  # one digit is 0.1 mV
            return lcd_frame("%4d" % abs(millivolt), point=4, unit="V", prefix="m", dc=True, minus=millivolt < 0)

        meter = ScriptedMeter(speak)
        self.addCleanup(meter.close)
        self.addCleanup(hands.close)
        return meter, hands

    def command(self, meter, hands, *options, settle="0.1s", profile="regulator-shunt-240"):
        return ["drop", "--profile", str(profile), "--meter", "lcd-segment-14", "--port", meter.port, "--hands",
                "sim:" + hands.path, "--acknowledge", "de-energised", "--settle", settle, *options]

    def drop(self, meter, hands, *options, code):
        """Each contact's drop, then the verdict."""
        done = self.tool(*self.command(meter, hands, "--json", *options), code=code)
        events = [json.loads(line) for line in done.stdout.splitlines()]
        if not events:
            return done
        self.assertEqual(events[-1]["type"], "verdict")
        return [event["drop"] for event in events if "drop" in event] + events[-1:]

    def test_milliohms_are_decided_with_a_meter_that_shows_tenths_of_an_ohm(self):
        lines = self.drop(*self.bench(OHM), "--current", "1A@0.01", code=0)
        found = {tuple(line["pair"]): line for line in lines[:-1]}
        self.assertEqual(set(found), set(OHM))
        for pair, ohm in OHM.items():
            self.assertLess(abs(found[pair]["ohm"] - ohm), found[pair]["U_ohm"] + 1e-9)
            self.assertLess(found[pair]["U_ohm"], 0.01)
        self.assertEqual(lines[-1]["verdict"], "pass")

    def test_a_bad_contact_fails_and_the_record_tells_fit_how_hot_it_gets(self):
        lines = self.drop(*self.bench({**OHM, ("L2", "H2"): 0.25}), "--current", "1A@0.01", code=1)
        bad = [line for line in lines[:-1] if line["contact"] == "cycling"][0]
        self.assertEqual(bad["outcome"], "fail")
        record = lines[-1]["record"]
        listed = json.loads(self.tool("records", "--json").stdout)
        self.assertEqual((listed["kind"], listed["verdict"]), ("drop", "fail"))
        self.assertIn("chain whole", self.tool("records", "--check").stdout)
        self.assertIn("drop", self.tool("report", record).stdout)
        fit = [json.loads(line) for line in self.tool("fit", "--profile", "regulator-shunt-240", "--supply", "240", "--load",
                                                      "10A", "--record", record, "--json", code=1).stdout.splitlines()]
        heat = [f for f in fit if f.get("figure") == "contact-heat:cycling"][0]
        self.assertAlmostEqual(heat["value"], 25.0, delta=0.6)  # P = I^2 R = 100 x 0.25

    def test_a_meter_that_cannot_resolve_the_limit_is_refused_with_the_current_that_would_do(self):
        done = self.drop(*self.bench(OHM, amps=0.002), "--current", "0.002A@1%", code=2)
        # 0.1 mV digits, a few of them off: 2 mA through 0.1 ohm is 0.2 mV.
        self.assertRegex(done.stderr, r"cannot decide with 0\.002 A.*use 0\.0[0-9]+ A or more")
        self.assertEqual(self.tool("records", "--json").stdout, "")

    def test_near_the_limit_is_undecided_and_says_that_more_current_helps(self):
        lines = self.drop(*self.bench({**OHM, ("L2", "H2"): 0.024}, amps=0.05), "--current", "0.05A@1%", code=3)
        self.assertIn("More current", [line for line in lines[:-1] if line["contact"] == "cycling"][0]["text"])

    def test_a_wrong_dial_is_said_and_wrong_options_are_refused(self):
        meter, hands = self.bench(OHM)
        self.tool("drop", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", meter.port, "--hands",
                  "sim:" + hands.path, "--current", "1A", "--json", code=2)  # not acknowledged
        for wrong in (["--current", "x"], ["--current", "20A"], ["--current", "1A", "--position", "hihg"],
                      ["--current", "1A", "--position", "off"], []):
            self.drop(meter, hands, *wrong, code=2)

    def test_ohms_or_ac_volts_are_not_taken_for_a_drop(self):
        for wrong, words in ((dict(digits="0003", point=4, unit="ohm"), "ohm"), (dict(digits="0123", point=4, unit="V", prefix="m", ac=True), "AC")):
            (self.dir / words).mkdir()
            hands = ScriptedHands(self.dir / words)
            meter = ScriptedMeter(lambda frame=wrong: lcd_frame(**frame))
            self.addCleanup(meter.close)
            self.addCleanup(hands.close)
            done = self.tool(*self.command(meter, hands, "--current", "1A", "--patience", "1s"), code=4)
            self.assertRegex(done.stderr, "(?i)" + words)
            self.assertRegex(done.stderr, "DC volts|millivolts")

    def test_a_current_that_was_not_reversed_is_not_taken_for_no_drop_at_all(self):
        lines = self.drop(*self.bench({**OHM, ("L2", "H2"): 0.25}, exchanged=False), "--current", "1A@0.01", "--reversed", code=3)
        for line in lines[:-1]:
            self.assertEqual((line["outcome"], line["state"]), ("undecided", "one-way"))
            self.assertIn("not reversed", line["text"])

    def test_mains_on_the_part_stops_the_check(self):
        hands = ScriptedHands(self.dir)
        meter = ScriptedMeter(lambda: lcd_frame("1200", point=4, unit="V", dc=True))
        self.addCleanup(meter.close)
        self.addCleanup(hands.close)
        done = self.tool(*self.command(meter, hands, "--current", "1A", "--json"), code=3)
        events = [json.loads(line) for line in done.stdout.splitlines()]
        self.assertTrue(any(e["type"] == "stopped" and e["kind"] == "volts-present" for e in events))
        self.assertFalse([e for e in events if "drop" in e])

    def test_the_uncertainty_the_upper_bound_and_the_current_stand_in_the_report_and_its_json_keeps_the_schema(self):
        try:
            import jsonschema
        except ImportError:
            self.skipTest("SKIPPED: needs the Debian package python3-jsonschema")
        lines = self.drop(*self.bench({**OHM, ("L2", "H2"): 0.25}), "--current", "1A@0.01", "--reversed", code=1)
        record = lines[-1]["record"]
        text = self.tool("report", record).stdout
        for words in ("MILLIVOLT DROP", "NOT SOUND", "(250.0 +/- 1.8) mV", "upper", "(1 +/- 0.01) A at", "degC"):
            self.assertIn(words, text)
        # R. Holm: 250 mV across a spot, body at 20 degC: sqrt(293.15^2 + 0.25^2 / (4 x 2.443e-8)) = 852 K = 579 degC.
        self.assertRegex(text, r"cycling .*spot at most 5(79|8\d) degC")
        self.assertIn("Millivolt drop", self.tool("report", record, "--format", "html").stdout)
        rows = self.tool("report", record, "--format", "csv").stdout.splitlines()
        self.assertEqual(len(rows), 4)
        document = json.loads(self.tool("report", record, "--format", "json").stdout)
        jsonschema.validate(document, json.loads((SOURCE / "src/report/record.schema.json").read_text()))
        self.assertEqual(len([i for i in document["indications"] if i["quantity"] == "voltage-dc"]), 12)

    def begun_and_stopped(self, stop, **more):
        """Ends the tool after the first contact; returns its exit code and what it said."""
        process = subprocess.Popen([TOOL, *self.command(*self.bench(OHM), "--current", "1A@0.01", settle="0.5s", **more)], env=self.env,
                                   cwd=self.dir, text=True, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(lambda: (process.stdout.close(), process.stderr.close()))
        for line in process.stdout:
            if " mV at " in line:
                break
        # Writing waits elsewhere: what is shown is in the store within a second.
        kept = json.loads(self.tool("records", "--json").stdout.splitlines()[0])["record"]
        self.assertTrue(wait_until(lambda: "MILLIVOLT DROP" in self.tool("report", kept).stdout, 10))
        process.send_signal(stop)
        process.stdout.read()
        return process.wait(timeout=20), process.stderr.read()

    def gone_on_with(self):
        kept = json.loads(self.tool("records", "--json").stdout.splitlines()[0])
        self.assertEqual((kept["kind"], kept["verdict"]), ("drop", "unfinished"))
        self.assertIn("MILLIVOLT DROP", self.tool("report", kept["record"]).stdout)
        meter, hands = self.bench(OHM)
        done = self.tool("drop", "--resume", kept["record"], "--port", meter.port, "--hands", "sim:" + hands.path, "--acknowledge",
                         "de-energised", "--settle", "0.1s", "--json")
        events = [json.loads(line) for line in done.stdout.splitlines()]
        self.assertEqual(events[-1]["verdict"], "pass")
        self.assertEqual(len([e for e in events if "drop" in e]), 2)  # of three: the first was kept
        return kept["record"]

    def test_a_check_that_is_interrupted_keeps_its_contacts_and_goes_on(self):
        code, error = self.begun_and_stopped(signal.SIGINT)
        self.assertEqual(code, 130)
        self.assertIn("--resume " + self.gone_on_with(), error)

    def test_a_check_that_is_killed_keeps_its_contacts_and_goes_on(self):
        own = self.dir / "own.toml"
        own.write_text((SOURCE / "profiles/regulator-shunt-240.toml").read_text())
        self.begun_and_stopped(signal.SIGKILL, profile=own)
        own.unlink()  # the record holds the profile
        self.gone_on_with()


if __name__ == "__main__":
    unittest.main()
