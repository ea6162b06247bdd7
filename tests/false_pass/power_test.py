"""Under power: parts, records and supplies that must not pass, and by a wrong supply must not fail either."""
import json
import sqlite3
import subprocess
import unittest

from harness import SOURCE, TOOL, EndToEnd, _end, interrupt

ENERGISED = ("--acknowledge", "energised")
PROFILE = "regulator-shunt-240"


def energised(events):
    return [e for e in events if e.get("power") == "on"]


class UnderPower(EndToEnd):
    def cold(self, *faults, serial="T1", profile=PROFILE, code=0, options=()):
        """Without power; returns the record."""
        ready = self.simulator(*[word for fault in faults for word in ("--fault", fault)], profile=profile)
        return self.qualify(ready, "--serial", serial, "--inspected", "yes", *options, profile=profile,
                            code=code)[-1]["record"]

    def powered(self, *options, bench=(), profile=PROFILE, code=0, serial="T1"):
        """Under power alone, on a simulated bench of its own."""
        ready = self.simulator(*bench, profile=profile)
        done = self.tool("qualify", "--profile", profile, "--meter", "lcd-segment-14", "--port", ready["port"], "--hands",
                         "sim:" + ready["hands"], "--operator", "test", "--settle", "0.03s", "--json", "--powered", "only",
                         *ENERGISED, "--acknowledge", "de-energised", *(("--serial", serial) if serial else ()), *options,
                         code=code, timeout=240)
        return [json.loads(line) for line in done.stdout.splitlines()], done.stderr

    def refused(self, *options, words, code=2, **more):
        events, said = self.powered(*options, code=code, **more)
        self.assertEqual(energised(events), [])
        self.assertIn(words, said)


