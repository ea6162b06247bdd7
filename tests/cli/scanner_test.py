"""A fixture with relays: the scanner places the probes, a person (here: this test) turns the knob."""
import json
import unittest

from fixture import MAP, FixtureBench
from harness import wait_until
from scpi_device import Device


class Scanner(FixtureBench):
    def test_a_switching_meter_qualifies_a_switch_with_only_the_knob_turned_by_a_person(self):
        fixture, device = self.one_link()
        events = self.run_fixture(fixture, device, MAP.format(port=""))
        self.assertEqual(events[-1]["verdict"], "pass")
        self.assertEqual(events[-1]["not_measured"], [])
        self.assertTrue(all("Turn the knob" in text for text in self.turns), self.turns)
        # Off for the dead test, each position once, and twice back over a step so that every contact closes three times.
        self.assertLessEqual(len(self.turns), 11, self.turns)
        self.assertEqual(set(device.most_closed), {2})         # never more than one channel for each lead
        self.assertEqual(device.complaints(), [])
        self.assertTrue(wait_until(lambda: not device.closed))   # relays open when the work is over
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

    def is_resumed(self, own_port):
        def places(events):
            return [(tuple(sorted(e["pair"])), e["position"]) for e in events if e["type"] == "judged"]

        fixture, device = self.one_link(welded=True)
        meter = device
        if own_port:
            meter = Device(fixture.measure)
            self.addCleanup(meter.close)
        text = MAP.format(port=f'port = "{device.port}"' if own_port else "")
        seen = []

        def ten_places_measured(event):
            seen.append(event)
            return len(places(seen)) == 10

        first = self.run_fixture(fixture, meter, text, code=130, stop_after=ten_places_measured)
        self.assertIn("stopped", [e["type"] for e in first])
        self.assertTrue(wait_until(lambda: not device.closed), device.closed)   # relays open while nobody works
        fixture.knob = "medium"   # somebody played with it meanwhile
        second = self.run_fixture(fixture, meter, text, "--resume", "latest", code=1)
        self.assertGreaterEqual(len(places(first)), 10)
        self.assertFalse(set(places(first)) & set(places(second)))
        whole = self.run_fixture(fixture, meter, text, code=1)
        self.assertEqual(sorted(places(first) + places(second)), sorted(places(whole)))
        found = [d for d in second[-1]["deviations"] if d["position"] == "off" and set(d["pair"]) == {"L2", "H2"}]
        self.assertEqual([d["kind"] for d in found], ["stays-closed"])
        self.assertEqual(second[-1]["not_measured"], [])
        self.assertEqual(set(device.most_closed), {2})

    def test_an_interrupted_run_on_the_meters_link_is_resumed_by_the_scanner_and_measures_only_what_is_missing(self):
        self.is_resumed(own_port=False)

    def test_an_interrupted_run_on_a_port_of_its_own_is_resumed_by_the_scanner_and_measures_only_what_is_missing(self):
        self.is_resumed(own_port=True)

    def test_a_switching_meter_that_was_gone_for_a_moment_ends_the_work_since_its_relays_may_have_opened(self):
        fixture, device = self.one_link()
        judged = []

        def power_cut(event):
            judged.append(event["type"])
            if judged.count("judged") == 5 and device.clients == 1:
                device.closed.clear()
                device.hang_up()
            return False

        events = self.run_fixture(fixture, device, MAP.format(port=""), code=4, stop_after=power_cut)
        self.assertEqual(events[-1]["type"], "stopped")
        self.assertIn("the scanner is gone", events[-1]["text"])
        self.assertLessEqual(judged.count("judged"), 6)
        second = self.run_fixture(fixture, device, MAP.format(port=""), "--resume", "latest")
        self.assertEqual((second[-1]["verdict"], second[-1]["not_measured"]), ("pass", []))

    def test_the_command_to_go_on_names_the_channel_map_and_a_resume_without_it_says_so(self):
        fixture, device = self.one_link()
        first = self.run_fixture(fixture, device, MAP.format(port=""), code=130,
                                 stop_after=lambda e: e["type"] == "kept" and e["step"] > 4)
        record = json.loads(self.tool("records", "--json").stdout)["record"]
        done = self.tool("qualify", "--resume", record, "--acknowledge", "de-energised", "--meter", self.dir / "scpi.toml", code=None)
        self.assertIn("--hands scanner:", done.stderr)

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
