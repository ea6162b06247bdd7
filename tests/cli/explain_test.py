"""What explains the readings, and plans shorter than the full one, over a real pseudo-terminal."""
import json
import subprocess
import unittest

from harness import TOOL, EndToEnd, interrupt, _end


def bare(fault):
    """"resistive:line=25.1" and "resistive:line" are the same fault."""
    return " + ".join(part.split("=")[0] for part in fault.split(" + "))


class Explain(EndToEnd):
    def assert_named(self, faults):
        def check(fault):
            verdict = self.qualify(self.simulator("--fault", fault), code=1, timeout=150)[-1]
            first = verdict["explanations"][0]
            group = [bare(f) for f in [first["fault"], *first["same_readings_as"]]]
            self.assertIn(bare(fault), group, [(e["fault"], e["probability"]) for e in verdict["explanations"]])
            self.assertGreater(first["probability"], 0.2)
            self.assertLessEqual(sum(e["probability"] for e in verdict["explanations"]), 1.0 + 1e-9)

        self.at_once([(fault,) for fault in faults], check)

    def test_a_contact_that_is_stuck_is_named_first_or_in_its_group(self):
        self.assert_named(f"stuck-{how}:{contact}" for how in ("closed", "open") for contact in ("line", "pilot", "cycling"))

    def test_a_contact_that_resists_is_named_first_or_in_its_group(self):
        self.assert_named(f"resistive:{contact}=25" for contact in ("line", "pilot", "cycling"))

    def test_a_heater_that_is_wrong_is_named_first_or_in_its_group(self):
        self.assert_named(["open:heater", "shorted:heater", "drifted:heater=50"])

    def test_leads_swapped_and_a_knob_set_wrongly_are_named_first_or_in_their_group(self):
        self.assert_named(["swapped:L1,L2", "clocked=1"])

    def test_terminals_that_are_joined_are_named_first_with_what_that_means(self):
        verdict = self.qualify(self.simulator("--fault", "bridged:H2,CASE"), code=1, timeout=150)[-1]
        first = verdict["explanations"][0]
        self.assertEqual(first["fault"], "bridged:H2,CASE")
        self.assertEqual(first["consequences"][0]["severity"], "critical")
        self.assertIn("joined to H2", first["consequences"][0]["means"])

    def test_two_faults_at_once_are_named_together(self):
        for options in (["--fault", "stuck-open:line", "--fault", "open:heater"], ["--fault", "stuck-open:line + open:heater"]):
            verdict = self.qualify(self.simulator(*options), code=1, timeout=150)[-1]
            first = verdict["explanations"][0]
            self.assertEqual(set(first["fault"].split(" + ")), {"stuck-open:line", "open:heater"})
            self.assertEqual(len(first["consequences"]), 2)

    def test_the_heater_tells_the_parts_for_120_and_208_volts_from_the_one_for_240(self):
        for volts, times in (("208", "1.3"), ("120", "4")):
            verdict = self.qualify(self.simulator("--fault", f"profile:regulator-shunt-{volts}"), code=1, timeout=150)[-1]
            first = verdict["explanations"][0]
            self.assertEqual(first["fault"], f"profile:regulator-shunt-{volts}")
            self.assertIn(f"made for {volts} V, not for 240 V", first["consequences"][0]["means"])
            self.assertIn(f"{times} times the power", first["consequences"][0]["means"])

    def test_a_resistive_contact_says_how_much_heat_that_is(self):
        verdict = self.qualify(self.simulator("--fault", "resistive:line=5"), code=1, timeout=150)[-1]
        self.assertIn("W into heat (P = I^2 R)", verdict["explanations"][0]["consequences"][0]["means"])

    def test_the_simulator_takes_every_name_that_a_diagnosis_gives(self):
        faults = [json.loads(line) for line in
                  self.tool("profiles", "regulator-shunt-240", "--coverage", "--json").stdout.splitlines()]
        names = [f["fault"] for f in faults if f.get("type") == "fault"]
        self.assertGreater(len(names), 30)
        def check(name):
            ready = self.simulator("--fault", name)
            self.assertIn("port", ready)

        self.at_once([(name,) for name in [*names, "none", "profile:regulator-shunt-120", "tied:line,cycling"]], check)
        refused = self.tool("simulate", "--profile", "regulator-shunt-240", "--meter", "scpi", "--fault", "bridged:L1", code=2)
        self.assertIn("one terminal of two", refused.stderr)

    def test_a_pass_is_not_explained(self):
        verdict = self.qualify(self.simulator())[-1]
        self.assertNotIn("explanations", verdict)
        report = json.loads(self.tool("report", verdict["record"], "--format", "json").stdout)
        self.assertNotIn("explanations", report["verdict"])
        self.assertNotIn("explains", self.tool("report", verdict["record"]).stdout)

    def test_every_report_names_the_fault_what_it_means_and_what_to_do(self):
        # The sentences are those of profiles/regulator-shunt-240.toml.
        means = "Full heat at every setting; at off the element stays live on this leg."
        to_do = "Replace the switch; never file or bend its contacts."
        verdict = self.qualify(self.simulator("--fault", "stuck-closed:cycling"), code=1)[-1]
        self.assertEqual(verdict["explanations"][0]["fault"], "stuck-closed:cycling")
        self.assertEqual(verdict["explanations"][0]["consequences"][0]["means"], means)
        record = verdict["record"]
        kept = json.loads(self.tool("report", record, "--format", "json").stdout)["verdict"]
        self.assertEqual(kept["explanations"][0]["fault"], "stuck-closed:cycling")
        self.assertAlmostEqual(kept["explanations"][0]["probability"], verdict["explanations"][0]["probability"])
        for form in ("text", "html"):
            report = " ".join(self.tool("report", record, "--format", form).stdout.split())
            for part in ("stuck-closed:cycling", means, to_do):
                self.assertIn(part, report, form)
            # Said once: that frequencies are assumed, and what becomes of the answer if they are ten times off.
            self.assertEqual(report.count("is assumed (profiles/priors/faults.toml), not counted"), 1, form)
            self.assertEqual(report.count("ten times too high or too low"), 1, form)
        self.assertIn("ten times too high or too low", kept["assumed"])
        self.assertIn("chain whole", self.tool("records", "--check").stdout)

    def test_a_person_is_told_the_cause_at_the_end(self):
        ready = self.simulator("--fault", "open:heater")
        done = self.tool("qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", ready["port"],
                         "--hands", "sim:" + ready["hands"], "--acknowledge", "de-energised", "--settle", "0.03s", code=1)
        self.assertIn("open:heater", done.stdout)
        self.assertIn("full heat at every setting above off", done.stdout)


