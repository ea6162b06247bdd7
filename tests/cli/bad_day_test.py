"""Wrong input and bad luck: one clear sentence, the documented exit code, nothing lost."""
import json
import os
import pathlib
import socket
import subprocess
import tempfile
import unittest

from harness import OPEN, SOURCE, TOOL, EndToEnd, ScriptedHands, ScriptedMeter, lcd_frame


class WrongChoice(EndToEnd):
    def test_unknown_names_exit_2_with_the_near_name(self):
        rows = [(("meters", "lcd-segmnet-14"), "lcd-segment-14"),
                (("profiles", "regulator-shunt-241"), "regulator-shunt-240"),
                (("qualfy",), "qualify"),
                (("read", "--meter", "spci", "--port", "/dev/null"), "scpi")]
        for arguments, near in rows:
            with self.subTest(arguments=arguments):
                self.assertIn(f'did you mean "{near}"', self.tool(*arguments, code=2).stderr)

    def test_a_missing_choice_without_a_terminal_names_its_option(self):
        for arguments, option in [(("qualify",), "--profile"),
                                  (("qualify", "--profile", "regulator-shunt-240"), "--meter"),
                                  (("qualify", "--profile", "regulator-shunt-240", "--meter", "scpi"), "--port"),
                                  (("read", "--meter", "scpi"), "--port")]:
            with self.subTest(arguments=arguments):
                self.assertIn(option, self.tool(*arguments, code=2).stderr)

    def test_resistance_is_not_measured_without_the_acknowledgement(self):
        ready = self.simulator()
        done = self.tool("qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", ready["port"],
                         "--hands", "sim:" + ready["hands"], code=2)
        self.assertIn("--acknowledge de-energised", done.stderr)

    def test_an_unknown_fault_is_refused_with_what_there_is(self):
        done = self.tool("simulate", "--profile", "regulator-shunt-240", "--meter", "scpi", "--fault", "stuck-open:lien", code=2)
        self.assertIn('"line"', done.stderr)

    def test_a_profile_with_ten_mistakes_names_all_ten_with_line_and_column(self):
        text = (SOURCE / "profiles/regulator-shunt-240.toml").read_text()
        wrongs = [("voltage_v = 240", 'voltage_v = "240"'), ("current_a = 15", "current_a = -15"),
                  ('id = "low"', 'id = "off"'), ("angle_deg = 60", 'angle_deg = "sixty"'),
                  ('between = ["L1", "H1"]', 'between = ["L1", "L1"]'), ('between = ["L1", "P"]', 'between = ["L1", "PP"]'),
                  ("nominal_ohm = 14400", "nominal_ohm = 0"), ("tolerance_pct = 15", "tolerance = 15"),
                  ("closed_max_ohm = 2.0", "closed_max_ohm = -2.0"), ("schema = 1", "schema = 99")]
        numbers = {}
        for before, after in wrongs:
            self.assertIn(before, text)
            numbers[after] = text[:text.index(before)].count("\n") + 1
            text = text.replace(before, after, 1)
        bad = self.dir / "bad.toml"
        bad.write_text(text)
        done = self.tool("profiles", bad, code=2)
        for after, number in numbers.items():
            self.assertRegex(done.stderr, rf"bad\.toml:{number}:\d+: ", f"{after}\n{done.stderr}")

    def test_a_profile_that_contradicts_itself_is_refused(self):
        text = (SOURCE / "profiles/regulator-shunt-240.toml").read_text()
        bad = self.dir / "bad.toml"
        bad.write_text(text.replace('cycles_at = ["low", "medium"]', 'cycles_at = ["low", "medium", "high"]'))
        self.assertIn("high", self.tool("profiles", bad, code=2).stderr)

    def test_a_file_that_is_no_toml_says_where_it_stops_making_sense(self):
        bad = self.dir / "bad.toml"
        bad.write_text('schema = 1\ntitle = "x\n')
        self.assertRegex(self.tool("profiles", bad, code=2).stderr, r"bad\.toml:2:\d+: ")


