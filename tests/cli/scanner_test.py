"""A fixture with relays: the scanner places the probes, a person (here: this test) turns the knob."""
import json
import unittest

from fixture import MAP, FixtureBench
from scpi_device import Device


class Scanner(FixtureBench):
    def test_a_switching_meter_qualifies_a_switch_with_only_the_knob_turned_by_a_person(self):
        fixture, device = self.one_link()
        events = self.run_fixture(fixture, device, MAP.format(port=""))
        self.assertEqual(events[-1]["verdict"], "pass")
        self.assertEqual(events[-1]["not_measured"], [])
        self.assertTrue(all("Turn the knob" in text for text in self.turns), self.turns)
        self.assertLessEqual(len(self.turns), 6, self.turns)   # off once for the dead test, then each position once
        self.assertEqual(set(device.most_closed), {2})         # never more than one channel for each lead
        self.assertEqual(device.complaints(), [])
        self.assertIn("ROUT:OPEN:ALL", device.heard[-3:])       # relays open when the work is over
        record = json.loads(self.tool("report", events[-1]["record"], "--format", "json").stdout)
        self.assertIn('"scanner"', json.dumps(record))

    def test_a_welded_contact_is_found_through_a_scanner_on_a_port_of_its_own(self):
        fixture, scanner = self.one_link(welded=True)
        meter = Device(fixture.measure)
        self.addCleanup(meter.close)
        events = self.run_fixture(fixture, meter, MAP.format(port=f'port = "{scanner.port}"'), code=1)
        found = [d for d in events[-1]["deviations"] if d["position"] == "off" and set(d["pair"]) == {"L2", "H2"}]
        self.assertEqual([(d["kind"], d["severity"]) for d in found], [("stays-closed", "critical")])
        self.assertFalse([line for line in meter.heard if line.startswith("ROUT")])
        self.assertFalse([line for line in scanner.heard if line.startswith("MEAS")])

    def test_a_scanner_that_does_not_know_its_channels_ends_the_work_and_keeps_it(self):
        fixture, device = self.one_link()
        text = MAP.format(port="") + '[commands]\nclose = "ROUTINE:CLOSE (@{channels})"\n'
        events = self.run_fixture(fixture, device, text, code=4)
        self.assertEqual(events[-1]["type"], "stopped")
        self.assertIn("-113", events[-1]["text"])

    def test_a_channel_map_is_refused_with_every_mistake_at_once(self):
        bad = MAP.format(port="").replace("L2 = 102\n", "").replace("P = 205", "Q = 205").replace("H2 = 104", "H2 = 103")
        (self.dir / "map.toml").write_text(bad + "colour = 1\n")
        done = self.tool("qualify", "--profile", "regulator-shunt-240", "--meter", "scpi", "--port", "tcp:127.0.0.1:1",
                         "--hands", f"scanner:{self.dir / 'map.toml'}", "--acknowledge", "de-energised", code=2)
        for told in ('terminal "L2" in [first]', 'saw "Q"', 'terminal "P" in [second]', "saw 103 for", "colour"):
            self.assertIn(told, done.stderr)


if __name__ == "__main__":
    unittest.main()
