"""Series that must not pass, and good ones that must: `analyze` of drawn switching with a profile and a position.

Each row says what the contact did, as holds of (seconds, volts); what must come out follows from the limits of the shipped
profile (regulator-shunt-240 at medium: on 4 s to 25 s, off 8 s to 45 s, duty 25 % to 50 %; longest period 70 s) and from
arithmetic. Every series is invented here."""
import json
import pathlib
import random
import re
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "cli"))
from harness import SOURCE, EndToEnd  # noqa: E402

PASS, FAIL, UNDECIDED = 0, 1, 3
VOLTS = 240.0


def cycles(n, on_s=12.0, off_s=18.0, spread=0.02, seed=1, lead_s=10.0):
    """Off for a while, n complete cycles, and on for 5 s: the times differ from cycle to cycle as a bimetal's do."""
    draw = random.Random(seed)
    holds = [(lead_s, 0.0)]
    for _ in range(n):
        holds += [(on_s * (1 + spread * draw.gauss(0, 1)), VOLTS), (off_s * (1 + spread * draw.gauss(0, 1)), 0.0)]
    return holds + [(5.0, VOLTS)]


def alternating(n, first_s, second_s, off_s=18.0):
    holds = [(10.0, 0.0)]
    for i in range(n):
        holds += [(first_s if i % 2 else second_s, VOLTS), (off_s, 0.0)]
    return holds + [(5.0, VOLTS)]


def replaced(holds, index, hold):
    return holds[:index] + [hold] + holds[index + 1:]


def column(holds, dt):
    """One value each dt, with a flicker of the last digit while live."""
    draw, values, end, i = random.Random(7), [], 0.0, 0
    for for_s, level in holds:
        end += for_s
        while i * dt < end - 1e-9:
            values.append(level + (draw.choice((-0.1, 0.0, 0.0, 0.1)) if level else 0.0))
            i += 1
    return values


