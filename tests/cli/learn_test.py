"""Learning a part from its readings, through the real binary and the simulator: nothing measured is lost, and what is learned
passes the part it was learned from."""
import json
import os
import pathlib
import signal
import subprocess
import tomllib
import unittest

from harness import OPEN, SOURCE, TOOL, EndToEnd, ScriptedHands, ScriptedMeter, lcd_frame


def shape_of(profile):
    """Terminals, exposed metal and positions of a shipped profile, read with Python's own TOML reader."""
    with open(SOURCE / f"profiles/{profile}.toml", "rb") as file:
        text = tomllib.load(file)
    return (",".join(text["terminals"]["names"]), ",".join(text["terminals"].get("exposed_metal", [])),
            ",".join(position["id"] for position in text["position"]))


class Learning(EndToEnd):
    def setUp(self):
        super().setUp()
        self.out = self.dir / "learned.toml"

    def command(self, ready, *options, terminals="L1,L2,H1,H2,P", positions="off,low,medium,high", metal="CASE"):
        return ["profiles", "learn", "--meter", "lcd-segment-14", "--port", ready["port"], "--hands", "sim:" + ready["hands"],
                "--acknowledge", "de-energised", "--settle", "0.03s", "--output", self.out,
                *(["--terminals", terminals] if terminals else []), *(["--metal", metal] if metal else []),
                *(["--positions", positions] if positions else []), *options]

    def learn(self, ready, *options, code=0, **more):
        return self.tool(*self.command(ready, *options, **more), code=code, timeout=120)

    def record(self):
        return json.loads(self.tool("records", "--json").stdout.splitlines()[0])

    def stopped_half_way(self, ready, stop):
        """Runs until half of the pairs are read and stops it."""
        process = subprocess.Popen([TOOL, *map(str, self.command(ready))], env=self.env, cwd=self.dir, text=True,
                                   stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(lambda: (process.stdout.close(), process.stderr.close()))
        seen = 0
        for line in process.stdout:
            seen += line.startswith("  ") and "-" in line[:12]
            if seen == 6:
                break
        stop(process)
        process.wait(timeout=20)
        return process.returncode, process.stderr.read()


class LearnTest(Learning):
    def test_a_learned_profile_passes_the_part_it_was_learned_from_and_fails_a_welded_one(self):
        ready = self.simulator()
        done = self.learn(ready, "--voltage", "240", "--current", "15", "--title", 'A "known-good" part')
        self.assertIn("contact  L2-H2", done.stdout)
        self.assertIn("may as well be", done.stdout)  # L1, H1 and P are joined together
        text = self.out.read_text()
        self.assertIn("to be reviewed", text)
        self.assertIn("SIMULATOR", text)
        self.assertIn("may as well be", text)
        shown = [json.loads(line) for line in self.tool("profiles", self.out, "--json").stdout.splitlines()]
        self.assertEqual(len(shown), 60)
        self.assertEqual(self.qualify(ready, profile=str(self.out))[-1]["verdict"], "pass")
        self.assertEqual(self.qualify(self.simulator("--fault", "stuck-closed:cycling"), profile=str(self.out), code=1)[-1]["verdict"],
                         "fail")

    def test_a_terminal_that_joins_nothing_is_learned_as_such(self):
        profile = self.dir / "blind.toml"
        text = (SOURCE / "profiles/interlock-door.toml").read_text()
        names = tomllib.loads(text)["terminals"]["names"]
        written = "names = " + json.dumps(names)
        self.assertIn(written, text)
        profile.write_text(text.replace(written, 'names = %s\nunconnected = ["X"]' % json.dumps(names + ["X"])))
        ready = self.simulator(profile=profile)
        terminals, metal, positions = shape_of("interlock-door")
        done = self.learn(ready, terminals=terminals + ",X", metal=metal, positions=positions)
        self.assertIn("X read open to everything", done.stdout)
        learned = tomllib.loads(self.out.read_text())
        self.assertEqual(learned["terminals"]["unconnected"], ["X"])
        self.tool("profiles", "check", self.out)
        self.assertEqual(self.qualify(ready, profile=str(self.out))[-1]["verdict"], "pass")

    def test_a_file_that_exists_is_not_overwritten_and_wrong_names_are_refused_before_the_work(self):
        ready = self.simulator()
        self.out.write_text("mine")
        self.learn(ready, code=2)
        self.assertEqual(self.out.read_text(), "mine")
        self.out.unlink()
        for terminals, positions, metal in (("L1,L1", "off,low", "CASE"), ("L1", "off,low", ""), ("L 1,L2", "off,low", "CASE"),
                                            ("L1,L2", "off,off", "CASE"), ("L1,L2", "", "CASE"), ("", "off", "")):
            self.learn(ready, terminals=terminals, positions=positions, metal=metal, code=2)
        self.assertFalse(self.out.exists())
        self.assertEqual(self.tool("records", "--json").stdout, "")

    def test_without_the_acknowledgement_nothing_is_measured(self):
        ready = self.simulator()
        self.tool("profiles", "learn", "--meter", "lcd-segment-14", "--port", ready["port"], "--hands", "sim:" + ready["hands"],
                  "--terminals", "L1,L2", "--positions", "off", "-o", "x.toml", code=2)


class NothingIsLost(Learning):
    def test_ctrl_c_keeps_what_was_read_and_the_work_goes_on(self):
        ready = self.simulator()
        code, error = self.stopped_half_way(ready, lambda p: p.send_signal(signal.SIGINT))
        self.assertEqual(code, 130, error)
        record = self.record()
        self.assertIn("--resume " + record["record"], error)
        self.assertEqual((record["kind"], record["verdict"]), ("learn", "unfinished"))
        before = json.loads(self.tool("report", record["record"], "--format", "json").stdout)
        read = [i for i in before["indications"] if i["quantity"] == "resistance"]
        self.assertGreater(len(read), 20)
        done = self.learn(ready, "--resume", record["record"], terminals="", positions="", metal="")
        self.assertIn("are kept", done.stdout)
        after = json.loads(self.tool("report", record["record"], "--format", "json").stdout)
        ohms = [i for i in after["indications"] if i["quantity"] == "resistance"]
        self.assertLess(len(ohms), len(read) + 60)  # not everything over again
        self.assertEqual(self.record()["verdict"], "learned")
        self.assertEqual(self.qualify(ready, profile=str(self.out))[-1]["verdict"], "pass")
        self.assertIn("chain whole", self.tool("records", "--check").stdout)

    def test_a_killed_process_keeps_what_was_read(self):
        ready = self.simulator()
        self.stopped_half_way(ready, lambda p: p.kill())
        ready = self.simulator()
        self.learn(ready, "--resume", "latest", terminals="", positions="", metal="")
        self.assertEqual(self.record()["verdict"], "learned")

    def test_a_lost_meter_is_exit_4_and_keeps_what_was_read(self):
        simulator = subprocess.Popen([TOOL, "simulate", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--rate", "200"],
                                     env=self.env, text=True, stdout=subprocess.PIPE)
        self.addCleanup(lambda: (simulator.kill(), simulator.wait(), simulator.stdout.close()))
        ready = json.loads(simulator.stdout.readline())
        process = subprocess.Popen([TOOL, *map(str, self.command(ready, "--patience", "2s"))], env=self.env, cwd=self.dir, text=True,
                                   stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(lambda: (process.stdout.close(), process.stderr.close()))
        for line in process.stdout:
            if line.startswith("  ") and "-" in line[:12]:
                break
        simulator.kill()
        process.stdout.read()
        self.assertEqual(process.wait(timeout=30), 4)
        self.assertIn("--resume", process.stderr.read())
        self.learn(self.simulator(), "--resume", "latest", terminals="", positions="", metal="")
        self.assertEqual(self.record()["verdict"], "learned")

    @unittest.skipUnless(os.getuid() == 0, "skipped: needs root to mount a small file system")
    def test_a_disk_that_fills_while_a_part_is_learned_loses_nothing(self):
        small = self.dir / "small"
        small.mkdir()
        if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=640k", "tmpfs", small]).returncode != 0:
            self.skipTest("skipped: a small file system cannot be mounted here")
        self.addCleanup(subprocess.run, ["umount", "-l", small])
        self.env["SWITCHWRIGHT_STORE"] = str(small / "records.sqlite")
        self.tool("records")
        ready = self.simulator(rate="100")
        done = self.learn(ready, code=5)
        rescue = done.stderr.split("--restore ")[-1].strip()
        self.addCleanup(lambda: [p.unlink() for p in pathlib.Path(rescue).parent.glob(pathlib.Path(rescue).name + "*")])
        subprocess.run(["mount", "-o", "remount,size=8m", small], check=True)
        self.assertIn("back in record", self.tool("records", "--restore", rescue).stdout)
        # Everything had been read: the profile comes from the record alone.
        self.tool("profiles", "learn", "--resume", "latest", "--output", self.out)
        self.assertEqual(self.record()["verdict"], "learned")

    def test_a_profile_that_could_not_be_written_is_written_again_from_the_record(self):
        ready = self.simulator()
        self.out = self.dir / "no-such-folder" / "learned.toml"
        done = self.learn(ready, code=None)
        self.assertNotEqual(done.returncode, 0)
        record = self.record()
        self.assertEqual(record["verdict"], "learned")
        self.out = self.dir / "again.toml"
        # No meter, no hands: everything is in the record.
        self.tool("profiles", "learn", "--resume", record["record"], "--output", self.out)
        self.assertEqual(self.qualify(ready, profile=str(self.out))[-1]["verdict"], "pass")


class Reports(Learning):
    def test_the_record_is_reported_in_every_format_and_its_json_keeps_the_schema(self):
        try:
            import jsonschema
        except ImportError:
            self.skipTest("SKIPPED: needs the Debian package python3-jsonschema")
        ready = self.simulator()
        self.learn(ready)
        record = self.record()["record"]
        text = self.tool("report", record).stdout
        self.assertTrue(text.startswith("SIMULATED"))
        for words in ("LEARNED:", "WHAT WAS LEARNED", "contact L2-H2", "may as well be", "READINGS"):
            self.assertIn(words, text)
        html = self.tool("report", record, "--format", "html").stdout
        self.assertIn("What was learned", html)
        rows = self.tool("report", record, "--format", "csv").stdout.splitlines()
        self.assertEqual(len(rows), 61)
        document = json.loads(self.tool("report", record, "--format", "json").stdout)
        jsonschema.validate(document, json.loads((SOURCE / "src/report/record.schema.json").read_text()))
        kept = json.loads([r for r in document["results"] if r["kind"] == "learned"][0]["json"])
        self.assertEqual(kept["profile"], self.out.read_text())
        self.assertNotIn("verdict", document)


class ShippedProfiles(Learning):
    """Learned, checked, qualified by what was learned, and found again in the library."""

    def is_learned_again(self, profile):
        terminals, metal, positions = shape_of(profile)
        ready = self.simulator(profile=profile)
        self.learn(ready, terminals=terminals, metal=metal, positions=positions)
        self.tool("profiles", "check", self.out)
        record = self.record()["record"]
        self.assertEqual(self.qualify(ready, profile=str(self.out))[-1]["verdict"], "pass")
        lines = [json.loads(line) for line in self.tool("profiles", "match", record, "--json").stdout.splitlines()]
        found = [line for line in lines if line["type"] == "match"]
        # First, or in the group that no reading without power tells apart (one leg cycles, or both).
        self.assertIn(profile, [found[0]["profile"], *found[0]["same_readings_as"]], found[:3])
        self.assertLessEqual(len(found[0]["same_readings_as"]), 1)
        self.assertEqual(found[0]["fails"], 0)
        left_out = [line for line in lines if line["type"] == "left-out"]
        self.assertTrue(all("terminal" in line["why"] or "position" in line["why"] for line in left_out), left_out)
        shipped = len(list((SOURCE / "profiles").glob("*.toml")))
        self.assertEqual(len(found) + len(left_out), shipped)

    def test_regulator_both_legs_is_learned_passes_and_is_found(self):
        self.is_learned_again("regulator-both-legs-240")

    def test_regulator_series_is_learned_passes_and_is_found(self):
        self.is_learned_again("regulator-series-240")

    def test_regulator_shunt_208_is_learned_passes_and_is_found(self):
        self.is_learned_again("regulator-shunt-208")

    def test_regulator_shunt_120_is_learned_passes_and_is_found(self):
        self.is_learned_again("regulator-shunt-120")

    def test_regulator_shunt_240_is_learned_passes_and_is_found(self):
        self.is_learned_again("regulator-shunt-240")

    def test_three_heat_selector_is_learned_passes_and_is_found(self):
        self.is_learned_again("selector-three-heat")

    def test_thermostat_is_learned_passes_and_is_found(self):
        self.is_learned_again("thermostat-pilot")

    def test_high_limit_is_learned_passes_and_is_found(self):
        self.is_learned_again("high-limit-manual-reset")

    def test_door_interlock_is_learned_passes_and_is_found(self):
        self.is_learned_again("interlock-door")

    def test_contactor_is_learned_passes_and_is_found(self):
        self.is_learned_again("contactor-two-pole")

    def test_rocker_with_lamp_is_learned_passes_and_is_found(self):
        self.is_learned_again("rocker-lamp")

    def test_changeover_relay_is_learned_passes_and_is_found(self):
        self.is_learned_again("relay-changeover")

    def test_dual_circuit_regulator_is_learned_passes_and_is_found(self):
        self.is_learned_again("regulator-dual-240")


class WrongReadings(Learning):
    """A meter and hands of our own, so that one reading can be wrong at first."""

    def test_readings_that_no_network_gives_are_named_and_measured_again(self):
        hands = ScriptedHands(self.dir)
        wrong = {"now": True}

        def speak():
            where = hands.now
            if where.get("dial", "").startswith("voltage"):
                direct = where["dial"] == "voltage-dc"
                return lcd_frame("0240" if where["probes"] == "known-source" else "0000", point=4, unit="V", ac=not direct,
                                 dc=direct)
            pair = frozenset(where.get("pair", ()))
            if where.get("probes") == "shorted":
                return lcd_frame("0002", point=4)
            if wrong["now"] and pair == {"A", "C"}:
                return lcd_frame(**OPEN)  # a probe that slipped: A-B and B-C are joined
            return lcd_frame("0003", point=4) if where.get("position") == "on" else lcd_frame(**OPEN)
        meter = ScriptedMeter(speak, every_s=0.01)
        self.addCleanup(meter.close)
        self.addCleanup(hands.close)
        ready = {"port": meter.port, "hands": hands.path}
        done = self.learn(ready, terminals="A,B,C", positions="off,on", metal="", code=3)
        self.assertIn("No network", done.stdout)
        self.assertIn("A-C at on: open", done.stdout)
        self.assertFalse(self.out.exists())
        self.assertEqual(self.record()["verdict"], "unfinished")
        wrong["now"] = False
        (self.dir / "again").mkdir()
        again = ScriptedHands(self.dir / "again")
        self.addCleanup(again.close)
        hands.now = again.now
        done = self.learn({"port": meter.port, "hands": again.path}, "--resume", "latest", terminals="", positions="", metal="")
        lines = [line for line in done.stdout.splitlines() if line.startswith("  A-") or line.startswith("  B-")]
        self.assertEqual([line.split()[0] for line in lines], ["A-C"])  # only what was in doubt
        self.assertEqual(self.record()["verdict"], "learned")


if __name__ == "__main__":
    unittest.main()
