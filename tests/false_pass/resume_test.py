"""Work that is gone on with: judged by what it was begun with, of the part it was begun with, and nothing that failed is lost.

Which faults are in the simulated part is decided here. A part of 5 ohm in a contact must not pass by a profile that was widened
after it was begun (2 ohm at most are allowed in the shipped one)."""
import json
import pathlib
import subprocess
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "cli"))
from harness import SOURCE, TOOL, EndToEnd, _end, interrupt  # noqa: E402

SHIPPED = (SOURCE / "profiles/regulator-shunt-240.toml").read_text()


class GoneOnWith(EndToEnd):
    def begun(self, *faults, options=(), profile=None, meter="lcd-segment-14"):
        """Stopped after a few readings; returns the record."""
        self.own = self.dir / "own.toml"
        self.own.write_text(SHIPPED)
        ready = self.simulator(*[word for fault in faults for word in ("--fault", fault)], profile=self.own, meter=meter, rate="20")
        process = subprocess.Popen([TOOL, "qualify", "--profile", str(profile or self.own), "--meter", meter, "--port", ready["port"],
                                    "--hands", "sim:" + ready["hands"], "--acknowledge", "de-energised", "--operator", "test",
                                    "--part", "P", "--serial", "S-1", "--settle", "0.1s", "--json", *options],
                                   env=self.env, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        judged = 0
        for line in process.stdout:
            judged += json.loads(line)["type"] == "judged"
            if judged == 5:
                interrupt(process)
                break
        process.stdout.read()
        process.wait(timeout=20)
        return json.loads(self.tool("records", "--json").stdout.splitlines()[0])["record"]

    def gone_on(self, record, *options, faults=(), code, meter="lcd-segment-14"):
        part = self.dir / "part.toml"
        part.write_text(SHIPPED)
        ready = self.simulator(*[word for fault in faults for word in ("--fault", fault)], profile=part, meter=meter)
        done = self.tool("qualify", "--resume", record, "--port", ready["port"], "--hands", "sim:" + ready["hands"], "--acknowledge",
                         "de-energised", "--operator", "test", "--inspected", "yes", "--settle", "0.03s", "--json", *options, code=code)
        return json.loads(done.stdout.splitlines()[-1]) if done.stdout else done.stderr

    def test_a_profile_that_was_widened_meanwhile_passes_nothing(self):
        bad = "resistive:line=5"
        record = self.begun(bad)
        self.own.write_text(SHIPPED.replace("closed_max_ohm = 2", "closed_max_ohm = 20").replace("sound_max_mv = 350", "sound_max_mv = 99000"))
        self.assertIn("begun with the profile", self.gone_on(record, "--profile", self.own, faults=(bad,), code=2))
        self.assertEqual(self.gone_on(record, faults=(bad,), code=1)["verdict"], "fail")  # by the profile in the record

    def test_a_profile_whose_file_is_gone_is_gone_on_with_all_the_same(self):
        record = self.begun()
        self.own.unlink()
        verdict = self.gone_on(record, code=0)
        self.assertTrue(any("earlier sitting" in remark for remark in verdict["remarks"]), verdict["remarks"])

    def test_what_is_stated_otherwise_than_at_the_beginning_is_refused(self):
        record = self.begun(options=("--range", "4kohm"))
        other = self.dir / "lcd-segment-14.toml"
        other.write_text((SOURCE / "meters/lcd-segment-14.toml").read_text().replace("percent_of_reading = 0.8", "percent_of_reading = 0.01"))
        for options in (("--meter", "scpi"), ("--meter", other), ("--serial", "S-2"), ("--part", "Q"), ("--range", "auto"),
                        ("--rule", "simple"), ("--plan", "short"), ("--ambient", "40")):
            with self.subTest(options=options):
                said = self.gone_on(record, *options, code=2)
                self.assertIn("begun with", said)
                self.assertIn(options[0], said)
        self.gone_on(record, "--meter", "lcd-segment-14", "--serial", "S-1", "--part", "P", "--range", "4kohm", "--plan", "full", code=0)


if __name__ == "__main__":
    unittest.main()
