"""Voltages under power over a real pseudo-terminal: the profile's wiring decides what must be live and what dead."""
import json
import subprocess
import unittest

from harness import SOURCE, TOOL, EndToEnd, interrupt, _end

ENERGISED = ("--acknowledge", "energised")


def found(verdict, position, *pair):
    return [d for d in verdict["deviations"] if d.get("position") == position and set(d["pair"]) == set(pair)]


class Powered(EndToEnd):
    def setUp(self):
        super().setUp()
        self.passed = {}

    def cold(self, serial="T1", profile="regulator-shunt-240", meter="lcd-segment-14"):
        """The record of a good part that passed without power."""
        events = self.qualify(self.simulator(profile=profile, meter=meter), "--serial", serial, "--inspected", "yes",
                              profile=profile, meter=meter)
        return events[-1]["record"]

    def powered_only(self, *faults, code=0, options=(), profile="regulator-shunt-240", meter="lcd-segment-14"):
        """The part passed without power and has had these faults since."""
        if (profile, meter) not in self.passed:
            self.passed[profile, meter] = self.cold(f"T{len(self.passed)}", profile, meter)
        arguments = [word for fault in faults for word in ("--fault", fault)]
        ready = self.simulator(*arguments, *options, profile=profile, meter=meter)
        return self.qualify(ready, "--powered", "only", *ENERGISED, "--cold", self.passed[profile, meter],
                            "--serial", f"T{list(self.passed).index((profile, meter))}", profile=profile, meter=meter,
                            code=code)

    def test_a_good_switch_passes_under_power(self):
        # (A heater in series of 20 milliohm is not decided with two wires, so that regulator is not energised.)
        for profile, meter in (("regulator-shunt-120", "lcd-segment-14"), ("regulator-shunt-208", "ascii-nibble-14"),
                               ("regulator-dual-240", "lcd-segment-14"), ("rocker-lamp", "lcd-segment-14")):
            with self.subTest(profile=profile, meter=meter):
                verdict = self.powered_only(profile=profile, meter=meter)[-1]
                self.assertEqual(verdict["verdict"], "pass")
                self.assertEqual(verdict["deviations"], [])
                self.assertEqual(len(verdict["supply"]), 2)

    def test_powered_follows_continuity_and_the_record_says_so_in_every_format(self):
        events = self.qualify(self.simulator(), "--powered", *ENERGISED)
        verdict = events[-1]
        self.assertEqual((verdict["verdict"], verdict["findings"], verdict["voltages"]), ("pass", 60, 60))
        self.assertEqual([e["what"] for e in events if e["type"] == "acknowledged"], ["de-energised", "energised"])
        record = verdict["record"]
        self.assertIn("chain whole", self.tool("records", "--check").stdout)
        text = self.tool("report", record, "--format", "text").stdout
        for words in ("UNDER POWER", "supply at the start", "supply at the end"):
            self.assertIn(words, text)
        page = self.tool("report", record, "--format", "html").stdout
        for words in ("Under power", "The supply read", "under power at each knob position", "reads live"):
            self.assertIn(words, page)
        self.assertIn(",V,", self.tool("report", record, "--format", "csv").stdout)
        document = json.loads(self.tool("report", record, "--format", "json").stdout)
        self.assertEqual(len(document["verdict"]["voltages"]), 60)
        self.assertEqual(len(document["verdict"]["supply"]), 2)
        try:
            import jsonschema
        except ImportError:
            self.skipTest("python3-jsonschema is missing")
        jsonschema.validate(document, json.loads((SOURCE / "src/report/record.schema.json").read_text()))

    def test_each_fault_is_found_by_its_volts(self):
        #    fault                   position  pair          kind           severity
        rows = [("stuck-closed:cycling", "off", ("H1", "CASE"), "live", "critical"),
                ("stuck-open:line", "high", ("H1", "H2"), "dead", "major"),
                ("stuck-open:line", "low", ("L1", "H1"), "live", "major"),
                ("stuck-open:pilot", "medium", ("P", "L2"), "dead", "major"),
                ("resistive:line=5", "high", ("H1", "H2"), "low-voltage", "major")]
        for fault, position, pair, kind, severity in rows:
            with self.subTest(fault=fault, pair=pair):
                self.passed.clear()  # after a fail the part is measured without power again
                self.env["SWITCHWRIGHT_STORE"] = str(self.dir / f"{rows.index((fault, position, pair, kind, severity))}.sqlite")
                verdict = self.powered_only(fault, code=1)[-1]
                self.assertEqual(verdict["verdict"], "fail")
                deviation = found(verdict, position, *pair)
                self.assertEqual(len(deviation), 1, verdict["deviations"])
                self.assertEqual((deviation[0]["kind"], deviation[0]["severity"]), (kind, severity))
                self.assertIn("value_v", deviation[0])
                self.assertGreater(deviation[0]["U_v"], 0)
                self.assertTrue({"max_v", "stray_max_v"} & set(deviation[0]["expected"]))

    def test_both_legs_closed_at_off_put_the_whole_supply_on_the_load(self):
        verdict = self.powered_only("stuck-closed:line", "stuck-closed:cycling", code=1)[-1]
        load = found(verdict, "off", "H1", "H2")[0]
        self.assertEqual((load["kind"], load["severity"]), ("live", "critical"))
        self.assertAlmostEqual(load["value_v"], 240, delta=5)

    def test_a_wrong_supply_judges_nothing(self):
        verdict = self.powered_only(code=3, options=("--supply", "208"))[-1]
        self.assertEqual(verdict["verdict"], "undecided")
        self.assertEqual(verdict["supply"][0]["kind"], "low-voltage")
        self.assertAlmostEqual(verdict["supply"][0]["value_v"], 208, delta=5)
        self.assertEqual(verdict["voltages"], 0)
        text = self.tool("report", verdict["record"], "--format", "text").stdout
        self.assertIn("Nothing of the part was judged", text)
        # Once as the verdict, once in the log of what happened.
        self.assertEqual(" ".join(text.split()).count("the voltage is too low"), 2, text)

    def test_a_switch_that_fails_without_power_is_never_energised(self):
        events = self.qualify(self.simulator("--fault", "stuck-closed:cycling"), "--powered", *ENERGISED, code=1)
        self.assertEqual([e for e in events if e.get("power") == "on"], [])
        self.assertNotIn("voltages", events[-1])

    def test_without_its_acknowledgement_nothing_is_energised(self):
        ready = self.simulator()
        done = self.tool("qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", ready["port"],
                         "--hands", "sim:" + ready["hands"], "--acknowledge", "de-energised", "--powered", code=2)
        self.assertIn("--acknowledge energised", done.stderr)
        self.assertIn("qualified", done.stderr)

    def test_a_supply_that_is_on_stops_resistance_work(self):
        verdict = self.qualify(self.simulator("--powered-on"), code=3)[-1]
        self.assertIn("present", verdict["headline"])

    def test_ctrl_c_under_power_asks_for_off_and_the_work_can_be_resumed(self):
        self.cold("T1")
        ready = self.simulator(rate="50")
        process = subprocess.Popen(
            [TOOL, "qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", ready["port"],
             "--hands", "sim:" + ready["hands"], "--powered", "only", "--serial", "T1", *ENERGISED,
             "--acknowledge", "de-energised", "--settle", "0.1s", "--json"],
            env=self.env, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        judged = 0
        for line in process.stdout:
            judged += json.loads(line)["type"] == "judged"
            if judged == 12:
                interrupt(process)
                break
        self.assertIn("switch it off", process.stdout.read())
        self.assertEqual(process.wait(timeout=10), 130)
        events = self.qualify(ready, "--resume", "latest", *ENERGISED)
        self.assertEqual((events[-1]["verdict"], events[-1]["voltages"]), ("pass", 60))
        self.assertLess(sum(e["type"] == "judged" for e in events), 60)

    def test_profiles_list_the_volts_of_every_pair_and_position(self):
        lines = self.tool("profiles", "regulator-shunt-240", "--powered", "--json").stdout.splitlines()
        rows = {(r["position"], frozenset(r["pair"])): r for r in map(json.loads, lines)}
        self.assertEqual(len(rows), 60)
        self.assertTrue(all(r["type"] == "expectation" and r["quantity"] == "voltage" for r in rows.values()))
        # ANSI C84.1 range A service voltage, 240 V: 228 to 252 V (from memory).
        supply = rows["off", frozenset(("L1", "L2"))]
        self.assertEqual((supply["state"], supply["min_v"], supply["max_v"]), ("live", 228, 252))
        self.assertEqual(rows["off", frozenset(("H1", "H2"))]["state"], "dead")
        self.assertEqual(len(rows["low", frozenset(("H1", "H2"))]["bands"]), 2)
        self.assertIn("floats", self.tool("profiles", "regulator-shunt-240", "--powered").stdout)
        self.assertIn("powered", self.tool("qualify", "--help").stdout)

    def test_a_profile_without_a_powered_part_says_so(self):
        text = (SOURCE / "profiles/rocker-lamp.toml").read_text().split("\n")
        start = next(i for i, line in enumerate(text) if line.startswith("[powered]"))
        end = next(i for i, line in enumerate(text) if line.startswith("[[inspect]]"))
        (self.dir / "plain.toml").write_text("\n".join(text[:start] + text[end:]))
        done = self.tool("profiles", self.dir / "plain.toml", "--powered", code=2)
        self.assertIn("[powered]", done.stderr)

    def test_several_meters_look_at_one_simulated_switch(self):
        ready = self.simulator("--powered-on", "--position", "high", "--meter-at", "load=lcd-segment-14@H1-H2",
                               "--meter-at", "line=scpi@L1-L2", "--supply", "236", "--ambient", "40", "--welds-at", "5",
                               "--drift", "0.1", "--bounce", "2", "--scatter", "1", "--time-constant", "20")
        self.assertEqual(set(ready["ports"]), {"load", "line"})
        for name, meter in (("load", "lcd-segment-14"), ("line", "scpi")):
            # The dial of a meter that is clipped on stands on AC volts; one that is told its function is told.
            quantity = ["--quantity", "voltage-ac"] if meter == "scpi" else []
            lines = self.tool("read", "--meter", meter, "--port", ready["ports"][name], *quantity, "--count", "3",
                              "--json").stdout.splitlines()
            reading = json.loads(lines[-1])
            self.assertEqual(reading["quantity"], "voltage-ac")
            self.assertAlmostEqual(reading["value"], 236, delta=5)

    def test_a_meter_that_is_placed_wrongly_is_refused_with_what_to_write(self):
        for text in ("load", "load=scpi@H1", "load=scpi@H1-H9", "load=nosuch@H1-H2"):
            with self.subTest(text=text):
                self.tool("simulate", "--profile", "regulator-shunt-240", "--meter", "scpi", "--meter-at", text, code=2)


if __name__ == "__main__":
    unittest.main()
