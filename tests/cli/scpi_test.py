"""The real binary against a bench meter that obeys the standard and one that bends it (see scpi_device.py)."""
import json
import subprocess
import unittest

from harness import SOURCE, TOOL, EndToEnd, _end, wait_until
from scpi_device import Device


class Scpi(EndToEnd):
    def device(self, measure, **ways):
        device = Device(measure, **ways)
        self.addCleanup(device.close)
        return device

    def readings(self, device, *options, count=2, meter="scpi", **more):
        done = self.tool("read", "--meter", meter, "--port", device.port, "--count", count, "--json", *options, **more)
        return [json.loads(line) for line in done.stdout.splitlines()]

    def test_a_scpi_meter_is_set_to_ohms_before_its_first_number_is_believed(self):
        device = self.device(lambda function: 101.5 if function == "RES" else 7.0)
        self.assertEqual([(r["quantity"], r["value"]) for r in self.readings(device)], [("resistance", 101.5)] * 2)
        self.assertNotIn("READ?", device.heard)

    def test_the_tool_selects_each_function_of_a_scpi_meter(self):
        values = {"RES": 101.5, "FRES": 0.25, "VOLT:AC": 230.0, "VOLT:DC": -1.5}
        for name, function in (("resistance", "RES"), ("resistance-4-wire", "FRES"), ("voltage-ac", "VOLT:AC"),
                               ("voltage-dc", "VOLT:DC")):
            with self.subTest(name):
                device = self.device(values.get)
                reading = self.readings(device, "--quantity", name)[-1]
                self.assertEqual((reading["quantity"], reading["value"]), (name, values[function]))
                self.assertEqual(device.complaints(), [])

    def test_a_scpi_meter_without_measure_is_configured_and_read(self):
        device = self.device(lambda function: 47.0, knows_measure=False, knows_read=True)
        definition = self.dir / "scpi-quick.toml"   # the same with a shorter time-out, to keep the test short
        definition.write_text((SOURCE / "meters/scpi.toml").read_text().replace("timeout_s = 15.0", "timeout_s = 0.5"))
        self.assertEqual(self.readings(device, meter=definition)[-1]["value"], 47.0)
        self.assertIn("CONF:RES", device.heard)
        self.assertEqual(device.heard.count("MEAS:RES?"), 1)

    def test_never_is_a_second_header_put_behind_a_semicolon(self):
        device = self.device(lambda function: 1.0)
        self.readings(device)
        self.assertFalse([line for line in device.heard if ";" in line])

    def test_over_range_not_a_number_words_and_units_of_scpi_meters_are_told_apart(self):
        #        what it answers      over_range  not_a_number  value
        rows = [("+9.90000000E+37", True, None, None),
                ("9.8999998E37", True, None, None),       # what a float32 meter prints for the same
                ("-9.9E37", True, None, None),
                ("9.91E37", False, True, None),
                ("OVLOAD", True, None, None),
                ("+1.25E+02", False, None, 125.0),
                ("125", False, None, 125.0),
                ("125.0", False, None, 125.0),
                ("0.125 kohm", False, None, 125.0),
                ("+1.25000E+02 OHM", False, None, 125.0)]
        for answer, over_range, not_a_number, value in rows:
            with self.subTest(answer):
                reading = self.readings(self.device(lambda function: answer), count=1)[0]
                self.assertEqual((reading["over_range"], reading.get("not_a_number"), reading.get("value")),
                                 (over_range, not_a_number, value))

    def test_echo_and_prompt_of_a_scpi_meter_are_no_readings(self):
        for ways in (dict(echo=True), dict(prompt="3>"), dict(echo=True, prompt="=> ")):
            with self.subTest(ways):
                device = self.device(lambda function: 12.5, **ways)
                self.assertEqual([r["value"] for r in self.readings(device, count=3)], [12.5] * 3)

    def test_a_reading_that_takes_seconds_is_waited_for(self):
        device = self.device(lambda function: 3.25, slow_s=3.0)
        self.assertEqual(self.readings(device, count=1)[0]["value"], 3.25)
        self.assertEqual(device.heard.count("MEAS:RES?"), 1)

    def test_empty_answers_are_no_readings_and_do_not_end_the_work(self):
        device = self.device(lambda function: 5.0)
        device.mute = 2
        definition = self.dir / "scpi-quick.toml"
        definition.write_text((SOURCE / "meters/scpi.toml").read_text().replace("timeout_s = 15.0", "timeout_s = 0.3"))
        self.assertEqual([r["value"] for r in self.readings(device, meter=definition)], [5.0, 5.0])

    def test_a_fixed_range_is_set_and_its_over_range_says_what_it_exceeds(self):
        text = (SOURCE / "meters/scpi.toml").read_text()
        definition = self.dir / "scpi-fixed.toml"
        definition.write_text(text.replace('request = "MEAS:RES?"\nsend = ["CONF:RES"]',
                                           'range = 1000.0\nrequest = "MEAS:RES? {range}"\nsend = ["CONF:RES {range}"]'))
        device = self.device(lambda function: 14400.0)
        reading = self.readings(device, count=1, meter=definition)[0]
        self.assertEqual((reading["over_range"], reading["beyond"]), (True, 1000.0))
        self.assertIn("MEAS:RES? 1000", device.heard)

    def test_a_scpi_meter_is_put_back_into_local_at_the_end(self):
        device = self.device(lambda function: 1.0)
        self.readings(device)
        self.assertTrue(wait_until(lambda: device.heard[-1] == "SYST:LOC"), device.heard)
        self.assertEqual(device.heard[0], "SYST:REM")

    def test_a_scpi_meter_that_hangs_up_is_found_again_and_set_again(self):
        device = self.device(lambda function: 8.0 if function == "RES" else 1.0)
        process = subprocess.Popen([TOOL, "read", "--meter", "scpi", "--port", device.port, "--json"], env=self.env, text=True,
                                   stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        process.stdout.readline()
        device.function = "VOLT:DC"
        device.hang_up()
        self.assertTrue(wait_until(lambda: device.clients == 2))
        values = [json.loads(process.stdout.readline())["value"] for _ in range(4)]
        self.assertEqual(set(values), {8.0})

    def test_find_with_ask_names_the_scpi_meter_and_a_command_to_paste(self):
        device = self.device(lambda function: 101.5)
        done = self.tool("meters", "find", "--port", device.port, "--ask", "--listen", "0.2", "--json")
        found = [json.loads(line) for line in done.stdout.splitlines()]
        self.assertEqual((found[0]["type"], found[0]["meter"], found[0]["identity"]),
                         ("candidate", "scpi", "Invented,bench meter,4711,1.0"))
        self.assertEqual(found[0]["command"], f"switchwright read --meter scpi --port {device.port}")

    def test_find_without_ask_writes_nothing(self):
        device = self.device(lambda function: 101.5)
        self.tool("meters", "find", "--port", device.port, "--listen", "0.2", code=4)
        self.assertEqual(device.heard, [])
        done = self.tool("meters", "find", "--ask", code=2)
        self.assertIn("--port", done.stderr)


if __name__ == "__main__":
    unittest.main()