class ColdRecord(UnderPower):
    def test_no_record_or_no_serial_number_is_refused(self):
        self.refused(words="passed without power")
        self.cold()
        self.refused(serial="", words="serial number")
        self.refused(serial="T2", words="passed without power")
        self.refused("--cold", "20000101-000000-0000", words="record")

    def test_the_record_of_this_sitting_is_found_by_its_serial_number(self):
        record = self.cold()
        events, _ = self.powered()
        self.assertEqual(events[-1]["verdict"], "pass")
        self.assertIn(record, " ".join(events[-1]["remarks"]))
        self.assertTrue(energised(events))

    def test_another_part_or_another_profile_is_refused(self):
        record = self.cold()
        self.refused("--cold", record, serial="T2", words="T2")
        self.refused("--cold", record, profile="regulator-series-240", words="regulator-series-240")
        changed = self.dir / (PROFILE + ".toml")   # the same name, other limits
        changed.write_text((SOURCE / f"profiles/{PROFILE}.toml").read_text().replace("open_min_ohm = 1e6", "open_min_ohm = 1e5"))
        self.refused("--cold", record, profile=changed, words="changed")

    def test_a_record_that_failed_or_is_unfinished_is_refused(self):
        failed = self.cold("stuck-closed:cycling", code=1)
        self.refused("--cold", failed, words="did not pass")
        self.refused(words="did not pass")
        ready = self.simulator(rate="20")
        process = subprocess.Popen([TOOL, "qualify", "--profile", PROFILE, "--meter", "lcd-segment-14", "--port", ready["port"],
                                    "--hands", "sim:" + ready["hands"], "--acknowledge", "de-energised", "--serial", "U1",
                                    "--settle", "0.1s", "--json"], env=self.env, text=True, stdout=subprocess.PIPE,
                                   stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        for line in process.stdout:
            if json.loads(line)["type"] == "judged":
                interrupt(process)
                break
        process.stdout.read()
        process.wait(timeout=20)
        self.refused(serial="U1", words="unfinished")

    def test_a_later_record_that_did_not_pass_speaks_against_an_earlier_one(self):
        passed = self.cold()
        self.cold("stuck-open:line", code=1)
        self.refused("--cold", passed, words="later record")

    def test_a_later_fail_of_the_same_tag_written_otherwise_speaks_against_it_too(self):
        passed = self.cold(serial="t 1")
        self.cold("stuck-open:line", serial="T1", code=1)
        self.refused("--cold", passed, serial="t 1", words="later record")

    def test_a_part_that_failed_under_power_is_measured_without_power_first(self):
        passed = self.cold()
        self.powered(bench=("--fault", "stuck-closed:cycling"), code=1)
        self.refused("--cold", passed, words="later record")
        self.cold()
        self.powered()

    def test_a_record_under_power_alone_is_no_cold_record(self):
        self.cold()
        events, _ = self.powered()
        self.refused("--cold", events[-1]["record"], words="kind powered")

    def test_a_record_whose_chain_does_not_hold_is_refused(self):
        record = self.cold(serial="OTHER")
        store = sqlite3.connect(self.store)
        store.execute("UPDATE record SET serial = 'T1'")
        store.commit()
        store.close()
        self.refused("--cold", record, words="record", code=5)


class WrongSupply(UnderPower):
    # What the bench is, and which part: a good one and one whose cycling contact has welded since.
    BENCHES = [("--supply", "0"), ("--supply", "24"), ("--supply", "120"), ("--supply", "208"), ("--supply", "220"),
               ("--supply", "260"), ("--supply", "277"), ("--supply", "390"), ("--supply-between", "L1-H2"),
               ("--supply-between", "H1-H2"), ("--supply-between", "L1-P"), ("--supply-between", "H1-L2"),
               ("--earth", "L1"), ("--earth", "L2"), ("--earth", "star"), ("--supply-lost-at", "0.5"),
               ("--supply-lost-at", "1"), ("--supply-lost-at", "2"), ("--supply-lost-at", "1", "--supply-lost-for", "2"),
               ("--bond", "open"), ("--bond", "5"), ("--bond", "0.9")]

    def undecided(self, benches, *fault):
        self.cold()
        for bench in benches:
            with self.subTest(bench=bench, fault=fault):
                events, _ = self.powered(bench=(*bench, *fault), code=3)
                self.assertEqual(events[-1]["verdict"], "undecided")
                self.assertEqual([d for d in events[-1]["deviations"] if "position" in d], [])  # none of the part

    def test_a_supply_of_another_voltage_gives_no_pass(self):
        self.undecided(self.BENCHES[:8])

    def test_a_supply_between_other_points_gives_no_pass(self):
        self.undecided(self.BENCHES[8:15])

    def test_a_supply_that_is_lost_or_a_bond_that_is_missing_gives_no_pass(self):
        self.undecided(self.BENCHES[15:])

    def test_a_bad_part_does_not_fail_by_a_wrong_supply(self):
        # (Between L1 and H2 is left out: the weld itself makes that a right supply.)
        self.undecided([self.BENCHES[i] for i in (0, 3, 6, 9, 12, 13, 16)], "--fault", "stuck-closed:cycling")

    def test_metal_without_a_bond_is_never_energised(self):
        self.cold()
        for ohm in ("open", "5"):
            events, _ = self.powered(bench=("--bond", ohm), code=3)
            self.assertEqual(energised(events), [])

    def test_the_supply_is_off_whenever_a_probe_moves(self):
        self.cold()
        for options, moves in (((), 0), (("--live-moves",), 15)):
            events, _ = self.powered(*options)
            on, pair, live_moves = False, None, 0
            for event in events:
                if event["type"] != "step":
                    continue
                here = event.get("pair")
                if on and event.get("power") != "off" and here != pair:
                    live_moves += 1
                if "power" in event:
                    on = event["power"] == "on"
                pair = here
            self.assertEqual(live_moves, moves)
            self.assertFalse(on)


class GoodParts(UnderPower):
    def test_good_parts_pass_without_power_and_then_under_it(self):
        def check(profile):
            events = self.qualify(self.simulator(profile=profile), "--powered", *ENERGISED, "--inspected", "yes", profile=profile,
                                  timeout=240)
            self.assertEqual(events[-1]["verdict"], "pass")

        self.at_once([(profile,) for profile in ("regulator-both-legs-240", "thermostat-pilot", "contactor-two-pole",
                                                 "selector-three-heat", "interlock-door", "high-limit-manual-reset")], check)

    def test_a_neon_lamp_reads_open_cold_and_lights_under_power(self):
        neon = self.dir / "neon.toml"
        neon.write_text((SOURCE / "profiles/rocker-lamp.toml").read_text().replace(
            "nominal_ohm = 47000 ", "strikes_v = [55, 90]\nnominal_ohm = 47000 "))
        events = self.qualify(self.simulator(profile=neon), "--powered", *ENERGISED, "--inspected", "yes", profile=neon)
        self.assertEqual(events[-1]["verdict"], "pass")

    def test_a_circuit_that_is_not_solved_is_undecided(self):
        text = (SOURCE / f"profiles/{PROFILE}.toml").read_text()
        more = "".join(f'[[contact]]\nid = "more-{i}"\nbetween = ["L1", "H1"]\nclosed_at = ["low", "medium", "high"]\n\n'
                       for i in range(12))
        crowded = self.dir / "crowded.toml"
        crowded.write_text(text.replace("[[element]]", more + "[[element]]", 1))
        verdict = self.qualify(self.simulator(profile=crowded), "--powered", *ENERGISED, "--inspected", "yes",
                               profile=crowded, code=3)[-1]
        self.assertEqual(verdict["verdict"], "undecided")


if __name__ == "__main__":
    unittest.main()
