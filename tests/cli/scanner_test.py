"""A fixture with relays: the scanner places the probes, a person (here: this test) turns the knob."""
import json
import subprocess
import unittest

import numpy

from harness import SOURCE, TOOL, EndToEnd, _end
from scpi_device import Device

TERMINALS = ["L1", "L2", "H1", "H2", "P", "CASE"]
FIRST = {name: 101 + i for i, name in enumerate(TERMINALS)}
SECOND = {name: 201 + i for i, name in enumerate(TERMINALS)}
MAP = """schema = 1
title = "Fixture of the test"
{port}
settle_s = 0.01
[first]
L1 = 101
L2 = 102
H1 = 103
H2 = 104
P = 105
CASE = 106
[second]
L1 = 201
L2 = 202
H1 = 203
H2 = 204
P = 205
CASE = 206
[special]
shorted = [198, 298]
known_source = [199, 299]
"""


class Fixture:
    """The switch of profiles/regulator-shunt-240.toml, solved by itself (nodal analysis, numpy) between closed channels."""

    def __init__(self, welded=False):
        self.knob, self.welded, self.relays = "high", welded, set()

    def resistors(self):
        on = self.knob != "off"
        if on:
            yield "L1", "H1", 0.02
            yield "L1", "P", 0.02
        if on or self.welded:
            yield "L2", "H2", 0.02
        yield "H1", "H2", 14400.0

    def measure(self, function):
        relays = self.relays() if callable(self.relays) else self.relays
        if relays == {199, 299}:
            return 24.0 if function.startswith("VOLT") else None
        if relays == {198, 298}:
            return 0.0 if function.startswith("VOLT") else 0.2
        first = [name for name, channel in FIRST.items() if channel in relays]
        second = [name for name, channel in SECOND.items() if channel in relays]
        assert len(relays) <= 2, relays
        if function.startswith("VOLT"):
            return 0.0
        if len(first) != 1 or len(second) != 1:
            return None
        conductance = numpy.eye(len(TERMINALS)) * 1e-12   # to somewhere, so that it can be solved
        for a, b, ohm in self.resistors():
            i, j = TERMINALS.index(a), TERMINALS.index(b)
            conductance[i, i] += 1 / ohm
            conductance[j, j] += 1 / ohm
            conductance[i, j] -= 1 / ohm
            conductance[j, i] -= 1 / ohm
        current = numpy.zeros(len(TERMINALS))
        i, j = TERMINALS.index(first[0]), TERMINALS.index(second[0])
        current[i], current[j] = 1.0, -1.0
        volts = numpy.linalg.solve(conductance, current)
        ohm = volts[i] - volts[j]
        return None if ohm > 1e8 else ohm + 0.2   # the leads


class Scanner(EndToEnd):
    def run_fixture(self, fixture, meter, map_text, code=0):
        (self.dir / "map.toml").write_text(map_text)
        definition = self.dir / "scpi.toml"   # the shipped one, asked as fast as it answers
        definition.write_text((SOURCE / "meters/scpi.toml").read_text().replace("every_s = 0.2", "every_s = 0.005"))
        process = subprocess.Popen(
            [TOOL, "qualify", "--profile", "regulator-shunt-240", "--meter", definition, "--port", meter.port, "--operator", "test",
             "--hands", f"scanner:{self.dir / 'map.toml'}", "--acknowledge", "de-energised", "--settle", "0.03s", "--json",
             "--patience", "3s"],
            env=self.env, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        events, self.turns = [], []
        for line in process.stdout:
            events.append(json.loads(line))
            if events[-1]["type"] == "note" and events[-1]["kind"] == "by-hand":
                text = events[-1]["text"]
                self.turns.append(text)
                wanted = [w for w in ("off", "low", "medium", "high") if f"to {w}" in text.lower()]
                if wanted:
                    fixture.knob = wanted[0]
                process.stdin.write("\n")
                process.stdin.flush()
        error = process.stderr.read()
        self.assertEqual(process.wait(timeout=20), code, error + str(events[-3:]))
        return events

    def one_link(self, **ways):
        fixture = Fixture(**ways)
        device = Device(fixture.measure)
        self.addCleanup(device.close)
        fixture.relays = device.closed
        return fixture, device

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
