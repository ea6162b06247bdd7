"""The serial number that a bench meter gives in *IDN? against the calibration ledger."""
import json
import unittest

from fixture import MAP, FixtureBench

VALID = ("--calibrated", "2026-01-15", "--due", "2999-01-15")


class OwnSerial(FixtureBench):
    def own(self, name, serial, *options):
        self.tool("meters", "own", "add", name, "--meter", "scpi", "--serial", serial, *options)

    def qualified(self, *options, identity="Invented,bench meter,4711,1.0", code=0):
        fixture, device = self.one_link()
        device.identity = identity
        events = self.run_fixture(fixture, device, MAP.format(port=""), *options, code=code)
        record = json.loads(self.tool("report", events[-1]["record"], "--format", "json").stdout)
        text = " ".join(self.tool("report", events[-1]["record"]).stdout.split())
        return events[-1].get("remarks", []), record["header"]["meter"], text

    def test_the_serial_number_that_the_meter_says_finds_its_ledger_entry(self):
        self.own("bench-3", "4711", *VALID, "--certificate", "K-3", "--correction", "resistance 0..100 +0.01 U 0.01")
        self.own("bench-4", "4712", *VALID)
        remarks, meter, text = self.qualified()
        self.assertEqual((meter["serial"], meter["calibrated"]), ("4711", "2026-01-15, certificate K-3, due 2999-01-15"))
        self.assertTrue([r for r in remarks if "certificate K-3" in r], remarks)
        self.assertFalse([r for r in remarks if "nother meter" in r], remarks)
        self.assertIn("bench-3", self.said)

    def test_a_meter_that_is_not_the_one_named_is_a_visible_line_and_gets_no_certificate_of_another(self):
        self.own("bench-3", "4711", *VALID, "--certificate", "K-3", "--correction", "resistance 0..100 +0.01 U 0.01")
        self.own("bench-4", "9999", *VALID, "--certificate", "K-4")
        remarks, meter, text = self.qualified("--own", "bench-3", identity="Invented,bench meter,9999,1.0")
        told = [r for r in remarks if "Another meter" in r]
        self.assertTrue(told and "9999" in told[0] and "4711" in told[0] and "--own bench-4" in told[0], remarks)
        self.assertIn("Another meter", text)
        self.assertEqual(meter["serial"], "9999")
        self.assertNotIn("K-3", json.dumps(meter))
        self.assertTrue([r for r in remarks if "Calibration unknown" in r], remarks)

    def test_a_meter_that_says_the_serial_number_of_the_one_named_is_not_remarked(self):
        self.own("bench-3", "a 4711", *VALID, "--certificate", "K-3")
        remarks, meter, _ = self.qualified("--own", "bench-3", identity='Invented,"bench meter","00A4711",1.0')
        self.assertFalse([r for r in remarks if "nother meter" in r], remarks)
        self.assertIn("K-3", meter["calibrated"])

    def test_a_meter_that_does_not_say_its_serial_number_is_taken_at_the_person_s_word(self):
        self.own("bench-3", "4711", *VALID, "--certificate", "K-3")
        remarks, meter, _ = self.qualified("--own", "bench-3", identity="Invented,bench meter,0,1.0")
        self.assertFalse([r for r in remarks if "nother meter" in r], remarks)
        self.assertEqual(meter["serial"], "4711")


if __name__ == "__main__":
    unittest.main()
