"""`analyze` on the kind of series that plug-in power monitors and loggers give: whole-second stamps twice over, missing
stretches, a standby level that moves, inrush, two on-levels, coarse steps, commas for points, times in every spelling.

Every series is invented here from a list of switching instants; what must come out is computed from that list with numpy
and not from the samples."""
import datetime
import json
import unittest

from harness import EndToEnd

try:
    import numpy as np
except ImportError:
    np = None


class Schedule:
    """Switching instants: off until rises[0], on until falls[0], and so on; ends switched off."""

    def __init__(self, rises, falls, end):
        self.rises, self.falls, self.end = np.asarray(rises, float), np.asarray(falls, float), end

    def on_at(self, t):
        return (np.searchsorted(self.rises, t, side="right") - np.searchsorted(self.falls, t, side="right")) == 1

    def truth(self, keep=slice(None)):
        on = (self.falls[:-1] - self.rises[:-1])[keep]
        off = (self.rises[1:] - self.falls[:-1])[keep]
        return {"on_s": on.mean(), "off_s": off.mean(), "period_s": (on + off).mean(), "duty": (on / (on + off)).mean()}


def schedule(random, cycles, on_s, off_s, spread=0.05, first=37.3):
    rises, falls, t = [], [], first
    for _ in range(cycles + 1):
        rises.append(t)
        t += on_s * (1 + spread * random.standard_normal())
        falls.append(t)
        t += off_s * (1 + spread * random.standard_normal())
    return Schedule(rises, falls, t)


