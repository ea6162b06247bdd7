"""Incoming inspection over a real pseudo-terminal: a simulated carton, the real binary, from opening to the report."""
import json
import os
import pty
import select
import signal
import sqlite3
import subprocess
import time
import unittest

from harness import TOOL, EndToEnd, ScriptedMeter, _end, lcd_frame, wait_until

PROFILE = """schema = 1
title = "One contact, for a test"
values = "invented for a test"
[rating]
voltage_v = 240
current_a = 15
[terminals]
names = ["L1", "H1", "H2"]
[[position]]
id = "off"
[[position]]
id = "on"
[[contact]]
id = "line"
between = ["L1", "H1"]
closed_at = ["on"]
[[element]]
id = "heater"
between = ["H1", "H2"]
nominal_ohm = 1000
tolerance_pct = 10
[limits]
closed_max_ohm = 2.0
sound_max_ohm = 2.0
open_min_ohm = 1e6
"""


class LotBench(EndToEnd):
    def setUp(self):
        super().setUp()
        self.profile = self.dir / "one.toml"
        self.profile.write_text(PROFILE)
        (self.dir / "other.toml").write_text(PROFILE.replace("nominal_ohm = 1000", "nominal_ohm = 750").replace("One contact", "Other version"))

    def open(self, *options, size=8, number="L1", simulated=True, code=0, agreed=("major=8:1", "minor=8:1")):
        plans = [word for plan in agreed for word in ("--agreed", plan)]
        done = self.tool("lot", "open", "--part", "P-1", "--supplier", "S", "--lot-number", number, "--size", size, "--condition", "new",
                         "--profile", self.profile, "--meter", "lcd-segment-14", "--operator", "Ada", "--seed", 1, "--json", *plans,
                         *(["--simulated"] if simulated else []), *options, code=code)
        return json.loads(done.stdout) if code == 0 else done

    def carton(self, *options, size=8):
        return self.simulator("--lot", str(size), *options, profile=self.profile)

    def arguments(self, command, lot, ready, *options):
        return ["lot", command, lot, "--port", ready["port"], "--hands", "sim:" + ready["hands"], "--operator", "Ada", "--acknowledge",
                "never-connected", "--settle", "0.03s", "--json", *options]

    def run_lot(self, lot, ready, *options, command="run", code=0):
        done = self.tool(*self.arguments(command, lot, ready, *options), code=code)
        return [json.loads(line) for line in done.stdout.splitlines()]

    def close(self, lot, code):
        return json.loads(self.tool("lot", "close", lot, "--operator", "Ada", "--json", code=code).stdout)

    def rows(self, sql):
        return sqlite3.connect(self.store).execute(sql).fetchall()


