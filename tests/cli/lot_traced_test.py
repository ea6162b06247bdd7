"""Units of a lot whose cycling was timed: their traces are found by serial number and stand in the lot's statistics."""
import csv
import io
import json
import unittest

from trace_simulated_test import SimulatedTrace


class TracedLot(SimulatedTrace):
    def test_duty_and_period_of_traced_units_stand_in_the_lots_report_and_csv(self):
        profile = self.profile()
        opened = json.loads(self.tool("lot", "open", "--part", "P-1", "--supplier", "S", "--lot-number", "L1", "--size", "3", "--condition",
                                      "new", "--profile", profile, "--meter", "lcd-segment-14", "--operator", "Ada", "--simulated", "--json",
                                      "--agreed", "major=2:0", "--agreed", "minor=2:0").stdout)
        carton = self.simulator("--lot", "3", profile=profile)
        self.tool("lot", "run", opened["lot"], "--port", carton["port"], "--hands", "sim:" + carton["hands"], "--operator", "Ada",
                  "--acknowledge", "never-connected", "--inspected", "yes", "--settle", "0.03s")
        seen = {}
        for unit in opened["units"]:
            serial = f"SIM-{unit:04}"
            summary = self.summaries(self.trace(self.bench(profile=profile), "--cycles", "6", "--serial", serial, code=None))["load"]
            seen[serial] = summary.get("steady", summary) if "duty" in summary.get("steady", {}) else summary
        # A trace of a part that is in no lot says nothing here.
        self.trace(self.bench(profile=profile), "--for", "4s", "--serial", "SIM-9999", code=None)
        rows = {row["serial"]: row for row in csv.DictReader(io.StringIO(self.tool("lot", "report", "L1", "--format", "csv").stdout))}
        self.assertEqual(set(rows), set(seen))
        for serial, summary in seen.items():
            self.assertAlmostEqual(float(rows[serial]["duty at medium"]), summary["duty"]["mean"], places=6)
            self.assertAlmostEqual(float(rows[serial]["period at medium s"]), summary["period_s"]["mean"], places=6)
        html = self.tool("lot", "report", "L1").stdout
        for words in ("duty at medium", "period at medium", "What the sample can tell"):
            self.assertIn(words, html)


if __name__ == "__main__":
    unittest.main()
