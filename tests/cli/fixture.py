"""A fixture with relays, as tests use it: an imagined switch behind the channels, and a person who turns the knob when told."""
import json
import subprocess

import numpy

from harness import SOURCE, TOOL, EndToEnd, _end, interrupt
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


class FixtureBench(EndToEnd):
    """`run_fixture` runs a qualification; `stop_after(event)` true interrupts it there."""

    def run_fixture(self, fixture, meter, map_text, *options, code=0, stop_after=None, patience="3s"):
        (self.dir / "map.toml").write_text(map_text)
        definition = self.dir / "scpi.toml"   # the shipped one, asked as fast as it answers
        definition.write_text((SOURCE / "meters/scpi.toml").read_text().replace("every_s = 0.2", "every_s = 0.005"))
        process = subprocess.Popen(
            [TOOL, "qualify", "--profile", "regulator-shunt-240", "--meter", definition, "--port", meter.port, "--operator", "test", "--inspected", "yes",
             "--hands", f"scanner:{self.dir / 'map.toml'}", "--acknowledge", "de-energised", "--settle", "0.03s", "--json",
             "--patience", patience, *options],
            env=self.env, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        events, self.turns, stopping = [], [], False
        for line in process.stdout:
            events.append(json.loads(line))
            if stop_after and stop_after(events[-1]):
                interrupt(process)
                stop_after, stopping = None, True
            if events[-1]["type"] == "note" and events[-1]["kind"] == "by-hand":
                text = events[-1]["text"]
                self.turns.append(text)
                wanted = [w for w in ("off", "low", "medium", "high") if f"to {w}" in text.lower()]
                if wanted:
                    fixture.knob = wanted[0]
                if not stopping:
                    process.stdin.write("\n")
                    process.stdin.flush()
        self.said = error = process.stderr.read()
        self.assertEqual(process.wait(timeout=20), code, error + str(events[-3:]))
        return events

    def one_link(self, welded=False, kind=Device, **ways):
        fixture = Fixture(welded)
        device = kind(fixture.measure, **ways)
        self.addCleanup(device.close)
        fixture.relays = device.closed
        return fixture, device