class Lot(LotBench):
    def test_a_lot_of_good_parts_is_accepted_end_to_end(self):
        opened = self.open("--full-every", 4)
        lines = self.run_lot(opened["lot"], self.carton())
        last = [line for line in lines if line["type"] == "lot"][-1]
        self.assertEqual((last["done"], last["good"], last["decision_now"]), (8, 8, "accept"))
        self.assertEqual(self.close(opened["lot"], 0)["decision"], "accept")
        # Units 4 and 8 had the full plan, the others the short one.
        self.assertEqual(self.rows("select place, plan from lot_unit where what = 'tested' order by place"),
                         [(n, "full" if n % 4 == 0 else "short") for n in range(1, 9)])
        # The meter was proven once in the sitting, and nothing was read as absence of voltage: the parts are new.
        self.assertEqual(self.rows("select count(*) from step where kind = 'prove-meter'"), [(2,)])
        self.assertEqual(self.rows("select count(*) from step where kind = 'absence-of-voltage'"), [(0,)])
        # Every unit's record says who acknowledged what, and where the proof stands.
        self.assertEqual(self.rows("select count(*) from acknowledgement where what = 'never-connected'"), [(9,)])
        self.assertIn("chain whole", self.tool("records", "--check").stdout)
        html = self.tool("lot", "report", "L1").stdout
        # 0 of 8: Clopper-Pearson 1 - 0.025^(1/8) = 36.94 %, Wilson 3.8415 / (8 + 3.8415) = 32.44 % (by hand).
        self.assertIn("0.00 % to 36.94 % (Clopper-Pearson); 0.00 % to 32.44 % (Wilson)", html)
        self.assertIn("SIMULATED", html)
        self.assertIn("0.1 ohm does not resolve it", html)  # contacts of milliohms on a display of tenths

    def test_rejection_that_is_certain_ends_the_work_and_finish_goes_on(self):
        opened = self.open(agreed=("major=8:0", "minor=8:1"))
        ready = self.carton("--lot-fault", "open:heater=100%")
        lines = self.run_lot(opened["lot"], ready, code=1)
        last = [line for line in lines if line["type"] == "lot"][-1]
        self.assertTrue(last["rejection_certain"])
        self.assertEqual((last["done"], last["decision_now"]), (1, "reject"))
        # What deviated on the short plan got the full one, in a record of its own.
        self.assertEqual(self.rows("select plan, outcome from lot_unit where what = 'tested' order by at"), [("short", "fail"), ("full", "fail")])
        done = self.run_lot(opened["lot"], ready, "--finish", command="next", code=1)
        self.assertEqual([line for line in done if line["type"] == "lot"][-1]["done"], 2)
        decision = self.close(opened["lot"], 1)
        self.assertIn("Major: 2 defective among the 8 units of its sample, rejected from 1 on.", decision["reason"])

    def test_an_undecided_unit_is_never_counted_as_good_and_holds_the_lot(self):
        opened = self.open(agreed=("critical=2:0", "major=2:0", "minor=2:0"))
        # A contact of just the 2 ohm that it may have: no meter with digits of 0.1 ohm decides that.
        ready = self.carton("--lot-fault", "resistive:line=2.0=100%")
        self.run_lot(opened["lot"], ready, code=3)
        states = [json.loads(line) for line in self.tool("lot", "status", "L1", "--json").stdout.splitlines()]
        self.assertEqual([line["state"] for line in states if line["type"] == "unit"], ["undecided", "undecided"])
        decision = self.close(opened["lot"], 3)
        self.assertEqual(decision["decision"], "hold")
        self.assertIn("2 units are undecided", decision["reason"])

    def test_units_not_tested_hold_the_lot(self):
        opened = self.open()
        self.run_lot(opened["lot"], self.carton(), command="next")
        self.assertIn("7 units of the sample are not tested", self.close(opened["lot"], 3)["reason"])

    def test_killed_in_the_middle_it_goes_on_at_the_reading_where_it_stopped(self):
        opened = self.open(agreed=("major=2:0", "minor=2:0"))
        ready = self.carton()
        process = subprocess.Popen([TOOL, *self.arguments("run", opened["lot"], ready)], env=self.env, text=True, stdout=subprocess.PIPE,
                                   stderr=subprocess.DEVNULL)
        self.addCleanup(_end, process)
        judged = 0
        for line in process.stdout:
            judged += json.loads(line)["type"] == "judged"
            if judged == 2:
                break
        process.send_signal(signal.SIGKILL)
        process.wait()
        begun = self.rows("select unit_record from lot_unit where what = 'begun'")
        kept = self.rows("select count(*) from indication i join step s using (record_id, step) where s.kind = 'measure'")[0][0]
        self.assertGreaterEqual(kept, 1)
        lines = self.run_lot(opened["lot"], ready)
        self.assertTrue(any(line["type"] == "note" and "readings of an earlier session are kept" in line["text"] for line in lines))
        tested = self.rows("select unit_record, outcome from lot_unit where what = 'tested' order by place")
        self.assertEqual(tested[0], (begun[0][0], "pass"))
        self.assertEqual(self.close(opened["lot"], 0)["decision"], "accept")

    def test_a_serial_number_that_was_had_before_is_never_taken_silently(self):
        opened = self.open(agreed=("major=8:1", "minor=8:1"))
        first, second = opened["units"][:2]
        ready = self.carton("--same-label", f"{second}={first}")
        done = self.tool(*self.arguments("run", opened["lot"], ready), code=2)
        self.assertIn(f"is that of unit {first} already, which passed", done.stderr)
        self.assertIn("--repeated", done.stderr)
        self.run_lot(opened["lot"], ready, "--repeated", "same", command="next")
        retested = self.rows("select place, retest from lot_unit where what = 'tested' order by at")
        self.assertEqual(retested, [(1, 0), (1, 1)])  # the same piece stands at its own place once more; place 2 is still open

    def test_without_a_terminal_every_missing_choice_names_its_option(self):
        done = self.tool("lot", "open", "--part", "P", "--profile", self.profile, "--meter", "lcd-segment-14", code=2)
        self.assertIn("--supplier", done.stderr)
        opened = self.open()
        ready = self.carton()
        base = ["lot", "run", opened["lot"], "--hands", "sim:" + ready["hands"]]
        self.assertIn("--port", self.tool(*base, code=2).stderr)
        base += ["--port", ready["port"]]
        self.assertIn("--operator", self.tool(*base, code=2).stderr)
        self.assertIn("--acknowledge never-connected", self.tool(*base, "--operator", "Ada", code=2).stderr)
        self.assertIn("--operator", self.tool("lot", "close", opened["lot"], code=2).stderr)

    def test_a_bench_that_reads_a_known_resistor_wrongly_stops_work(self):
        opened = self.open("--reference", "R100=100+-0.05", agreed=("major=2:0", "minor=2:0"))
        good = self.carton("--reference", "R100=100")
        self.run_lot(opened["lot"], good, command="next")
        self.assertEqual(self.rows("select is_in from bench_check"), [(1,)])
        # 0.8 % of 100 ohm and three digits of 0.1 ohm are 1.1 ohm; with leads, tips and the resistor's own some 1.4: 105 is out.
        wrong = self.carton("--reference", "R100=105")
        done = self.tool(*self.arguments("run", opened["lot"], wrong), code=4)
        self.assertIn("the bench is out", done.stderr)
        self.assertEqual(self.rows("select is_in from bench_check"), [(1,), (0,)])
        states = [json.loads(line) for line in self.tool("lot", "status", "L1", "--json").stdout.splitlines()]
        self.assertEqual(states[1]["state"], "undecided")  # tested before the check that was out
        self.assertIn("The latest bench check was out", self.close(opened["lot"], 3)["reason"])

    def test_what_was_tested_since_the_last_bench_check_is_accepted_only_when_the_bench_still_reads_well(self):
        for after, code, decision in (("100", 0, "accept"), ("105", 3, "hold")):
            with self.subTest(after=after):
                opened = self.open("--reference", "R100=100+-0.05", agreed=("major=2:0", "minor=2:0"), size=4, number="N" + after)
                self.run_lot(opened["lot"], self.carton("--reference", "R100=100", size=4), command="next", code=0)
                # The bench is changed before the last unit, and the check is not due for hours.
                last = self.carton("--reference", "R100=" + after, size=4)
                done = self.tool(*self.arguments("run", opened["lot"], last, "--check-every", "8h"), code=None)
                if decision == "accept":
                    self.assertEqual(json.loads([line for line in done.stdout.splitlines() if '"type":"lot"' in line][-1])["decision_now"], "accept")
                self.assertEqual(self.close(opened["lot"], code)["decision"], decision)

    def test_a_unit_whose_test_was_begun_is_not_replaced_away(self):
        opened = self.open(agreed=("major=2:1", "minor=2:1"))
        ready = self.simulator("--lot", "8", "--lot-fault", "open:heater=100%", profile=self.profile, rate="20")
        process = subprocess.Popen([TOOL, *map(str, self.arguments("run", opened["lot"], ready))], env=self.env,
                                   cwd=self.dir, text=True, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        self.addCleanup(_end, process)
        for line in process.stdout:
            if json.loads(line)["type"] == "judged":
                process.send_signal(signal.SIGINT)
                break
        process.stdout.read()
        self.assertEqual(process.wait(timeout=20), 130)
        unit = self.rows("select unit from lot_unit where what = 'begun'")[0][0]
        self.tool("lot", "lost", "L1", "--unit", unit, "--reason", "dropped", "--operator", "Ada")
        said = self.tool("lot", "replace", "L1", "--unit", unit, "--reason", "dropped", "--operator", "Ada", code=2).stderr
        self.assertIn("was begun and not finished", said)

    def test_a_unit_of_another_version_is_named(self):
        opened = self.open("--version", self.dir / "other.toml", agreed=("major=8:5", "minor=8:1"))
        ready = self.carton("--lot-version", f"{self.dir / 'other.toml'}=25%", size=8)
        self.run_lot(opened["lot"], ready, "--finish", code=0)
        html = self.tool("lot", "report", "L1").stdout
        self.assertIn("6 of 8 units have the element of the version that was ordered", html)
        for unit in ready["carton"]["profile:other"]:
            self.assertIn(f"Unit {unit} (SIM-{unit:04})", html)

    def test_a_changed_unit_row_is_found_out(self):
        opened = self.open(agreed=("major=2:0", "minor=2:0"))
        self.run_lot(opened["lot"], self.carton("--lot-fault", "open:heater=100%"), "--finish", code=1)
        database = sqlite3.connect(self.store)
        database.execute("update lot_unit set outcome = 'pass'")
        database.commit()
        self.assertIn("not as it was written", self.tool("lot", "status", "L1", code=5).stderr)
        self.assertNotIn("chain whole", self.tool("records", "--check", opened["lot"], code=5).stdout)

    def test_lost_and_replaced_units_are_added_and_a_failed_unit_cannot_be_replaced(self):
        opened = self.open(agreed=("major=2:1", "minor=2:1"), size=8)
        first, second = opened["units"]
        self.tool("lot", "lost", "L1", "--unit", first, "--reason", "dropped", "--operator", "Ada")
        self.tool("lot", "replace", "L1", "--unit", first, "--reason", "dropped", "--operator", "Ada")
        self.assertEqual([row[0] for row in self.rows("select what from lot_unit order by at")], ["lost", "replaced"])
        new = self.rows("select unit from lot_unit where what = 'replaced'")[0][0]
        self.assertNotIn(new, (first, second))
        ready = self.carton("--lot-fault", "open:heater=100%")
        self.run_lot(opened["lot"], ready, command="next", code=1)
        self.assertIn("it counts", self.tool("lot", "replace", "L1", "--unit", new, "--reason", "x", "--operator", "Ada", code=2).stderr)

    def test_the_table_gives_sample_and_numbers_and_critical_defects_are_accepted_on_zero(self):
        # MIL-STD-105E Tables I and II-A: 200 units, level II: letter G; AQL 1.0: arrow to H, 50, 1/2; AQL 2.5: 32, 2/3.
        opened = self.open(size=200, agreed=())
        self.assertEqual([(c["severity"], c["sample_size"], c["accept"], c["reject"]) for c in opened["classes"]],
                         [("critical", 50, 0, 1), ("major", 50, 1, 2), ("minor", 32, 2, 3)])
        self.assertEqual(len(set(opened["units"])), 50)
        self.assertEqual(self.open(size=200, agreed=(), number="L2")["units"], opened["units"])  # the same seed

    def test_the_history_proposes_tightened_after_two_of_five_rejected(self):
        # MIL-STD-105E 4.7.1: two of five or fewer consecutive lots not accepted.
        for number in ("A", "B"):
            opened = self.open(number=number, agreed=("critical=2:0", "major=2:0", "minor=2:1"))
            self.run_lot(opened["lot"], self.carton("--lot-fault", "open:heater=100%"), code=1)
            self.close(opened["lot"], 1)
        lines = [json.loads(line) for line in self.tool("lot", "history", "--part", "P-1", "--supplier", "S", "--json").stdout.splitlines()]
        self.assertEqual(lines[-1]["mode"], "tightened")
        self.assertEqual(self.open(number="C", agreed=("major=8:0", "minor=8:1"))["mode"], "tightened")


    one_unit = ("critical=1:0", "major=1:0", "minor=1:0")

    def reject(self, number, ready, *options):
        opened = self.open(*options, number=number, agreed=self.one_unit)
        self.run_lot(opened["lot"], ready, code=1)
        self.close(opened["lot"], 1)
        return opened

    def history(self):
        return json.loads(self.tool("lot", "history", "--part", "p-1 ", "--supplier", " s", "--json").stdout.splitlines()[-1])

    def test_a_lot_that_was_not_accepted_comes_again_only_as_what_it_is_and_never_helps_its_supplier(self):
        # MIL-STD-105E 4.7: the switching rules count original inspection only.
        bad = self.carton("--lot-fault", "open:heater=100%")
        first = self.reject("A", bad)
        self.assertIn("is there already", self.open(number=" a ", code=2).stderr)
        self.assertIn("--rework", self.open("--resubmits", "A", number="A2", code=2).stderr)
        again = self.open("--resubmits", "A", "--rework", "sorted, 3 taken out", number="A2", agreed=self.one_unit)
        self.assertEqual((again["mode"], again["resubmits"]), ("tightened", first["lot"]))
        self.run_lot(again["lot"], self.carton())
        self.close(again["lot"], 0)
        self.assertIn("only a lot that was not accepted", self.open("--resubmits", "A2", "--rework", "x", number="A3", code=2).stderr)
        self.assertIn("sorted, 3 taken out", self.tool("lot", "report", "A2").stdout)
        self.assertEqual(self.history()["mode"], "normal")
        self.reject("B", bad)  # the second original lot of two: the accepted one between them does not count
        self.assertEqual(self.history()["mode"], "tightened")

    def test_after_five_lots_rejected_on_tightened_none_is_opened_until_the_supplier_has_acted(self):
        # MIL-STD-105E 4.8.
        bad = self.carton("--lot-fault", "open:heater=100%")
        for number in "ABCDEFG":  # two on normal, five on tightened
            self.reject(number, bad)
        self.assertTrue(self.history()["discontinued"])
        self.assertIn("--corrective-action", self.open(number="H", code=2).stderr)
        opened = self.open("--corrective-action", "new tool for the bimetal", number="H", agreed=self.one_unit)
        self.assertEqual(opened["mode"], "tightened")
        self.assertFalse(self.history()["discontinued"])
        self.assertIn("not discontinued", self.open("--corrective-action", "x", number="I", code=2).stderr)


    def test_what_another_instrument_showed_of_a_unit_is_judged_and_a_unit_without_it_is_not_good(self):
        self.profile.write_text(PROFILE + """[[stated]]
id = "insulation"
quantity = "insulation-resistance"
what = "all terminals together, 500 V DC"
min_ohm = 1e6
severity = "critical"
""")
        opened = self.open(agreed=("critical=2:0", "major=2:0", "minor=2:0"))
        ready, good = self.carton(), "insulation=500 Mohm, U=10%, instrument=IT-7, due=2099-01-31"
        self.run_lot(opened["lot"], ready, command="next", code=3)  # nobody says what the insulation is: undecided
        self.run_lot(opened["lot"], ready, "--stated", good.replace("500", "0.5"), command="next", code=1)
        self.assertEqual(self.rows("select outcome from lot_unit where what = 'tested' and plan = 'short' order by place"),
                         [("undecided",), ("fail",)])
        other = self.open(number="L2", agreed=self.one_unit)
        self.run_lot(other["lot"], ready, "--stated", good, command="next")


class AskedInATerminal(LotBench):
    def test_a_repeated_serial_number_is_asked_about_and_none_is_offered(self):
        opened = self.open(simulated=False, agreed=("major=2:0", "minor=2:0"))
        meter = ScriptedMeter(lambda: lcd_frame("0000", point=2, unit="V", ac=True), every_s=0.05)
        self.addCleanup(meter.close)
        command = [TOOL, "lot", "run", opened["lot"], "--port", meter.port, "--operator", "Ada", "--range", "auto", "--acknowledge", "never-connected"]
        self.screen, self.process, self.master = "", None, None

        def start():
            self.screen = ""
            pid, self.master = pty.fork()
            if pid == 0:
                os.execvpe(TOOL, command, self.env)
            self.addCleanup(self.end, pid)
            return pid

        def sees(text):
            def look():
                ready, _, _ = select.select([self.master], [], [], 0.1)
                if ready:
                    try:
                        self.screen += os.read(self.master, 65536).decode(errors="replace")
                    except OSError:
                        pass
                return text in self.screen
            self.assertTrue(wait_until(look, 30), self.screen)

        pid = start()
        sees(f"serial number of unit {opened['units'][0]} ")
        os.write(self.master, b"A-1\r")
        sees("known to be live")
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
        self.tool("lot", "lost", opened["lot"], "--unit", "A-1", "--reason", "fell down", "--operator", "Ada")
        start()
        sees(f"serial number of unit {opened['units'][1]} ")
        self.assertNotIn("A-1", self.screen)
        os.write(self.master, b"A-1\r")
        sees("is that of unit")
        sees("Enter = scan again")
        os.write(self.master, b"\r")
        sees("scan again: ")
        os.write(self.master, b"A-2\r")
        sees("known to be live")

    @staticmethod
    def end(pid):
        try:
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
        except (ProcessLookupError, ChildProcessError):
            pass




if __name__ == "__main__":
    unittest.main()
