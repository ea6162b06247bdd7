"""A meter that cannot be set to what was asked for, and goes on giving numbers: none of them may be taken for it.

The device (tests/cli/scpi_device.py) stands on DC volts and shows a tenth of a millivolt; on AC volts it would show what is
really on the part.
"""
import itertools
import json
import time
import unittest

from fixture import MAP, Fixture, FixtureBench
from harness import SOURCE, EndToEnd
from scpi_device import Deviant

SHIPPED = (SOURCE / "meters/scpi.toml").read_text()
QUICK = SHIPPED.replace("timeout_s = 15.0", "timeout_s = 1.0")
LIVE = {"VOLT:DC": 1e-4, "VOLT:AC": 239.6, "RES": 101.5, "FRES": 101.5}.get


class FunctionAskedFor(EndToEnd):
    def read(self, device, *options, text=SHIPPED, quantity="voltage-ac", count=2, code=4):
        definition = self.dir / "scpi.toml"
        definition.write_text(text)
        self.addCleanup(device.close)
        since = time.monotonic()
        done = self.tool("read", "--meter", definition, "--port", device.port, "--quantity", quantity, "--count", count, "--json",
                         *options, code=code)
        done.took_s = time.monotonic() - since
        done.values = [json.loads(line).get("value") for line in done.stdout.splitlines()]
        return done

    def test_no_reading_of_a_refused_function_is_taken_whatever_way_it_is_refused(self):
        ways = ("error", "hardware", "silent", "pretends")
        for how, reads, says in itertools.product(ways, (True, False), (True, False)):
            if how == "pretends" and not says:
                continue  # nothing tells such a meter from a good one
            with self.subTest(how=how, knows_read=reads, says_function=says):
                device = Deviant(LIVE, knows_read=reads, says_function=says, refuses={"VOLT:AC": how})
                # A refusal in the error queue is seen at once; without a word it takes the time-out of a reading.
                in_the_queue = how in ("error", "hardware")
                text = SHIPPED if in_the_queue else QUICK.replace("silent_after_s = 5.0", "silent_after_s = 1.0")
                done = self.read(device, text=text)
                self.assertEqual(done.values, [])
                self.assertLess(done.took_s, 9 if in_the_queue else 20)
                if in_the_queue or (reads and says):
                    self.assertIn("the meter cannot be set to AC volts", done.stderr)

    def test_a_meter_that_knows_only_read_and_does_not_say_what_it_measures_is_not_believed(self):
        for ways in (dict(), dict(ignores=["CONF:VOLT:AC"])):
            with self.subTest(ways):
                device = Deviant(LIVE, knows_measure=False, knows_read=True, says_function=False, **ways)
                done = self.read(device, text=QUICK)
                self.assertEqual(done.values, [])
                self.assertIn("the meter cannot be set to AC volts: it answers neither FUNC? nor CONF?", done.stderr)

    def test_the_function_is_recognised_in_every_dress_and_a_near_name_is_another_function(self):
        dresses = [('"VOLT:AC"', True), ("volt:ac", True), ("'VOLTage:AC'", True), ('"VOLT:AC +1.0E+01,+1.0E-05"', True),
                   ('"VOLT:AC","FREQ"', True), ("SENS:VOLT:AC", True),
                   ('"VOLT"', False), ('"VOLT:DC"', False), ('"VOLT:ACDC"', False), ('"CURR:AC"', False), ('"RES"', False)]
        for answer, right in dresses:
            with self.subTest(answer):
                device = Deviant(LIVE, knows_read=True, knows_measure=False, says_function=lambda function: answer)
                done = self.read(device, text=QUICK, code=0 if right else 4)
                self.assertEqual(done.values, [239.6] * 2 if right else [])

    def test_the_definition_may_name_the_function_in_the_meters_own_word(self):
        own = QUICK.replace('send = ["CONF:VOLT:AC"]', 'send = ["CONF:VOLT:AC"]\nis = ["ACV"]')
        device = Deviant(LIVE, knows_read=True, knows_measure=False, says_function=lambda function: "ACV" if function == "VOLT:AC" else "DCV")
        self.assertEqual(self.read(device, text=own, code=0).values, [239.6] * 2)

    def test_readings_from_after_somebody_turned_the_meter_are_not_taken(self):
        for ways in (dict(), dict(knows_measure=False, knows_read=True)):
            with self.subTest(ways):
                device = Deviant(LIVE, **ways)
                readings = itertools.count()

                def dial():
                    if next(readings) in (1, 3):
                        device.function = "VOLT:DC"

                device.dial_turns = dial
                done = self.read(device, count=4, code=0)
                self.assertEqual(done.values, [239.6] * 4)

    def test_the_number_of_a_second_display_is_no_reading(self):
        device = Deviant(lambda function: "239.6,60.0", knows_read=True)
        self.assertEqual(self.read(device, code=0).values, [239.6] * 2)

    def test_over_range_and_not_a_number_keep_their_meaning(self):
        for answer, over in (("9.9E37", True), ("-9.9E37", True), ("9.91E37", False)):
            with self.subTest(answer):
                done = self.read(Deviant(lambda function: answer), count=1, code=0)
                self.assertEqual(json.loads(done.stdout)["over_range"], over)

    def test_a_word_that_is_not_in_the_definition_is_shown_as_it_came(self):
        device = Deviant(lambda function: "SCALE!")
        done = self.read(device, text=QUICK.replace("silent_after_s = 5.0", "silent_after_s = 0.5"))
        self.assertIn('"SCALE!"', done.stderr)


