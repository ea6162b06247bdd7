"""The real binary against bench meters that bend the standard, and against its harder corners (see scpi_device.py)."""
import itertools
import json
import subprocess
import threading
import time
import unittest

from harness import SOURCE, TOOL, EndToEnd, _end, wait_until
from scpi_device import Deviant

SHIPPED = (SOURCE / "meters/scpi.toml").read_text()
QUICK = SHIPPED.replace("timeout_s = 15.0", "timeout_s = 0.6")


class ScpiDeviants(EndToEnd):
    def device(self, measure=lambda function: 101.5 if function == "RES" else 7.0, **ways):
        device = Deviant(measure, **ways)
        self.addCleanup(device.close)
        return device

    def read(self, device, *options, count=2, text=SHIPPED, **more):
        definition = self.dir / "scpi.toml"
        definition.write_text(text)
        done = self.tool("read", "--meter", definition, "--port", device.port, "--count", count, "--json", *options, **more)
        done.readings = [json.loads(line) for line in done.stdout.splitlines()]
        return done

    def values(self, device, **more):
        return [r.get("value") for r in self.read(device, **more).readings]

    def test_every_line_end_of_answers_is_understood(self):
        for end in ("\n", "\r\n", "\r", "\n\r", " \r\n"):
            with self.subTest(repr(end)):
                since = time.monotonic()
                self.assertEqual(self.values(self.device(end=end), count=3), [101.5] * 3)
                self.assertLess(time.monotonic() - since, 5)

    def test_headers_are_understood_by_meters_that_are_strict_about_their_spelling(self):
        upper = lambda word: word == word.upper()
        short = lambda word: not any(len(part.strip("?*")) > 4 for part in word.split(":"))
        self.assertEqual(self.values(self.device(spelling=upper)), [101.5] * 2)
        self.assertEqual(self.values(self.device(spelling=short)), [101.5] * 2)

    def test_a_meter_that_knows_only_long_or_lower_case_headers_is_a_matter_of_the_definition(self):
        long_forms = SHIPPED.replace('"MEAS:RES?"', '"MEASURE:RESISTANCE?"').replace('"CONF:RES"', '"CONFIGURE:RESISTANCE"')
        only_long = lambda word: word.startswith("*") or all(len(part.strip("?")) > 4 for part in word.split(":"))
        self.assertEqual(self.values(self.device(spelling=only_long), text=long_forms), [101.5] * 2)
        lower = SHIPPED.replace('"MEAS:RES?"', '"meas:res?"')
        only_lower = lambda word: not word.upper().startswith("MEAS") or word == word.lower()
        self.assertEqual(self.values(self.device(spelling=only_lower), text=lower), [101.5] * 2)

    def test_answers_in_every_dress_give_the_number_and_no_other(self):
        #        what it answers           value   over_range not_a_number
        rows = [("+10000", 10000.0, False, None),
                ("+.00002", 0.00002, False, None),
                ("+2.73E+2", 273.0, False, None),
                ("1.2 OHM", 1.2, False, None),
                ("1.2E3,OHM", 1200.0, False, None),
                ('"1.2E3"', 1200.0, False, None),
                ('"1.2","OHM"', 1.2, False, None),
                ("1.2 MOHM", 1.2e6, False, None),
                ("9.9E37", None, True, None),
                ("9.91E37", None, False, True),
                ("OL", None, True, None),
                ('"OVLD"', None, True, None),
                ("OVLD OHM", None, True, None)]
        for answer, value, over_range, not_a_number in rows:
            with self.subTest(answer):
                r = self.read(self.device(lambda function: answer), count=1).readings[0]
                self.assertEqual((r.get("value"), r["over_range"], r.get("not_a_number"), r["quantity"]),
                                 (value, over_range, not_a_number, "resistance"))

    def test_a_reading_of_ten_seconds_is_waited_for_and_asked_once(self):
        device = self.device(slow_s=10.0)
        self.assertEqual(self.values(device, count=1), [101.5])
        self.assertEqual(device.heard.count("MEAS:RES?"), 1)

    def test_a_meter_that_ignores_measure_without_an_error_is_configured_and_asked_another_way(self):
        device = self.device(ignores=["MEAS"], knows_read=True)
        done = self.read(device, count=3, text=QUICK)
        self.assertEqual([r["value"] for r in done.readings], [101.5] * 3)
        self.assertEqual(device.heard.count("MEAS:RES?"), 1)
        self.assertIn("CONF:RES", device.heard)

    def test_the_other_way_of_asking_is_told_to_the_person(self):
        device = self.device(ignores=["MEAS"], knows_read=True)
        (self.dir / "scpi.toml").write_text(QUICK)
        process = subprocess.Popen([TOOL, "read", "--meter", self.dir / "scpi.toml", "--port", device.port, "--json", "--count", "2"],
                                   env=self.env, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        self.assertIn("READ? instead", process.communicate(timeout=20)[1])

    def test_a_meter_that_ignores_every_way_of_asking_is_silent_within_two_time_outs_and_a_bound(self):
        device = self.device(ignores=["MEAS", "READ"], knows_read=True)
        text = QUICK.replace("silent_after_s = 5.0", "silent_after_s = 0.5")
        since = time.monotonic()
        done = self.read(device, text=text, code=4)
        self.assertLess(time.monotonic() - since, 8)
        self.assertIn("no answer", done.stderr)
        self.assertLessEqual(len([line for line in device.heard if line in ("MEAS:RES?", "READ?")]), 3, device.heard)

    def test_a_meter_that_answered_before_is_not_asked_another_way_when_it_pauses(self):
        device = self.device(knows_read=True)
        (self.dir / "scpi.toml").write_text(QUICK)
        process = subprocess.Popen([TOOL, "read", "--meter", self.dir / "scpi.toml", "--port", device.port, "--json"],
                                   env=self.env, text=True, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        self.addCleanup(_end, process)
        process.stdout.readline()
        device.ignores = ["MEAS"]
        asked = len(device.heard)
        self.assertTrue(wait_until(lambda: device.heard[asked:].count("MEAS:RES?") >= 3, 20), device.heard[asked:])
        device.ignores = []
        self.assertEqual(json.loads(process.stdout.readline())["value"], 101.5)
        self.assertNotIn("READ?", device.heard)

    def test_errors_from_before_are_put_away_and_blamed_on_nobody(self):
        #     50 old entries, cleared by *CLS or not
        for keeps in (False, True):
            with self.subTest(keeps_errors=keeps):
                device = self.device(old_errors=50, keeps_errors=keeps)
                self.assertEqual(self.values(device), [101.5] * 2)
                self.assertEqual(device.complaints(), [])
                self.assertNotIn("READ?", device.heard)

    def test_an_error_queue_that_never_empties_costs_a_bound_and_no_reading(self):
        device = self.device(endless_errors=True)
        self.assertEqual(self.values(device), [101.5] * 2)
        self.assertLessEqual(device.heard.count("SYST:ERR?"), 120)

    def test_a_meter_without_name_or_error_queue_is_read_all_the_same(self):
        for ways in (dict(nameless=True), dict(no_queue=True), dict(nameless=True, no_queue=True),
                     dict(nameless=True, no_queue=True, says_function=False)):
            with self.subTest(ways):
                self.assertEqual(self.values(self.device(**ways), count=2), [101.5] * 2)

    def test_a_script_is_told_when_nobody_is_there_at_all(self):
        done = self.read(self.device(unplugged=True), code=4, text=QUICK.replace("silent_after_s = 5.0", "silent_after_s = 0.5"))
        self.assertIn("no answer", done.stderr)

    def test_a_meter_that_wants_remote_first_and_one_that_rejects_it_are_both_read(self):
        device = self.device(needs_remote=True)
        done = self.read(device)
        self.assertEqual([r["value"] for r in done.readings], [101.5] * 2)
        self.assertNotIn("-203", done.stderr)
        device = self.device()   # -113 to SYST:REM
        done = self.read(device)
        self.assertEqual([r["value"] for r in done.readings], [101.5] * 2)
        self.assertNotIn("-113", done.stderr)

    def test_a_line_that_loses_bytes_in_bursts_gives_some_readings_and_no_wrong_ones(self):
        # What is lost is the middle of an answer, so that what is left is no number; digits lost at a place where a number
        # remains cannot be noticed on a line without a checksum.
        burst = itertools.count()

        def lost(text):
            return text[:3] + "\x00" + text[9:] if next(burst) % 3 == 0 and "E+" in text else text

        device = self.device(lost=lost)
        done = self.read(device, count=5, text=QUICK)
        self.assertEqual([r["value"] for r in done.readings], [101.5] * 5)

    def test_two_programs_on_one_socket_meter_each_get_a_place_or_a_plain_sentence(self):
        device = self.device(clients_at_once=2)
        results = []

        def one():
            results.append(self.tool("read", "--meter", "scpi", "--port", device.port, "--count", "5", "--json"))

        pair = [threading.Thread(target=one) for _ in range(2)]
        [thread.start() for thread in pair]
        [thread.join() for thread in pair]
        for done in results:
            self.assertEqual([json.loads(line)["value"] for line in done.stdout.splitlines()], [101.5] * 5)
        device = self.device(clients_at_once=1)
        first = subprocess.Popen([TOOL, "read", "--meter", "scpi", "--port", device.port, "--json"], env=self.env,
                                 stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        self.addCleanup(_end, first)
        first.stdout.readline()
        done = self.tool("read", "--meter", "scpi", "--port", device.port, "--count", "1", "--for", "2s", code=4)
        self.assertIn("lost", done.stderr)
        self.assertEqual(device.most_clients, 1)

    def test_the_socket_is_closed_cleanly_so_that_the_next_program_gets_in_at_once(self):
        device = self.device(clients_at_once=1)
        for _ in range(3):
            self.assertEqual(self.values(device, count=1), [101.5])
            self.assertTrue(wait_until(lambda: device.now == 0))


if __name__ == "__main__":
    unittest.main()