class WithAFineMeter(EndToEnd):
    """A meter that resolves a milliohm sees the sound contacts, each with a value of its own: none of them is a fault."""

    def assert_alone(self, fault, ohm):  # 350 mV at 15 A: at most 0.023 ohm is sound
        contacts = [word for name in ("line", "pilot", "cycling") for word in ("--fault", f"resistive:{name}={ohm}")]
        ready = self.simulator("--fault", fault, *contacts, meter="scpi")
        first = self.qualify(ready, meter="scpi", code=1, timeout=150)[-1]["explanations"][0]
        self.assertEqual((first["fault"], first["probability"] > 0.9), (fault, True), first)

    def test_a_stuck_contact_is_named_alone(self):
        self.assert_alone("stuck-closed:line", "0.02")

    def test_a_shorted_heater_is_named_alone(self):
        self.assert_alone("shorted:heater", "0.001")


class Plans(EndToEnd):
    def places(self, verdict, events):
        judged = {(e["position"], *sorted(e["pair"])) for e in events if e["type"] == "judged"}
        left = {(e["position"], *sorted(e["pair"])) for e in verdict["left_out"]}
        return judged, left

    def test_a_good_switch_passes_by_a_shorter_plan_that_says_what_it_left_out(self):
        for plan in ("short", "adaptive"):
            with self.subTest(plan=plan):
                events = self.qualify(self.simulator(), "--plan", plan)
                verdict = events[-1]
                judged, left = self.places(verdict, events)
                self.assertEqual((verdict["verdict"], verdict["plan"], verdict["not_measured"]), ("pass", plan, []))
                # Six nodes make 15 pairs, at four positions.
                self.assertEqual(len(judged | left), 60)
                self.assertEqual(judged & left, set())
                self.assertLess(len(judged), 40)
                # A pass leaves out no reading to exposed metal and no contact in its closed or its open state.
                for position in ("off", "low", "medium", "high"):
                    for pair in (*(("CASE", t) for t in ("H1", "H2", "L1", "L2", "P")), ("H1", "L1"), ("L1", "P"), ("H2", "L2")):
                        self.assertIn((position, *sorted(pair)), judged)
                self.assertIn(f"The {plan} plan left {len(left)} readings out.", verdict["headline"])
                for form in ("text", "html"):
                    report = " ".join(self.tool("report", verdict["record"], "--format", form).stdout.split()).lower()
                    self.assertIn("what the plan left out", report)
        self.assertIn("chain whole", self.tool("records", "--check").stdout)

    def test_a_welded_contact_fails_by_every_plan(self):
        for plan in ("full", "short", "adaptive"):
            with self.subTest(plan=plan):
                verdict = self.qualify(self.simulator("--fault", "stuck-closed:cycling"), "--plan", plan, code=1)[-1]
                first = verdict["explanations"][0]
                self.assertIn("stuck-closed:cycling", [first["fault"], *first["same_readings_as"]])

    def test_the_adaptive_plan_passes_nothing_on_probability(self):
        verdict = self.qualify(self.simulator(), "--plan", "adaptive")[-1]
        self.assertTrue(any("everything that a pass needs" in remark for remark in verdict["remarks"]), verdict["remarks"])
        self.assertFalse(any("threshold" in remark for remark in verdict["remarks"]), verdict["remarks"])

    def test_the_adaptive_plan_ends_early_for_a_fail_and_states_its_threshold(self):
        events = self.qualify(self.simulator("--fault", "stuck-closed:line"), "--plan", "adaptive", code=1)
        self.assertTrue(any("threshold 0.99" in remark for remark in events[-1]["remarks"]), events[-1]["remarks"])
        self.assertLess(len(self.places(events[-1], events)[0]), 30)

    def test_an_adaptive_record_that_was_interrupted_goes_on_by_its_own_plan(self):
        ready = self.simulator(rate="20")
        process = subprocess.Popen(
            [TOOL, "qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", ready["port"], "--hands",
             "sim:" + ready["hands"], "--acknowledge", "de-energised", "--operator", "test", "--settle", "0.1s", "--json",
             "--plan", "adaptive"], env=self.env, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        first = []
        for line in process.stdout:
            event = json.loads(line)
            if event["type"] == "judged":
                first.append((event["position"], *event["pair"]))
            if len(first) == 4:
                interrupt(process)
                break
        process.stdout.read()
        self.assertEqual(process.wait(timeout=10), 130)
        events = self.qualify(ready, "--resume", "latest")
        self.assertEqual((events[-1]["verdict"], events[-1]["plan"]), ("pass", "adaptive"))
        again = [(e["position"], *e["pair"]) for e in events if e["type"] == "judged"]
        self.assertEqual(set(first) & set(again), set())


if __name__ == "__main__":
    unittest.main()
