"""What people type: numbers with their units, words nearly right, days that cannot be; refused before any work begins."""
import subprocess
import unittest

from harness import TOOL, EndToEnd


class Numbers(EndToEnd):
    def refused(self, *arguments, says):
        done = self.tool(*arguments, code=2, timeout=20)
        self.assertEqual(done.stdout, "")
        for word in says if isinstance(says, tuple) else (says,):
            self.assertIn(word, done.stderr)
        self.assertFalse(self.store.exists(), "a record was begun")

    def test_numbers_take_their_unit_or_say_why_not(self):
        fit = ("fit", "--profile", "regulator-shunt-240")
        for supply in ("240", "240V", "240 V", "0.24kV", "240,0", "240.0 VAC"):
            with self.subTest(supply):
                done = self.tool(*fit, "--supply", supply, "--load", "1500W@240", code=0)
                self.assertIn("6.25 A", done.stdout)  # Ohm's law: 1500 W at 240 V
        for load in ("1500W@240", "1.5 kW @ 240 V", "1,5kW@240V", "38.4ohm", "6.25 A"):
            with self.subTest(load):
                self.assertIn("6.25 A", self.tool(*fit, "--supply", "240", "--load", load, code=0).stdout)
        for tab in ("0.250", "0.250in", "6.3mm", "6,3 mm"):  # nominal widths of one tab in both systems
            with self.subTest(tab):
                done = self.tool(*fit, "--supply", "240", "--load", "10A", "--wire", "14 AWG", "--tab", tab, code=None)
                self.assertNotIn("no push-on terminal", done.stdout)
                self.assertIn("15 A continuous", done.stdout)
        for option, value, says in [("--supply", "15A", ("--supply", "a unit of current")), ("--supply", "1,234", "thousands"),
                                    ("--supply", "-240", "more than 0 V"), ("--supply", "240x", "no unit of voltage"),
                                    ("--supply", "", "no number"), ("--load", "2800W", "the voltage that they are given at"),
                                    ("--load", "2800", "watts, amperes or ohms")]:
            with self.subTest(value):
                given = {"--supply": "240", "--load": "10A", option: value}
                self.refused(*fit, *(word for pair in given.items() for word in pair), says=says)
        self.refused(*fit, "--supply", "240", "--load", "10A", "--wire", "2.5mm2", "--tab", "0.250", says="cross-section")

    def test_negative_counts_hours_of_settling_and_days_that_cannot_be_are_refused_before_the_work(self):
        work = ("qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", "tcp:127.0.0.1:1",
                "--acknowledge", "de-energised")
        self.refused(*work, "--settle", "2h", says=("--settle", "at most"))
        self.refused(*work, "--settle", "-1s", says="--settle")
        self.refused(*work, "--patience", "5h", says="--patience")
        self.refused(*work, "--meter-calibrated", "2026-02-30", says="no day of the calendar")
        self.refused(*work, "--meter-calibrated", "2999-01-01", says="yet to come")
        self.refused("read", "--meter", "scpi", "--port", "tcp:127.0.0.1:1", "--count", "-5", says="must not be negative")
        self.refused("trace", "--profile", "regulator-shunt-240", "--position", "low", "--channel", "load=scpi@tcp:127.0.0.1:1",
                     "--cycles", "-3", says="must not be negative")
        self.refused("practice", "--seed", "-1", says="must not be negative")
        self.refused("simulate", "--profile", "regulator-shunt-240", "--meter", "scpi", "--supply", "240A", says="a unit of current")

    def test_near_names_are_offered_for_options_words_commands_and_quantities(self):
        for arguments, says in [(("qualify", "--profle", "x"), 'did you mean "--profile"?'),
                                (("fit", "--suply=240"), 'did you mean "--supply"?'),
                                (("qualify", "--rule", "gaurded"), 'did you mean "guarded"?'),
                                (("read", "--meter", "scpi", "--port", "x", "--quantity", "voltage-ca"), 'did you mean "voltage-ac"?'),
                                (("meters", "own", "ad"), 'did you mean "add"?'),
                                (("meters", "own", "add", "x", "--meter", "scpi", "--correction", "resistence 0..4 +0.1 U 0.1"),
                                 'did you mean "resistance"?'),
                                (("meters", "fnd"), 'did you mean "meters find"?'),
                                (("report", "latest", "--format", "htm"), 'did you mean "html"?')]:
            with self.subTest(" ".join(arguments)):
                self.refused(*arguments, says=says)

    def test_own_meters_are_quoted_checked_and_can_be_taken_out(self):
        add = ("meters", "own", "add", "bench 3", "--meter", "scpi", "--serial", "S1")
        self.refused(*add, "--calibrated", "2026-01-15", "--due", "2025-01-15", says="after the calibration")
        self.refused(*add, "--calibrated", "2026-02-30", says="no day of the calendar")
        self.assertEqual(self.tool("meters", "own", "--json").stdout, "")
        done = self.tool(*add, "--calibrated", "2026-01-15", "--due", "2027-01-15", "--correction", "resistance 0..400ohm +50mohm U 0,04")
        self.assertIn("--own 'bench 3'", done.stdout)
        self.assertIn("+0.05 ohm (U 0.04 ohm", done.stdout)
        self.refused("meters", "own", "remove", "bench 4", says="bench 3")
        self.assertIn("bench 3", self.tool("meters", "own", "remove", "bench 3").stdout)
        self.assertEqual(self.tool("meters", "own", "--json").stdout, "")


if __name__ == "__main__":
    unittest.main()
