"""Leads, zeros, closings, and parts that are not dead: none of these may pass, and good ones must."""
import unittest

from harness import SOURCE, EndToEnd


class Ohms(EndToEnd):
    def exit_code(self, *simulated, meter="lcd-segment-14", profile="regulator-shunt-240", faults=()):
        options = list(simulated)
        for fault in faults:
            options += ["--fault", fault]
        if meter == "scpi":   # the shipped one, asked as fast as it answers
            meter = self.dir / "scpi.toml"
            meter.write_text((SOURCE / "meters/scpi.toml").read_text().replace("every_s = 0.2", "every_s = 0.005"))
        ready = self.simulator(*options, meter=meter, profile=profile)
        events = self.qualify(ready, "--inspected", "yes", meter=meter, profile=profile, code=None)
        verdict = [event for event in events if event["type"] == "verdict"]
        self.said = str(verdict[-1:]) + str([event for event in events if event["type"] == "stopped"])
        return {"pass": 0, "fail": 1, "undecided": 3}[verdict[-1]["verdict"]] if verdict else 4

    def test_good_parts_pass(self):
        for meter in ("lcd-segment-14", "scpi"):
            with self.subTest(meter):
                self.assertEqual(self.exit_code(meter=meter), 0, self.said)

    def test_bad_leads_never_pass(self):
        for what, options in {
                "badly held tips hide a bad contact": ("--shorted", "2.9", "--fault", "resistive:line=2.9"),
                "long leads": ("--leads", "1.2"),
                "a zero below zero": ("--offset=-3", ),
                "a zero below zero hides a bad contact": ("--offset=-3", "--fault", "resistive:line=3.0"),
        }.items():
            for meter in ("lcd-segment-14", "scpi"):
                with self.subTest(what, meter=meter):
                    # A fine meter may be sure of the bad contact all the same.
                    self.assertIn(self.exit_code(*options, meter=meter), (1, 3) if "--fault" in options else (3,), self.said)

    def test_a_contact_that_closes_unevenly_never_passes(self):
        for what, closing in {"the last is bad": "cycling=0.01,0.01,3.5", "the first is bad": "line=3.5,0.01,0.01",
                              "one in three is doubtful": "cycling=0.01,0.01,1.2"}.items():
            for meter in ("lcd-segment-14", "scpi"):
                with self.subTest(what, meter=meter):
                    self.assertIn(self.exit_code("--closing", closing, meter=meter), (1, 3), self.said)

    def test_a_part_that_is_not_dead_never_passes(self):
        for what, profile, volts in [("a coil's own supply", "contactor-two-pole", "A1-A2=24ac"),
                                     ("a coil's own DC supply", "contactor-two-pole", "A1-A2=24dc"),
                                     ("DC to the housing", "regulator-shunt-240", "P-CASE=12dc"),
                                     ("AC between two others", "regulator-shunt-240", "H1-P=48ac"),
                                     ("millivolts that make ohms negative", "regulator-shunt-240", "H1-L1=-0.05dc"),
                                     ("and the other way round", "regulator-shunt-240", "H1-L1=0.05dc")]:
            with self.subTest(what):
                self.assertNotEqual(self.exit_code("--volts", volts, profile=profile), 0, self.said)


if __name__ == "__main__":
    unittest.main()