class WrongPort(EndToEnd):
    def test_a_port_that_does_not_exist_is_exit_4(self):
        done = self.tool("read", "--meter", "lcd-segment-14", "--port", "/dev/ttyUSB77", "--count", 1, code=4)
        self.assertIn("/dev/ttyUSB77", done.stderr)
        self.assertIn("ports", done.stderr)

    @unittest.skipUnless(os.getuid() == 0, "SKIPPED: needs root to become a user without permission (setpriv, util-linux)")
    def test_a_port_without_permission_names_the_group(self):
        meter = ScriptedMeter(lambda: b"")
        self.addCleanup(meter.close)
        os.chmod(meter.port, 0o600)
        tool = self.dir / "switchwright"
        tool.write_bytes(pathlib.Path(TOOL).read_bytes())
        tool.chmod(0o755)
        self.dir.chmod(0o755)
        done = subprocess.run(["setpriv", "--reuid", "65534", "--clear-groups", str(tool), "read", "--meter",
                               str(self.copy_of("meters/lcd-segment-14.toml")), "--port", meter.port, "--count", "1"],
                              env=self.env, text=True, capture_output=True, timeout=20)
        self.assertEqual(done.returncode, 4, done.stderr)
        self.assertIn("dialout", done.stderr)

    def copy_of(self, name):
        copy = self.dir / pathlib.Path(name).name
        copy.write_text((SOURCE / name).read_text())
        copy.chmod(0o644)
        return copy

    def test_a_port_in_use_by_another_program_says_so(self):
        meter = ScriptedMeter(lambda: lcd_frame("0003", 4))
        self.addCleanup(meter.close)
        first = subprocess.Popen([TOOL, "read", "--meter", "lcd-segment-14", "--port", meter.port], env=self.env,
                                 stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        self.addCleanup(lambda: (first.kill(), first.wait(), first.stdout.close()))
        first.stdout.readline()
        done = self.tool("read", "--meter", "lcd-segment-14", "--port", meter.port, "--count", 1, code=4)
        self.assertIn("in use", done.stderr)

    def test_a_silent_meter_is_exit_4_and_says_what_to_try(self):
        meter = ScriptedMeter(lambda: b"")
        self.addCleanup(meter.close)
        done = self.tool("read", "--meter", "lcd-segment-14", "--port", meter.port, "--count", 1, code=4)
        self.assertRegex(done.stderr, "cable|button|adapter")

    def test_garbage_at_the_wrong_speed_is_not_taken_for_readings(self):
        meter = ScriptedMeter(lambda: bytes([0xF8, 0x00, 0x86, 0xE6, 0x80, 0xFE, 0x98]))
        self.addCleanup(meter.close)
        done = self.tool("read", "--meter", "lcd-segment-14", "--port", meter.port, "--count", 1, code=4)
        self.assertRegex(done.stderr, "speed|definition")
        self.assertEqual(done.stdout, "")

    def test_a_tcp_port_where_nobody_listens_is_exit_4(self):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        self.tool("read", "--meter", "scpi", "--port", f"tcp:127.0.0.1:{port}", "--count", 1, code=4)


class WrongFunction(EndToEnd):
    """The meter that a person left in the wrong state. Volts steps are answered right, ohms steps as the row says."""

    def run_with(self, ohms, patience="4s"):
        hands = ScriptedHands(tempfile.mkdtemp(dir=self.dir))
        self.addCleanup(hands.close)

        def speak():
            if hands.now.get("dial") != "resistance":
                live = hands.now.get("probes") == "known-source"
                dc = hands.now.get("dial") == "voltage-dc"
                return lcd_frame("0240" if live else "0000", 4, unit="V", ac=not dc, dc=dc)
            return lcd_frame(**ohms)

        meter = ScriptedMeter(speak)
        self.addCleanup(meter.close)
        return self.tool("qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", meter.port,
                         "--hands", "sim:" + hands.path, "--acknowledge", "de-energised", "--settle", "0.1s",
                         "--patience", patience, "--json", code=None)

    def test_a_reading_that_cannot_be_used_is_refused_with_the_next_step(self):
        rows = [(dict(digits="0000", point=4, unit="V", dc=True), "ohms"),
                (dict(digits="0003", point=4, hold=True), "(?i)hold"),
                (dict(digits="0003", point=4, relative=True), "(?i)relative")]
        for ohms, word in rows:
            with self.subTest(word=word):
                done = self.run_with(ohms)
                self.assertEqual(done.returncode, 4, done.stderr)
                self.assertRegex(done.stderr, word)
                refused = [e for e in map(json.loads, done.stdout.splitlines()) if e.get("refused")]
                self.assertTrue(refused)

    def test_volts_on_the_ohms_steps_stop_the_work_undecided(self):
        done = self.run_with(dict(digits="2301", point=4, unit="V", ac=True))
        self.assertEqual(done.returncode, 3, done.stderr)
        verdict = json.loads(done.stdout.splitlines()[-1])
        self.assertEqual(verdict["verdict"], "undecided")

    def test_a_low_battery_is_said_in_the_verdict(self):
        done = self.run_with(dict(digits="0001", point=4, low_battery=True))
        verdict = json.loads(done.stdout.splitlines()[-1])
        self.assertTrue(any("battery" in remark for remark in verdict["remarks"]), verdict["remarks"])


class FullDisk(EndToEnd):
    @unittest.skipUnless(os.getuid() == 0, "skipped: needs root to mount a small file system")
    def test_a_disk_that_fills_in_the_middle_loses_nothing(self):
        small = self.dir / "small"
        small.mkdir()
        if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=640k", "tmpfs", small]).returncode != 0:
            self.skipTest("skipped: a small file system cannot be mounted here")
        self.addCleanup(subprocess.run, ["umount", "-l", small])
        self.env["SWITCHWRIGHT_STORE"] = str(small / "records.sqlite")
        self.tool("records")
        ready = self.simulator(rate="100")
        done = self.tool("qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", ready["port"],
                         "--inspected", "yes",
                         "--hands", "sim:" + ready["hands"], "--acknowledge", "de-energised", "--settle", "0.05s", "--json", code=5)
        self.assertIn("rescue", done.stderr)
        events = [json.loads(line) for line in done.stdout.splitlines()]
        self.assertTrue(any(e["type"] == "note" and e["kind"] == "store-failed" for e in events))
        self.assertEqual(events[-1]["verdict"], "pass")
        rescue = done.stderr.split("--restore ")[-1].strip()
        self.addCleanup(lambda: [p.unlink() for p in pathlib.Path(rescue).parent.glob(pathlib.Path(rescue).name + "*")])
        subprocess.run(["mount", "-o", "remount,size=8m", small], check=True)
        self.assertIn("back in record", self.tool("records", "--restore", rescue).stdout)
        record = json.loads(self.tool("records", "--json").stdout)
        self.assertEqual(record["verdict"], "pass")
        self.assertIn("chain whole", self.tool("records", "--check").stdout)

    def test_a_store_that_cannot_be_opened_is_exit_5_before_any_work(self):
        rows = [self.dir / "not-there/records.sqlite", self.dir]
        text = self.dir / "text.sqlite"
        text.write_text("this is a letter, not a store\n" * 100)
        for path in [*rows, text]:
            with self.subTest(path=path):
                self.tool("records", "--store", path, code=5)


if __name__ == "__main__":
    unittest.main()
