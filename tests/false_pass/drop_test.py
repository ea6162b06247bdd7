"""Millivolt drops that are none, through the real binary, the simulator and its hands, who switch the current."""
import json
import unittest

from harness import EndToEnd


class DropOfTheCurrent(EndToEnd):
    def drop(self, bench, *options, meter="scpi", code):
        ready = self.simulator(*bench, meter=meter)
        done = self.tool("drop", "--profile", "regulator-shunt-240", "--meter", meter, "--port", ready["port"], "--hands",
                         "sim:" + ready["hands"], "--acknowledge", "de-energised", "--settle", "0.05s", "--json",
                         *(() if "--current" in options else ("--current", "1A@1%")), *options, code=code)
        events = [json.loads(line) for line in done.stdout.splitlines()]
        return {e["drop"]["contact"]: e["drop"] for e in events if "drop" in e}, events[-1] if events else done

    def test_only_a_drop_that_the_current_makes_is_one(self):
        thermal = ("--thermal", "20")
        #       the bench                                        how     each contact's state  exit
        rows = [((), (), "seen", 0),
                (thermal, (), "seen", 0),
                (("--thermal", "-300"), ("--reversed",), "seen", 0),
                (("--current-dead",), (), "no-current", 3),
                (("--current-dead", *thermal), (), "no-current", 3),
                (("--current-dead", *thermal, "--thermal-drift", "30"), (), "no-current", 3),
                (("--current-dead", *thermal, "--current-display", "set"), ("--reversed",), "no-current", 3),
                (("--current-share", "0.3", "--current-display", "none"), (), "no-current", 3),
                (("--current-share", "50"), (), "other-current", 3),
                (("--current-share", "0"), (), "no-current", 3),
                (("--current-display", "none"), (), "current-not-read", 3),
                (("--current-display", "set"), (), "shows-setting", 3),
                (("--current-share", "30", "--current-display", "none"), (), "current-not-read", 3),
                (("--current-share", "30", "--current-display", "set"), (), "shows-setting", 3),
                (("--current-share", "30", "--current-display", "set"), ("--reversed",), "shows-setting", 3)]
        def check(bench, options, state, code):
            drops, verdict = self.drop(bench, *options, code=code)
            self.assertEqual({d["state"] for d in drops.values()}, {state})
            self.assertEqual(len(drops), 3)
            if code == 3:
                self.assertEqual({d["outcome"] for d in drops.values()}, {"undecided"})
                self.assertEqual(verdict["verdict"], "undecided")

        self.at_once(rows, check)

    def test_a_contact_that_is_not_sound_is_not_hidden_by_a_current_that_is_less_than_stated(self):
        for share in ("20", "30", "45", "90", "97"):
            for display in ("given", "set", "none"):
                with self.subTest(share=share, display=display):
                    drops, verdict = self.drop(("--fault", "resistive:line=0.06", "--current-share", share, "--current-display", display),
                                               code=3)
                    self.assertNotIn("pass", {d["outcome"] for d in drops.values()})

    def test_the_thermal_voltage_and_the_meters_zero_are_not_in_the_result(self):
        drops, _ = self.drop(("--thermal", "1500"), code=0)
        for drop in drops.values():  # the simulated sound contact has 12 mohm
            self.assertAlmostEqual(drop["ohm"], 0.012, delta=drop["U_ohm"])
            self.assertAlmostEqual(drop["zero_v"], 0.0015, delta=1e-4)

    def test_a_current_that_is_never_off_is_noticed_at_the_zero_of_the_second_contact(self):
        drops, verdict = self.drop(("--current-stuck-on",), code=3)
        self.assertIn("not-zero", {d["state"] for d in drops.values()})
        self.assertEqual(verdict["verdict"], "undecided")

    def test_the_voltage_of_the_supply_over_an_open_contact_is_open_and_fails(self):
        for volt in ("12", "4"):
            with self.subTest(volt):
                drops, verdict = self.drop(("--fault", "stuck-open:cycling", "--current-open", volt), code=1)
                self.assertEqual((drops["cycling"]["state"], drops["cycling"]["outcome"]), ("open", "fail"))
                self.assertNotIn("do not refit", drops["cycling"]["text"])
                kinds = {d["kind"] for d in verdict["deviations"] if set(d["pair"]) == {"L2", "H2"}}
                self.assertEqual(kinds, {"stays-open"})

    def test_a_contact_that_is_not_sound_fails_also_while_a_thermal_voltage_hides_some_of_it(self):
        drops, _ = self.drop(("--fault", "resistive:cycling=0.25", "--thermal", "-1500"), code=1)
        self.assertEqual((drops["cycling"]["state"], drops["cycling"]["outcome"]), ("seen", "fail"))
        self.assertEqual(drops["line"]["outcome"], "pass")

    def test_contacts_that_are_closed_elsewhere_are_not_passed_with_those_that_were_measured(self):
        ready = self.simulator("--fault", "resistive:work-1=1.5", profile="relay-changeover", meter="scpi")
        done = self.tool("drop", "--profile", "relay-changeover", "--meter", "scpi", "--port", ready["port"], "--hands", "sim:" + ready["hands"],
                         "--acknowledge", "de-energised", "--settle", "0.05s", "--current", "1A@1%", "--json", code=3)
        events = [json.loads(line) for line in done.stdout.splitlines()]
        self.assertEqual({e["drop"]["contact"]: e["drop"]["outcome"] for e in events if "drop" in e}, {"rest-1": "pass", "rest-2": "pass"})
        soundness = events[-1]["scope"]["soundness"]
        self.assertIn("not measured: work-1 and work-2", soundness["reason"])
        self.assertIn("--position", soundness["how"])

    def test_a_current_beyond_the_rating_is_refused(self):
        self.assertIn("rating of 15 A", self.drop((), "--current", "16A", code=2)[1].stderr)


if __name__ == "__main__":
    unittest.main()