@unittest.skipIf(np is None, "python3-numpy is missing")
class RecordedSeries(EndToEnd):
    def setUp(self):
        super().setUp()
        self.random = np.random.default_rng(20261125)

    def analyze(self, times, values, header="time,load (W)", separator=",", point=".", stamp=str, code=0):
        rows = [header.replace(",", separator)]
        for t, v in zip(times, values):
            cell = v if isinstance(v, str) else f"{v:.1f}".replace(".", point)
            rows.append(f"{stamp(t)}{separator}{cell}")
        path = self.dir / "series.csv"
        path.write_text("\n".join(rows) + "\n")
        done = self.tool("analyze", path, "--json", code=code)
        return json.loads(done.stdout.splitlines()[-1])

    def agrees(self, summary, truth, cycles, dt):
        """The instants of the truth are known, so what is left is sampling: an edge is rectangular in dt, a duration has two,
        and the mean of n durations at random phases is known to dt / sqrt(6 n). Four times that is allowed, and U covers it."""
        self.assertEqual((summary["state"], summary["trust"]), ("cycling", "good"), summary)
        self.assertEqual(summary["complete_cycles"], cycles, summary)
        self.close(summary, truth, cycles, dt)

    def close(self, figures, truth, cycles, dt):
        for key, value in truth.items():
            allowed = 4 * dt / np.sqrt(6 * cycles) / (truth["period_s"] if key == "duty" else 1.0)
            error = abs(figures[key]["mean"] - value)
            self.assertLess(error, allowed, (key, value, figures[key]))
            self.assertLess(error, figures[key]["U"], (key, value, figures[key]))

    def noisy(self, on, high=2000.0, low=0.4, noise=6.0):
        return np.where(on, high, low) + np.where(on, noise, 0.1) * self.random.standard_normal(on.size)

    def test_every_second_twice_over_and_in_whole_watts(self):
        plan = schedule(self.random, 30, 40, 80)
        t = np.arange(0, plan.end, 0.5)
        # The logger writes twice a second and stamps whole seconds.
        summary = self.analyze(np.floor(t).astype(int), np.round(self.noisy(plan.on_at(t))))
        self.agrees(summary, plan.truth(), 30, 1.0)
        self.assertGreater(summary["duplicate_stamps"], 1000)

    def test_six_second_series_with_missing_stretches(self):
        plan = schedule(self.random, 60, 300, 600)
        t = np.arange(0, plan.end, 6.0)
        # Whole stretches are missing: from before a cycle's rise to after its fall, that is 8 cycles of 60 that nobody saw.
        lost = self.random.choice(np.arange(3, 57, 3), 8, replace=False)
        gone = np.zeros(t.size, bool)
        for i in lost:
            gone |= (t > plan.rises[i] - 60) & (t < plan.falls[i] + 60)
        summary = self.analyze(t[~gone], self.noisy(plan.on_at(t))[~gone])
        # The cycle before runs into the gap, and so do the lost ones.
        seen = np.array([i not in lost and i + 1 not in lost for i in range(60)])
        self.agrees(summary, plan.truth(seen), int(seen.sum()), 6.0)
        self.assertEqual(summary["gaps"], 8)
        self.assertEqual(summary["incomplete_cycles"], 8)

    def test_a_short_gap_in_a_steady_state_costs_no_cycle(self):
        plan = schedule(self.random, 20, 300, 600)
        t = np.arange(0, plan.end, 6.0)
        middle = (plan.rises + plan.falls) / 2
        gone = np.zeros(t.size, bool)
        for i in (4, 9, 15):
            gone |= abs(t - middle[i]) < 30
        summary = self.analyze(t[~gone], self.noisy(plan.on_at(t))[~gone])
        self.agrees(summary, plan.truth(), 20, 6.0)
        self.assertEqual((summary["gaps"], summary["flagged_cycles"]), (3, 3))

    def test_a_standby_level_that_moves_is_not_cycling(self):
        plan = schedule(self.random, 25, 60, 120)
        t = np.arange(0, plan.end, 1.0)
        standby = self.random.choice([1.5, 4.0, 38.0, 75.0], 1 + int(plan.end // 90))[(t // 90).astype(int)]
        summary = self.analyze(t, np.where(plan.on_at(t), 1800.0, 0.0) + standby + self.random.standard_normal(t.size))
        self.agrees(summary, plan.truth(), 25, 1.0)

    def test_inrush_of_many_times_the_level(self):
        plan = schedule(self.random, 25, 90, 200)
        t = np.arange(0, plan.end, 1.0)
        watts = self.noisy(plan.on_at(t), high=120.0, noise=2.0)
        for rise in plan.rises:
            first = np.argmax(t > rise)
            watts[first:first + 2] = 120.0 * self.random.uniform(5, 9, 2)
        summary = self.analyze(t, watts)
        self.agrees(summary, plan.truth(), 25, 1.0)
        self.assertAlmostEqual(summary["high_level"], 120, delta=3)

    def test_two_on_levels(self):
        plan = schedule(self.random, 24, 120, 150)
        t = np.arange(0, plan.end, 1.0)
        cycle = np.clip(np.searchsorted(plan.rises, t, side="right") - 1, 0, None)
        high = np.where(cycle % 3 == 0, 2400.0, 1200.0)
        summary = self.analyze(t, np.where(plan.on_at(t), high, 2.0) + 5 * self.random.standard_normal(t.size))
        self.agrees(summary, plan.truth(), 24, 1.0)

    def test_coarse_steps_and_a_first_cycle_ten_times_as_long(self):
        plan = schedule(self.random, 30, 20, 30, spread=0.03)
        # The first on time is ten times as long: everything after it is later.
        late = 9 * 20
        plan = Schedule(np.r_[plan.rises[0], plan.rises[1:] + late], plan.falls + late, plan.end + late)
        t = np.arange(0, plan.end, 1.0)
        summary = self.analyze(t, 100.0 * np.round(self.noisy(plan.on_at(t), high=2030.0, noise=30.0) / 100.0))
        self.agrees(summary, plan.truth(), 30, 1.0)
        self.assertEqual(summary["steady_from_cycle"], 2)
        steady = plan.truth(slice(1, None))
        self.close(summary["steady"], steady, 29, 1.0)

    def test_times_in_every_spelling_give_the_same_durations(self):
        plan = schedule(self.random, 12, 40, 80)
        t = np.arange(0, plan.end, 1.0)
        watts = self.noisy(plan.on_at(t))
        begin = datetime.datetime(2026, 3, 28, 23, 10)  # over midnight
        at = lambda s, form: (begin + datetime.timedelta(seconds=float(s))).strftime(form)
        #        how a stamp is written
        rows = [("seconds", lambda s: f"{s:.0f}"), ("epoch", lambda s: f"{1774739400 + s:.0f}"),
                ("milliseconds", lambda s: f"{(1774739400 + s) * 1000:.0f}"),
                ("with Z", lambda s: at(s, "%Y-%m-%dT%H:%M:%SZ")), ("with a zone", lambda s: at(s, "%Y-%m-%dT%H:%M:%S+02:00")),
                ("without a zone", lambda s: at(s, "%Y-%m-%d %H:%M:%S")), ("dotted", lambda s: at(s, "%d.%m.%Y %H:%M:%S"))]
        for name, stamp in rows:
            with self.subTest(name):
                self.agrees(self.analyze(t, watts, stamp=stamp), plan.truth(), 12, 1.0)

    def test_semicolons_and_decimal_commas(self):
        plan = schedule(self.random, 12, 40, 80)
        t = np.arange(0, plan.end, 0.5)
        summary = self.analyze(t, self.noisy(plan.on_at(t)), header="Zeit,Leistung (W)", separator=";", point=",",
                               stamp=lambda s: f"{s:.1f}".replace(".", ","))
        self.agrees(summary, plan.truth(), 12, 0.5)

    def test_summer_time_sets_the_clock_back_and_no_duration_suffers(self):
        plan = schedule(self.random, 20, 40, 80)
        t = np.arange(0, plan.end, 1.0)
        begin = datetime.datetime(2026, 10, 25, 2, 40)
        stamps = [(begin + datetime.timedelta(seconds=float(s) - (3600 if s >= 1200 else 0))).isoformat() for s in t]
        summary = self.analyze(stamps, self.noisy(plan.on_at(t)))
        self.assertEqual(summary["clock_steps"], 1)
        self.assertLessEqual(summary["period_s"]["max"], 1.3 * 120)
        hit = np.array([not (r <= 1200 <= n) for r, n in zip(plan.rises[:-1], plan.rises[1:])])
        self.agrees(summary, plan.truth(hit), 19, 1.0)

    def test_steady_hours_are_always_on_or_always_off(self):
        t = np.arange(0, 3600, 6.0)
        #        level  noise   state
        rows = [(1500.0, 30.0, "always-on"), (230.0, 0.0, "always-on"), (0.0, 0.0, "always-off"), (1.2, 0.3, "always-off"),
                (60.0, 2.0, "always-on")]
        for level, noise, state in rows:
            with self.subTest(level=level, noise=noise):
                summary = self.analyze(t, np.abs(level + noise * self.random.standard_normal(t.size)))
                self.assertEqual((summary["state"], summary["complete_cycles"]), (state, 0), summary)
                self.assertNotIn("duty", summary)

    def test_a_pulse_that_never_repeats_is_no_cycle(self):
        t = np.arange(0, 7200, 1.0)
        summary = self.analyze(t, self.noisy((t > 1000) & (t < 1400)))
        self.assertEqual((summary["state"], summary["complete_cycles"], summary["edges"]), ("cycling", 0, 2))
        self.assertTrue(summary["notes"])

    def test_pulses_shorter_than_the_sampling_are_not_measured(self):
        plan = schedule(self.random, 200, 7, 50)
        t = np.arange(0, plan.end, 6.0)
        summary = self.analyze(t, self.noisy(plan.on_at(t)))
        self.assertEqual(summary["trust"], "poor", summary)
        self.assertTrue(summary["reasons"])
        self.assertNotIn("duty", summary)

    def test_cells_that_are_no_numbers_are_counted_or_are_no_sample(self):
        plan = schedule(self.random, 12, 40, 80)
        t = np.arange(0, plan.end, 1.0)
        watts = [f"{w:.1f}" for w in self.noisy(plan.on_at(t))]
        for i in range(50, len(watts), 97):
            watts[i] = "unavailable"
        watts[300] = "twelve"
        summary = self.analyze(t, watts)
        self.agrees(summary, plan.truth(), 12, 1.0)
        self.assertEqual(summary["bad_rows"], 1)
        self.assertEqual(summary["samples"], t.size - 1 - len(range(50, len(watts), 97)) + (1 if (300 - 50) % 97 == 0 else 0))


if __name__ == "__main__":
    unittest.main()