class TimingFalsePass(EndToEnd):
    def judge(self, columns, position="medium", dt=0.1, profile="regulator-shunt-240", options=(), gap=(0.0, 0.0)):
        """`columns`: name -> holds; no sample comes within the gap. @return exit code, verdict."""
        drawn = {name: column(holds, dt) for name, holds in columns.items()}
        rows = min(map(len, drawn.values()))
        lines = [",".join(["t_s", *drawn])]
        lines += [",".join([f"{i * dt:.3f}", *(f"{values[i]:.1f}" for values in drawn.values())]) for i in range(rows)
                  if not gap[0] < i * dt < gap[1]]
        path = self.dir / "series.csv"
        path.write_text("\n".join(lines) + "\n")
        done = self.tool("analyze", path, "--profile", profile, "--position", position, "--json", *options, code=None)
        self.assertIn(done.returncode, (0, 1, 3), done.stderr)
        return done.returncode, json.loads(done.stdout.splitlines()[-1])

    def table(self, rows):
        for name, columns, position, code, reason in rows:
            with self.subTest(name):
                columns = columns if isinstance(columns, dict) else {"load (V)": columns}
                got, verdict = self.judge(columns, position)
                self.assertEqual(got, code, (name, verdict["verdict"], verdict["headline"], verdict["remarks"]))
                told = " ".join([verdict["headline"], *verdict["remarks"], *(f["sentence"] for f in verdict.get("timing", [])),
                                 *(f["sentence"] for f in verdict.get("faults", [])),
                                 *(c["sentence"] for c in verdict["channels"])])
                self.assertIn(reason, told, name)

    def test_cycling_that_must_not_pass(self):
        good = cycles(24)
        self.table([
            # what it did                              the series                                    where     verdict    reason
            ("24 good cycles, then a weld",            good[:-1] + [(40.0, VOLTS)],                  "medium", FAIL,      "stayed closed for the last"),
            ("24 good cycles, then a long weld",       good[:-1] + [(600.0, VOLTS)],                 "medium", FAIL,      "stayed closed for the last"),
            ("24 good cycles, then open for good",     good + [(7.0, VOLTS), (90.0, 0.0)],           "medium", FAIL,      "stayed open for the last"),
            ("closed for 10 minutes, then good",       [(600.0, VOLTS), (18.0, 0.0)] + good[1:],     "medium", FAIL,      "sticks"),
            ("closed for 100 s, then good",            [(100.0, VOLTS), (18.0, 0.0)] + good[1:],     "medium", UNDECIDED, "cold start"),
            ("on times of 3 s and 28 s in turn",       alternating(24, 3.0, 28.0),                   "medium", FAIL,      "Single cycles reach from"),
            ("one on time of 60 s among 24",           replaced(good, 25, (60.0, VOLTS)),            "medium", FAIL,      "Single cycles reach from"),
            ("one off time of 120 s among 24",         replaced(good, 26, (120.0, 0.0)),             "medium", FAIL,      "Single cycles reach from"),
            ("inside, but scattered up to the limits", cycles(24, 12.0, 18.0, 0.17, seed=5),         "medium", UNDECIDED, ""),
            ("four cycles",                            cycles(4),                                    "medium", UNDECIDED, "at least 5 are needed"),
            ("one cycle",                              cycles(1),                                    "medium", UNDECIDED, "at least 5 are needed"),
            ("a supply of 120 V",                      [(s, v / 2) for s, v in good],                "medium", FAIL,      "made for 120 V"),
            ("ten cycles too long, then twelve good",  cycles(10, 30.0, 18.0, seed=2)[:-1] + cycles(12, seed=3)[1:], "medium", UNDECIDED, "more than a warm-up"),
            ("nothing but live",                       [(300.0, VOLTS)],                             "medium", FAIL,      "never opened"),
            ("live for a minute",                      [(60.0, VOLTS)],                              "medium", UNDECIDED, "too short to tell"),
            ("dead, and nobody saw the supply",        [(600.0, 0.0)],                               "medium", UNDECIDED, "supply was on"),
            ("dead beside a live line",                {"load (V)": [(600.0, 0.0)], "line (V)": [(600.0, VOLTS)]}, "medium", FAIL, "never closed"),
            ("a load with half of the line's volts",
             {"load (V)": [(s, v / 2) for s, v in good], "line (V)": [(2000.0, VOLTS)]},             "medium", FAIL,      "lost in a contact"),
            ("a load with 94 % of the line's volts",
             {"load (V)": [(s, v * 0.94) for s, v in good], "line (V)": [(2000.0, VOLTS)]},          "medium", UNDECIDED, "lost in a contact"),
            ("a pilot with half of the line's volts",
             {"load (V)": good, "pilot (V)": [(2000.0, VOLTS / 2)], "line (V)": [(2000.0, VOLTS)]},  "medium", FAIL,      "lost in a contact"),
            ("a pilot with half of the volts of the load",
             {"load (V)": good, "pilot (V)": [(2000.0, VOLTS / 2)]},                                 "medium", FAIL,      "lost in a contact"),
            ("a line that fails on the way",
             {"load (V)": good + [(7.0, VOLTS), (300.0, 0.0)], "line (V)": [(sum(s for s, _ in good), VOLTS), (400.0, 0.0)]},
                                                                                                     "medium", UNDECIDED, "not live from beginning to end"),
            ("a line that was dead",                   {"load (V)": [(600.0, 0.0)], "line (V)": [(600.0, 0.0)]},   "medium", UNDECIDED, ""),
            ("dead for 10 minutes beside a live line, then good",
             {"load (V)": [(600.0, 0.0)] + good[1:], "line (V)": [(2000.0, VOLTS)]},                 "medium", FAIL,      "did not close"),
        ])

    def test_a_gap_in_which_the_contact_may_have_stood_too_long_does_not_pass(self):
        # On at 310 s, off at 322 s, on at 340 s and so on, without spread: at most 25 s closed and 45 s open are allowed.
        good = cycles(24, spread=0.0)
        rows = [  # gap                                                       may have been           verdict
            ((315.0, 330.0), "closed from 310 to 330 s: 20 s",                                        PASS),
            ((315.0, 338.0), "closed from 310 to 338 s: 28 s",                                        UNDECIDED),
            ((324.0, 338.0), "closed while nobody looked: 14 s",                                      PASS),
            ((324.0, 350.0), "closed from 324 to 352 s: 28 s",                                        UNDECIDED),
            ((341.0, 351.0), "closed all the time: the same 12 s",                                    PASS),
            ((300.0, 420.0), "closed for two minutes",                                                UNDECIDED)]
        for gap, what, code in rows:
            with self.subTest(gap=gap, what=what):
                got, verdict = self.judge({"load (V)": good, "line (V)": [(2000.0, VOLTS)]}, gap=gap)
                self.assertEqual(got, code, verdict["headline"])
                if code == UNDECIDED:
                    self.assertIn("may have stayed closed", verdict["headline"])

    def test_samples_that_all_bear_one_time_are_timed_by_nobody(self):
        path = self.dir / "one.csv"
        path.write_text("t_s,load (V)\n" + "".join(f"5,{240 if i % 60 < 24 else 0}\n" for i in range(1600)))
        done = self.tool("analyze", path, "--profile", "regulator-shunt-240", "--position", "medium", code=UNDECIDED)
        self.assertIn("bears the same time", done.stdout)
        self.assertNotIn("nan", done.stdout)

    def test_a_channel_that_nobody_watched_to_the_end_does_not_pass(self):
        load = column(cycles(24, spread=0.0), 0.1)   # 735 s; at most 45 s may go by without switching
        end = len(load) * 0.1
        rows = [  # the load is not read       the pilot is not read   verdict
            (lambda t: False,                  lambda t: False,         PASS),
            (lambda t: t > end - 20,           lambda t: False,         PASS),
            (lambda t: t > end - 100,          lambda t: False,         UNDECIDED),
            (lambda t: t < 100,                lambda t: False,         UNDECIDED),
            (lambda t: False,                  lambda t: t > 30,        UNDECIDED)]
        path = self.dir / "unwatched.csv"
        for unread in ("nan", ""):
            for n, (load_not, pilot_not, code) in enumerate(rows):
                lines = ["t_s,load (V),pilot (V),line (V)"]
                for i, value in enumerate(load):
                    t = i * 0.1
                    lines.append(f"{t:.1f},{unread if load_not(t) else value},{unread if pilot_not(t) else VOLTS},{VOLTS}")
                path.write_text("\n".join(lines) + "\n")
                with self.subTest(row=n, unread=unread):
                    done = self.tool("analyze", path, "--profile", "regulator-shunt-240", "--position", "medium", code=code)
                    self.assertEqual("Nobody saw the" in done.stdout, code == UNDECIDED)
        # One channel alone: its own rows go on.
        path.write_text("t_s,load (V)\n" + "".join(f"{i * 0.1:.1f},{v if i * 0.1 < end - 100 else 'nan'}\n" for i, v in enumerate(load)))
        self.tool("analyze", path, "--profile", "regulator-shunt-240", "--position", "medium", code=UNDECIDED)

    def test_amperes_watts_and_bare_numbers_pass_only_with_what_they_do_not_say(self):
        good = cycles(24)
        scaled = lambda holds, by: [(s, v * by) for s, v in holds]
        weak = [(s, v / 48 * (0.5 if 20 <= i < 30 else 1.0)) for i, (s, v) in enumerate(good)]
        line = {"line (V)": [(2000.0, VOLTS)]}
        self.table([
            ("amperes, and nobody knows the volts",    {"load (A)": scaled(good, 1 / 48)},           "medium", UNDECIDED, "how many volts"),
            ("watts, and nobody knows the volts",      {"load (W)": scaled(good, 5.0)},              "medium", UNDECIDED, "how many volts"),
            ("amperes beside a line",                  {"load (A)": scaled(good, 1 / 48), **line},   "medium", PASS,      ""),
            ("half the amperes for some cycles",       {"load (A)": weak, **line},                   "medium", UNDECIDED, "lasted too"),
            ("zeros and ones",                         {"load": scaled(good, 1 / VOLTS)},            "medium", UNDECIDED, "names no unit"),
            ("zeros and ones beside a line",           {"load": scaled(good, 1 / VOLTS), **line},    "medium", UNDECIDED, "names no unit"),
            ("volts that do not say so",               {"load": good},                               "medium", PASS,      "")])

    def test_levels_that_must_not_pass(self):
        good, line = cycles(24), [(2000.0, VOLTS)]
        some = lambda level, wanted: [(s, level if i in wanted else v) for i, (s, v) in enumerate(good)]
        on, off = range(1, 50, 2), range(0, 50, 2)
        self.table([
            # what it did                              the series                                    where     verdict    reason
            ("between on times half the supply",       {"load (V)": some(120.0, off), "line (V)": line}, "medium", FAIL, "must be dead"),
            ("the same, and nobody saw the line",      some(120.0, off),                             "medium", FAIL,      "must be dead"),
            ("between on times 5 V",                   {"load (V)": some(5.0, off), "line (V)": line}, "medium", UNDECIDED, "must be dead"),
            ("three off times at 60 V",                {"load (V)": some(60.0, (20, 22, 24)), "line (V)": line}, "medium", UNDECIDED, "must be dead"),
            ("five on times at half the supply",       {"load (V)": some(120.0, (21, 23, 25, 27, 29)), "line (V)": line}, "medium", UNDECIDED, "lasted too"),
            ("one on time at three quarters",          {"load (V)": some(180.0, (21,)), "line (V)": line}, "medium", UNDECIDED, "lasted too"),
            ("probes the wrong way round on DC",       some(-VOLTS, on),                             "medium", UNDECIDED, "below zero"),
            ("ohms, where on and off change places",   {"load (ohm)": some(0.1, off)},               "medium", UNDECIDED, "neither live nor dead"),
            ("a temperature",                          {"load (degC)": good},                        "medium", UNDECIDED, "neither live nor dead"),
            ("kilovolts at off",                       {"load (kV)": [(600.0, 0.24)], "line (V)": line}, "off", FAIL,     "must be dead"),
        ])
        _, verdict = self.judge({"load (V)": good}, options=("--supply", "208"))
        self.assertIn("by the stated supply", verdict["headline"])
        self.assertEqual(verdict["verdict"], "undecided")

    def test_of_several_loads_each_is_judged_by_what_it_should_do_and_none_passes_unseen(self):
        on, off, low = [(900.0, VOLTS)], [(900.0, 0.0)], cycles(30, 4.0, 30.0)
        dual, three = "regulator-dual-240", "selector-three-heat"
        half = [(900.0, VOLTS / 2)]
        rows = [  # profile, position, loads, verdict, reason
            (dual, "inner-high", {"inner": on, "outer-zone": off}, PASS, ""),
            (dual, "inner-high", {"inner": on, "outer-zone": on}, FAIL, "must be dead"),
            (dual, "both-high", {"inner": on}, UNDECIDED, "outer-zone"),
            (dual, "both-high", {"load": on}, UNDECIDED, "no channel is named"),
            (dual, "both-high", {"inner": on, "outer-zone": on}, PASS, ""),
            (dual, "inner-low", {"inner": low, "outer-zone": low}, FAIL, "must stay dead"),
            (dual, "inner-low", {"inner": low, "outer-zone": [(1100.0, 0.0)]}, PASS, ""),
            (dual, "both-low", {"inner": low, "outer-zone": [(1100.0, 0.0)]}, FAIL, "never closed"),
            (three, "low", {"first-element": half, "second-element": half}, PASS, ""),
            (three, "low", {"first-element": on, "second-element": on}, FAIL, "fed another way"),
            (three, "medium", {"first-element": on, "second-element": on}, FAIL, "must be dead"),
            (three, "high", {"first-element": on, "second-element": half}, FAIL, "lost in a contact")]
        for profile, position, loads, code, reason in rows:
            with self.subTest(profile=profile, position=position, loads=list(loads), code=code):
                columns = {f"{name} (V)": holds for name, holds in loads.items()} | {"line (V)": [(2000.0, VOLTS)]}
                got, verdict = self.judge(columns, position, profile=profile)
                self.assertEqual(got, code, verdict)
                self.assertIn(reason, verdict["headline"])

    def test_a_part_whose_times_nobody_knows_is_watched_for_long_and_finely(self):
        untimed = self.dir / "untimed.toml"
        text = (SOURCE / "profiles/regulator-shunt-240.toml").read_text()
        untimed.write_text(re.sub(r"\[\[timing\]\].*?(?=\n\[|\Z)", "", text, flags=re.S))
        for for_s, dt, code in ((60.0, 0.1, UNDECIDED), (950.0, 30.0, UNDECIDED), (950.0, 0.5, PASS)):
            with self.subTest(for_s=for_s, dt=dt):
                held = [(for_s, VOLTS)]
                got, verdict = self.judge({"load (V)": held, "line (V)": held}, "high", dt, profile=untimed)
                self.assertEqual(got, code, verdict)

    def test_standing_positions_that_must_not_pass(self):
        self.table([
            ("two samples at off",                {"load (V)": [(0.2, 0.0)], "line (V)": [(0.2, VOLTS)]},         "off",  UNDECIDED, "Too few samples"),
            ("at off no longer than an off time", {"load (V)": [(40.0, 0.0)], "line (V)": [(40.0, VOLTS)]},       "off",  UNDECIDED, "longest off time"),
            ("live volts beyond the range",       {"load (V)": [(300.0, 9.9e37)], "line (V)": [(300.0, VOLTS)]},  "high", UNDECIDED, "range"),
            ("3 s of 0 V at off",                 [(3.0, 0.0)],                                                   "off",  UNDECIDED, "supply was on"),
            ("an hour of 0 V at off",             [(3600.0, 0.0)],                                                "off",  UNDECIDED, "supply was on"),
            ("0 V at off, plug out",              {"load (V)": [(600.0, 0.0)], "line (V)": [(600.0, 0.0)]},       "off",  UNDECIDED, ""),
            ("0 V at high",                       [(600.0, 0.0)],                                                 "high", UNDECIDED, "supply was on"),
            ("0 V at high beside a live line",    {"load (V)": [(600.0, 0.0)], "line (V)": [(600.0, VOLTS)]},     "high", FAIL,      "dead where it must be live"),
            ("live at high for a minute",         [(60.0, VOLTS)],                                                "high", UNDECIDED, "too short"),
            ("live at off",                       [(60.0, VOLTS)],                                                "off",  FAIL,      "live where it must be dead"),
            ("cycles at high",                    cycles(12),                                                     "high", FAIL,      "opened"),
            ("120 V at high",                     [(600.0, 120.0)],                                               "high", UNDECIDED, "outside 228 V to 252 V"),
            ("100 V at high beside a line of 240 V", {"load (V)": [(300.0, 100.0)], "line (V)": [(300.0, VOLTS)]}, "high", FAIL, "lost in a contact"),
            ("a pilot that is dead too at high",  {"load (V)": [(600.0, 0.0)], "pilot (V)": [(600.0, 0.0)]},      "high", UNDECIDED, "supply was on"),
        ])

    def test_a_good_part_measured_properly_passes(self):
        self.table([
            ("24 good cycles",                    cycles(24),                                                     "medium", PASS, "inside its limits"),
            ("24 good cycles, line seen",         {"load (V)": cycles(24), "line (V)": [(2000.0, VOLTS)]},        "medium", PASS, "inside its limits"),
            ("24 good cycles with 5 % scatter",   cycles(24, spread=0.05),                                        "medium", PASS, "inside its limits"),
            ("a cold start of 45 s, then good",   [(45.0, VOLTS), (18.0, 0.0)] + cycles(24)[1:],                  "medium", PASS, "cold start"),
            ("switched on after a minute",        [(60.0, 0.0)] + cycles(24)[1:],                                 "medium", PASS, "not yet switched on"),
            ("live at high for five minutes",     [(300.0, VOLTS)],                                               "high",   PASS, "stays as it must"),
            ("dead at off for longer than it is ever off", {"load (V)": [(70.0, 0.0)], "line (V)": [(70.0, VOLTS)]}, "off", PASS, "stays as it must"),
        ])

    def test_a_part_of_a_name_says_no_role(self):
        # "clamp" holds "lamp", "offline" holds "line": each would fail if it were judged as that.
        good = cycles(24)
        code, verdict = self.judge({"load (V)": good, "clamp (V)": [(2000.0, 0.0)], "offline (V)": [(2000.0, 3.0)]})
        self.assertEqual((code, verdict["channels"]), (PASS, []), verdict)
        code, verdict = self.judge({"one (V)": good, "two (V)": [(2000.0, VOLTS)]})
        self.assertEqual(code, UNDECIDED)
        self.assertIn("--role", verdict["headline"])
        code, verdict = self.judge({"one (V)": good, "two (V)": [(2000.0, VOLTS)]},
                                   options=("--role", "one (V)=load", "--role", "two (V)=line"))
        self.assertEqual((code, verdict["supply_from"]), (PASS, "measured on two (V)"))

    def test_a_display_that_is_held_counts_by_its_update(self):
        """Held 0.5 s and read every 0.1 s. The mean of the figures lies off by up to the update, and U must say so."""
        draw = random.Random(3)
        holds = [(10.0, 0.0)] + [(10.25, VOLTS), (19.75, 0.0)] * 20 + [(5.0, VOLTS)]
        for flicker in (True, False):
            level = lambda v: v + (draw.choice((-0.2, -0.1, 0.0, 0.1, 0.2)) if flicker and v else 0.0)
            instants, t = [], 0.0
            for for_s, value in holds:
                t += for_s
                instants.append((t, value))
            shown, lines = 0.0, ["t_s,load (V)"]
            for i in range(int(t / 0.1)):
                if i % 5 == 0:
                    shown = level(next(value for end, value in instants if i * 0.1 + 0.003 < end))
                lines.append(f"{i * 0.1:.1f},{shown:.1f}")
            path = self.dir / "held.csv"
            path.write_text("\n".join(lines) + "\n")
            summary = json.loads(self.tool("analyze", path, "--json").stdout.splitlines()[-1])
            with self.subTest(flicker=flicker, on=summary["on_s"]):
                self.assertAlmostEqual(summary["update_s"], 0.5, delta=0.05)
                self.assertLessEqual(abs(summary["on_s"]["mean"] - 10.25), summary["on_s"]["U"])

    def test_coarse_sampling_gives_figures_with_the_U_that_this_means(self):
        draw = random.Random(11)
        holds = [(30.0, 0.0)]
        for _ in range(30):
            holds += [(14.0, VOLTS), (40.0 * (1 + 0.03 * draw.gauss(0, 1)), 0.0)]
        path = self.dir / "coarse.csv"
        values = column(holds + [(14.0, VOLTS)], 5.0)
        path.write_text("t_s,load (V)\n" + "".join(f"{i * 5},{v:.1f}\n" for i, v in enumerate(values)))
        summary = json.loads(self.tool("analyze", path, "--json").stdout.splitlines()[-1])
        self.assertEqual(summary["trust"], "poor")
        self.assertLessEqual(abs(summary["period_s"]["mean"] - 54.0), summary["period_s"]["U"] + 0.5)
        self.assertLessEqual(abs(summary["on_s"]["mean"] - 14.0), summary["on_s"]["U"])
        self.assertGreater(summary["on_s"]["U"], 2.0)
        done = self.tool("analyze", path, "--profile", "regulator-shunt-240", "--position", "medium", code=UNDECIDED)
        self.assertIn("Sample faster", " ".join(done.stdout.split()))


if __name__ == "__main__":
    unittest.main()
