"""Learning a part from its readings, through the real binary and the simulator."""
import json
import unittest

from harness import EndToEnd


class LearnTest(EndToEnd):
    def learn(self, ready, terminals, positions, *options, code=0, metal="CASE"):
        self.out = self.dir / "learned.toml"
        return self.tool("profiles", "learn", "--meter", "lcd-segment-14", "--port", ready["port"], "--hands",
                         "sim:" + ready["hands"], "--acknowledge", "de-energised", "--settle", "0.03s", "--terminals", terminals,
                         *(["--metal", metal] if metal else []), "--positions", positions, "-o", self.out, *options, code=code)

    def test_a_learned_profile_passes_the_part_it_was_learned_from_and_fails_a_welded_one(self):
        ready = self.simulator()
        done = self.learn(ready, "L1,L2,H1,H2,P", "off,low,medium,high", "--voltage", "240", "--current", "15",
                          "--title", 'A "known-good" part')
        self.assertIn("contact  L2-H2", done.stdout)
        self.assertIn("may as well be", done.stdout)  # L1, H1 and P are joined together
        text = self.out.read_text()
        self.assertIn("to be reviewed", text)
        self.assertIn("SIMULATOR", text)
        shown = [json.loads(line) for line in self.tool("profiles", self.out, "--json").stdout.splitlines()]
        self.assertEqual(len(shown), 60)
        self.assertEqual(self.qualify(ready, profile=str(self.out))[-1]["verdict"], "pass")
        self.assertEqual(self.qualify(self.simulator("--fault", "stuck-closed:cycling"), profile=str(self.out), code=1)[-1]["verdict"],
                         "fail")

    def test_a_file_that_exists_is_not_overwritten_and_wrong_names_are_refused_before_the_work(self):
        ready = self.simulator()
        (self.dir / "learned.toml").write_text("mine")
        self.learn(ready, "L1,L2", "off,low", code=2)
        self.assertEqual(self.out.read_text(), "mine")
        self.out.unlink()
        self.learn(ready, "L1,L1", "off,low", code=2)
        self.learn(ready, "L1", "off,low", code=2, metal="")
        self.learn(ready, "L 1,L2", "off,low", code=2)
        self.learn(ready, "L1,L2", "off,off", code=2)
        self.assertFalse(self.out.exists())

    def test_without_the_acknowledgement_nothing_is_measured(self):
        ready = self.simulator()
        self.tool("profiles", "learn", "--meter", "lcd-segment-14", "--port", ready["port"], "--hands", "sim:" + ready["hands"],
                  "--terminals", "L1,L2", "--positions", "off", "-o", "x.toml", code=2)


if __name__ == "__main__":
    unittest.main()
