"""Leads, zeros, closings, and parts that are not dead: none of these may pass, and good ones must."""
import itertools
import json
import unittest

from harness import OPEN, SOURCE, EndToEnd, ScriptedHands, ScriptedMeter, lcd_frame

LINK = """schema = 1
title = "thermal link"
values = "invented"
[rating]
voltage_v = 240
current_a = 10
[terminals]
names = ["A", "B"]
[[position]]
id = "cold"
[[contact]]
id = "link"
between = ["A", "B"]
closed_at = ["cold"]
[limits]
closed_max_ohm = 2
sound_max_ohm = 0.1
open_min_ohm = 1e6
"""


class Ohms(EndToEnd):
    def exit_code(self, *simulated, meter="lcd-segment-14", profile="regulator-shunt-240", faults=()):
        options = list(simulated)
        for fault in faults:
            options += ["--fault", fault]
        if meter == "scpi":   # the shipped one, asked as fast as it answers
            meter = self.dir / f"scpi-{next(self.made)}.toml"
            meter.write_text((SOURCE / "meters/scpi.toml").read_text().replace("every_s = 0.2", "every_s = 0.005"))
        ready = self.simulator(*options, meter=meter, profile=profile)
        events = self.qualify(ready, "--inspected", "yes", meter=meter, profile=profile, code=None)
        verdict = [event for event in events if event["type"] == "verdict"]
        return {"pass": 0, "fail": 1, "undecided": 3}[verdict[-1]["verdict"]] if verdict else 4

    made = itertools.count()

    def never(self, rows):
        """None of these passes. Each row: what it is, the meter, the profile, the simulator's options, and the exit codes."""
        def check(what, meter, profile, options, codes):
            self.assertIn(self.exit_code(*options, meter=meter, profile=profile), codes, what)
        self.at_once(rows, check)

    def test_good_parts_pass(self):
        self.at_once([("lcd-segment-14",), ("scpi",)], lambda meter: self.assertEqual(self.exit_code(meter=meter), 0))

    def test_bad_leads_never_pass(self):
        # A fine meter may be sure of the bad contact all the same.
        rows = [("badly held tips hide a bad contact", ("--shorted", "2.9", "--fault", "resistive:line=2.9"), (1, 3)),
                ("long leads", ("--leads", "1.2"), (3,)),
                ("a zero below zero", ("--offset=-3",), (3,)),
                ("a zero below zero hides a bad contact", ("--offset=-3", "--fault", "resistive:line=3.0"), (1, 3))]
        self.never([(what, meter, "regulator-shunt-240", options, codes) for what, options, codes in rows
                    for meter in ("lcd-segment-14", "scpi")])

    def test_a_contact_that_closes_unevenly_never_passes(self):
        rows = [("the last is bad", "cycling=0.01,0.01,3.5"), ("the first is bad", "line=3.5,0.01,0.01"),
                ("one in three is doubtful", "cycling=0.01,0.01,1.2")]
        self.never([(what, meter, "regulator-shunt-240", ("--closing", closing), (1, 3)) for what, closing in rows
                    for meter in ("lcd-segment-14", "scpi")])

    def test_a_part_that_is_not_dead_never_passes(self):
        rows = [("a coil's own supply", "contactor-two-pole", "A1-A2=24ac"),
                ("a coil's own DC supply", "contactor-two-pole", "A1-A2=24dc"),
                ("DC to the housing", "regulator-shunt-240", "P-CASE=12dc"),
                ("AC between two others", "regulator-shunt-240", "H1-P=48ac"),
                ("millivolts that make ohms negative", "regulator-shunt-240", "H1-L1=-0.05dc"),
                ("and the other way round", "regulator-shunt-240", "H1-L1=0.05dc")]
        self.never([(what, "lcd-segment-14", profile, ("--volts", volts), (1, 3, 4)) for what, profile, volts in rows])

    def test_a_part_that_never_opens_does_not_pass_on_a_still_display_or_on_tips_that_touch(self):
        profile = self.dir / "link.toml"
        profile.write_text(LINK)

        def bench(apart):
            """Hands, and a meter that shows volts where they are, 0.1 ohm on the part, and `apart` with the tips off it."""
            folder = self.dir / f"bench{next(self.made)}"
            folder.mkdir()
            hands = ScriptedHands(folder)

            def speak():
                now = hands.now
                if "voltage" in now.get("dial", ""):
                    direct = now["dial"] == "voltage-dc"
                    volts = "0240" if now.get("probes") == "known-source" else "0000"
                    return lcd_frame(volts, point=4, unit="V", ac=not direct, dc=direct)
                return lcd_frame("0001", point=4) if now.get("probes") in ("shorted", "pair") else lcd_frame(**apart)
            meter = ScriptedMeter(speak)
            self.addCleanup(meter.close)
            self.addCleanup(hands.close)
            return {"port": meter.port, "hands": hands.path}

        still, skin = dict(digits="0001", point=4), dict(digits="0500", point=4, prefix="k")
        #        with the tips apart, plan       exit code
        rows = [(OPEN,                "full",    0),
                (skin,                "full",    0),
                (still,               "full",    3),
                (still,               "short",   3),
                (still,               "adaptive", 3)]

        def check(apart, plan, code):
            events = self.qualify(bench(apart), "--plan", plan, profile=profile, code=code)
            self.assertIn("leads-apart", [e["kind"] for e in events if e["type"] == "step"])
            if code:
                self.assertIn("tips did not touch", json.dumps(events[-1]["scope"]["continuity"]))
        self.at_once(rows, check)

        learned = self.tool("profiles", "learn", "--meter", "lcd-segment-14", *self.at(bench(still)), "--terminals", "A,B", "--positions",
                            "cold", "-o", self.dir / "learned.toml", "--acknowledge", "de-energised", code=None)
        self.assertNotEqual(learned.returncode, 0)
        self.assertFalse((self.dir / "learned.toml").exists())

    def at(self, ready):
        return ["--port", ready["port"], "--hands", f"sim:{ready['hands']}"]


if __name__ == "__main__":
    unittest.main()
