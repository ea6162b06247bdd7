"""A label says PASS on the part itself: none is printed once a later record of the same piece speaks against it."""
import json
import pathlib
import subprocess
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "cli"))
from harness import TOOL, EndToEnd, _end, interrupt  # noqa: E402

PROFILE = """schema = 1
title = "One contact, for a test"
values = "invented for a test"
[rating]
voltage_v = 240
current_a = 15
[terminals]
names = ["L1", "H1"]
[[position]]
id = "off"
[[position]]
id = "on"
[[contact]]
id = "line"
between = ["L1", "H1"]
closed_at = ["on"]
[limits]
closed_max_ohm = 2.0
sound_max_ohm = 0.1
open_min_ohm = 1e6
"""


class Label(EndToEnd):
    def setUp(self):
        super().setUp()
        self.profile = self.dir / "one.toml"
        self.profile.write_text(PROFILE)

    def measured(self, serial, *faults, code, rate="200"):
        ready = self.simulator(*[word for fault in faults for word in ("--fault", fault)], profile=self.profile, rate=rate)
        return self.qualify(ready, "--serial", serial, profile=self.profile, code=code)[-1]["record"]

    def label(self, record):
        """Whether one is printed; without the typesetter (SKIPPED: weasyprint) only whether it is refused before."""
        done = self.tool("label", record, "-o", self.dir / "label.pdf", code=None)
        self.assertNotIn("must not bear", done.stdout)
        return done.stderr if "must not bear" in done.stderr else ""

    def test_a_pass_is_not_printed_once_the_same_piece_has_failed(self):
        first = self.measured("s-1", code=0)
        self.measured("S-2", "stuck-open:line", code=1)  # another piece
        self.assertEqual(self.label(first), "")
        later = self.measured("S-1 ", "stuck-closed:line", code=1)
        self.assertIn(later, self.label(first))
        self.assertEqual(self.label(later), "")
        self.assertIn("must not bear", self.tool("label", first, "-o", self.dir / "label.pdf", code=2).stderr)
        self.assertEqual(self.label(self.measured("s-1", code=0)), "")  # measured anew

    def test_a_pass_is_not_printed_while_the_same_piece_is_measured_anew(self):
        first = self.measured("S-1", code=0)
        ready = self.simulator(profile=self.profile, rate="20")
        process = subprocess.Popen([TOOL, "qualify", "--profile", str(self.profile), "--meter", "lcd-segment-14", "--port", ready["port"],
                                    "--hands", "sim:" + ready["hands"], "--acknowledge", "de-energised", "--operator", "test",
                                    "--serial", "S-1", "--settle", "0.1s", "--json"], env=self.env, text=True, stdout=subprocess.PIPE,
                                   stderr=subprocess.DEVNULL)
        self.addCleanup(_end, process)
        for line in process.stdout:
            if json.loads(line)["type"] == "judged":
                interrupt(process)
                break
        process.stdout.read()
        process.wait(timeout=20)
        self.assertIn("unfinished", self.label(first))


if __name__ == "__main__":
    unittest.main()
