"""The millivolt drop under a known current, through the real binary. The meter and its hands are scripted: what the meter
shows is worked out here from U = I R."""
import json
import unittest

from harness import EndToEnd, ScriptedHands, ScriptedMeter, lcd_frame

OHM = {("L1", "H1"): 0.020, ("L1", "P"): 0.030, ("L2", "H2"): 0.010}  # invented


class DropTest(EndToEnd):
    def bench(self, ohm, amps=1.0, thermal_v=0.0):
        hands = ScriptedHands(self.dir)

        def speak():
            pair = tuple(hands.now.get("pair", ("L1", "H1")))
            volt = ohm.get(pair, 0.0) * amps + thermal_v
            millivolt = round(volt * 1e4)  # one digit is 0.1 mV
            return lcd_frame("%4d" % abs(millivolt), point=4, unit="V", prefix="m", dc=True, minus=millivolt < 0)

        meter = ScriptedMeter(speak)
        self.addCleanup(meter.close)
        self.addCleanup(hands.close)
        return meter, hands

    def drop(self, meter, hands, *options, code):
        done = self.tool("drop", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", meter.port,
                         "--hands", "sim:" + hands.path, "--acknowledge", "de-energised", "--settle", "0.1s", "--json",
                         *options, code=code)
        return [json.loads(line) for line in done.stdout.splitlines()]

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

    def test_too_little_current_is_undecided(self):
        lines = self.drop(*self.bench(OHM, amps=0.002), "--current", "0.002A@1%", code=3)
        self.assertIn("More current", lines[0]["text"])

    def test_a_wrong_dial_is_said_and_wrong_options_are_refused(self):
        meter, hands = self.bench(OHM)
        self.tool("drop", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", meter.port, "--hands",
                  "sim:" + hands.path, "--current", "1A", "--json", code=2)  # not acknowledged
        for wrong in (["--current", "x"], ["--current", "20A"], ["--current", "1A", "--position", "hihg"],
                      ["--current", "1A", "--position", "off"]):
            self.drop(meter, hands, *wrong, code=2)


if __name__ == "__main__":
    unittest.main()
