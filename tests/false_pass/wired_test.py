"""A part that stays wired to its load: what the wiring hides is never passed, and what the wiring does is never the part's fault."""
import json
import signal
import subprocess
import unittest

from harness import TOOL, EndToEnd, _end

LOAD = "2800W@240"


class Wired(EndToEnd):
    def wired(self, *faults, bench=(LOAD,), profile="regulator-shunt-240", stated=LOAD, code=None, meter="lcd-segment-14"):
        outside = [word for load in bench for word in ("--wired", load)]
        broken = [word for fault in faults for word in ("--fault", fault)]
        ready = self.simulator(*outside, *broken, profile=profile, meter=meter)
        events = self.qualify(ready, "--wired", stated, "--acknowledge", "locked-off", profile=profile, meter=meter, code=code)
        return events[-1], [e for e in events if e["type"] == "judged"]

    def check(self, rows):
        def one(profile, faults, bench, verdict, word):
            last, judged = self.wired(*faults, bench=bench, profile=profile)
            continuity = last["scope"]["continuity"]
            self.assertEqual(continuity["outcome"], verdict, continuity)
            self.assertIn(word, continuity.get("reason", "") + continuity.get("rests_on", ""))
            if verdict == "undecided":
                self.assertIn("Pull the connector", continuity["how"])
                self.assertEqual([e for e in judged if e["outcome"] == "fail"], [])
            self.assertTrue(any("Measured wired" in remark for remark in last["remarks"]), last["remarks"])

        self.at_once(rows, one)

    def test_what_the_load_hides_is_undecided_and_added_resistance_fails(self):
        part = "regulator-shunt-240"
        #        profile  faults of the part          really connected  verdict      word in the reason
        self.check([(part, (), (LOAD,), "undecided", "heater is open"),  # 14.4 kohm beside 20.6 ohm: nobody sees it
                    (part, ("open:heater",), (LOAD,), "undecided", "heater is open"),
                    (part, ("drifted:heater=-40",), (LOAD,), "undecided", "heater is off"),
                    (part, ("stuck-open:line",), (LOAD,), "fail", "L1-H1"),  # no path outside adds resistance
                    (part, ("resistive:line=5",), (LOAD,), "fail", "L1-H1"),
                    (part, ("resistive:pilot=5",), (LOAD,), "fail", "L1-P")])

    def test_what_a_path_outside_would_read_like_is_undecided_and_never_the_parts_fault(self):
        part = "regulator-shunt-240"
        self.check([(part, ("stuck-closed:cycling",), (LOAD,), "undecided", "could not be decided"),
                    (part, ("bridged:H1,CASE",), (LOAD,), "undecided", "could not be decided"),
                    (part, (), ("40 ohm",), "undecided", "could not be decided"),  # another load than was stated
                    (part, ("open:wired-1",), (LOAD,), "undecided", "could not be decided"),  # its element is open
                    (part, (), (LOAD, "L1-L2=30ohm"), "undecided", "could not be decided"),  # an oven on the same breaker
                    (part, (), (LOAD, "L1-H1=0.2ohm"), "undecided", "could not be decided"),
                    (part, ("stuck-open:line",), (LOAD, "L1-H1=0.2ohm"), "undecided", "never seen apart")])

    def test_a_part_that_hides_nothing_on_its_wires_can_pass_unless_a_path_outside_may_stand_in(self):
        part = "high-limit-manual-reset"
        self.check([(part, (), (LOAD,), "pass", "inside"),
                    (part, ("stuck-closed:limit",), (LOAD,), "undecided", "never seen apart"),
                    (part, ("resistive:limit=3",), (LOAD,), "fail", ""),
                    (part, ("stuck-open:limit",), (LOAD, "1-2=0.3ohm"), "undecided", "never seen apart")])

    def test_what_is_hidden_and_the_fewest_connectors_to_pull_are_named(self):
        last, _ = self.wired(code=3)
        self.assertEqual(last["scope"]["continuity"]["how"].split(" and measure")[0], "Pull the connector from H1")

    def test_a_record_that_was_begun_wired_goes_on_wired_and_energises_nothing(self):
        ready = self.simulator("--wired", LOAD)
        arguments = ["qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", ready["port"], "--hands",
                     "sim:" + ready["hands"], "--operator", "test", "--serial", "W-1", "--json"]
        done = self.tool(*arguments, "--wired", LOAD, "--acknowledge", "de-energised", code=2)
        self.assertIn("--acknowledge locked-off", done.stderr)
        both = ("--acknowledge", "de-energised", "--acknowledge", "locked-off")
        done = self.tool(*arguments, "--wired", LOAD, *both, "--acknowledge", "energised", "--powered", code=2)
        self.assertIn("not energised", done.stderr)
        ready = self.simulator("--wired", LOAD, profile="high-limit-manual-reset")
        arguments = ["qualify", "--profile", "high-limit-manual-reset", "--meter", "lcd-segment-14", "--port", ready["port"], "--hands",
                     "sim:" + ready["hands"], "--operator", "test", "--serial", "W-1", "--settle", "0.03s", "--inspected", "yes", "--json"]
        process = subprocess.Popen([TOOL, *arguments, "--wired", LOAD, *both], env=self.env, text=True, stdout=subprocess.PIPE,
                                   stderr=subprocess.DEVNULL)
        self.addCleanup(_end, process)
        for line in process.stdout:
            if json.loads(line)["type"] == "judged":
                break
        process.send_signal(signal.SIGKILL)
        process.wait()
        record = json.loads(self.tool("records", "--json").stdout.splitlines()[0])["record"]
        done = self.tool(*arguments, "--resume", record, "--wired", LOAD, *both, code=2)
        self.assertIn("was said when the record was begun", done.stderr)
        last = json.loads(self.tool(*arguments, "--resume", record, *both).stdout.splitlines()[-1])
        self.assertTrue(any("Measured wired" in remark for remark in last["remarks"]), last["remarks"])
        report = self.tool("report", "latest", "--format", "text").stdout
        self.assertIn("Measured wired", report)
        self.assertIn("chain whole", self.tool("records", "--check").stdout)
        done = self.tool("qualify", "--profile", "high-limit-manual-reset", "--meter", "lcd-segment-14", "--port", ready["port"], "--hands",
                         "sim:" + ready["hands"], "--serial", "W-1", "--powered", "only", "--cold", record, "--acknowledge", "energised", "--json", code=2)
        self.assertIn("nothing is energised on the word of this record", done.stderr)


if __name__ == "__main__":
    unittest.main()