class QualifiedThroughAFixture(FixtureBench):
    """The same with a part that is live: the dead test must not be passed with DC readings."""

    def live_fixture(self, **ways):
        fixture = Fixture()
        still = fixture.measure

        def measure(function):
            relays = fixture.relays()
            if function == "VOLT:AC" and relays and relays not in ({199, 299}, {198, 298}):
                return 239.6
            if function == "VOLT:DC" and relays not in ({199, 299},):
                return 1e-4
            return still(function)

        device = Deviant(measure, **ways)
        self.addCleanup(device.close)
        fixture.relays = lambda: set(device.closed)
        return fixture, device

    def test_a_live_part_is_not_called_dead_by_a_meter_that_refuses_ac_volts(self):
        for how in ("error", "silent"):
            with self.subTest(how):
                fixture, device = self.live_fixture(knows_read=True, refuses={"VOLT:AC": how})
                events = self.run_fixture(fixture, device, MAP.format(port=""), patience="20s", code=4)
                self.assertFalse([e for e in events if e["type"] == "kept"])
                self.assertEqual(events[-1]["type"], "stopped")
                self.assertIn("the meter cannot be set to AC volts", events[-1]["text"])

    def test_an_error_of_a_measurement_is_not_blamed_on_the_scanner(self):
        fixture, device = self.one_link(kind=Deviant)
        still = device.measure

        def measure(function):
            device.errors.append('-231,"Data questionable"')
            return still(function)

        device.measure = measure
        events = self.run_fixture(fixture, device, MAP.format(port=""))
        self.assertEqual(events[-1]["verdict"], "pass")

    def understands_a_scanner_behind(self, prompt):
        fixture, device = self.one_link(kind=Deviant, prompt=prompt)
        self.assertEqual(self.run_fixture(fixture, device, MAP.format(port=""))[-1]["verdict"], "pass")

    def test_an_arrow_as_prompt_does_not_keep_a_scanner_from_being_understood(self):
        self.understands_a_scanner_behind("=> ")

    def test_a_word_as_prompt_does_not_keep_a_scanner_from_being_understood(self):
        self.understands_a_scanner_behind("SCPI> ")

    def test_a_digit_in_the_prompt_does_not_keep_a_scanner_from_being_understood(self):
        self.understands_a_scanner_behind("3>")

    def test_ac_volts_that_sway_as_mains_does_settle_on_a_fine_display(self):
        fixture, device = self.one_link(kind=Deviant)
        still, step = device.measure, itertools.count()

        def measure(function):
            value = still(function)
            sway = (next(step) % 5 - 2) * 1e-3   # of a known source by 0.2 %, of nothing by 2 mV
            return value if not function.startswith("VOLT") else value * (1 + sway) + sway

        device.measure = measure
        self.assertEqual(self.run_fixture(fixture, device, MAP.format(port=""))[-1]["verdict"], "pass")

    def test_over_range_on_the_known_source_proves_no_meter(self):
        fixture, device = self.one_link(kind=Deviant)
        still = device.measure
        device.measure = lambda function: None if function.startswith("VOLT") and device.closed == {199, 299} else still(function)
        events = self.run_fixture(fixture, device, MAP.format(port=""), code=4)
        self.assertIn("not proven", events[-1]["text"])

    def test_no_reading_at_all_is_said_only_when_none_came(self):
        fixture, device = self.one_link(kind=Deviant)
        jumps = itertools.count()
        still = device.measure
        device.measure = lambda function: 24.0 + 6.0 * (next(jumps) % 3) if function.startswith("VOLT") else still(function)
        events = self.run_fixture(fixture, device, MAP.format(port=""), code=4)
        self.assertNotIn("No reading came at all", events[-1]["text"])
        self.assertIn("did not agree", events[-1]["text"])


if __name__ == "__main__":
    unittest.main()
