"""Finding, exporting and comparing kept records. What there is to find is asked of the store with sqlite3 and SQL, tables are read
with Python's csv, figures computed with Python's statistics and datetime: none of it shares code with the tool."""
import csv
import datetime
import io
import json
import sqlite3
import statistics
import unittest

from harness import EndToEnd, ScriptedHands, ScriptedMeter, lcd_frame


class RecordsTest(EndToEnd):
    made = [  # part, serial, operator, order, supplier's lot, fault put in, exit code
        ("regulator 240", "A-1", "Ada", "WO-1", "L1", None, 0),
        ("regulator 240", "A-2", "Ada", "WO-1", "L1", "stuck-closed:cycling", 1),
        ("regulator 120", "B-1", "Bob", "WO-2", "L2", "open:heater", 1),
        ('=odd, "part"', "B-2", "Bob", "WO-2", "", "stuck-closed:cycling", 1),
    ]

    def setUp(self):
        super().setUp()
        for part, serial, who, order, lot, fault, code in self.made:
            words = ["--part", part, "--serial", serial, "--order", order]
            if lot:
                words += ["--supplier", "Parts Ltd", "--supplier-lot", lot]
            self.qualify(self.simulator(*(["--fault", fault] if fault else [])), *words, operator=who, code=code)
        self.database = sqlite3.connect(self.store)
        self.addCleanup(self.database.close)

    def ids(self, *options):
        return [json.loads(line)["record"] for line in self.tool("records", "--json", *options).stdout.splitlines()]

    def sql(self, where, *values):
        return [row[0] for row in self.database.execute(
            "SELECT r.id FROM record r LEFT JOIN verdict v ON v.record_id = r.id LEFT JOIN explanation e ON e.record_id = r.id AND e.n = 0 "
            f"WHERE {where} ORDER BY r.started DESC", values)]

    def test_each_filter_finds_what_sql_finds(self):
        today = datetime.datetime.now(datetime.timezone.utc).date()
        yesterday, tomorrow = (str(today + datetime.timedelta(days=d)) for d in (-1, 1))
        for options, where, values, count in [
                (["--part", "REGULATOR"], "lower(r.part) LIKE '%regulator%'", [], 3),
                (["--serial", "b-"], "lower(r.serial) LIKE '%b-%'", [], 2),
                (["--verdict", "fail"], "v.outcome = ?", ["fail"], 3),
                (["--verdict", "pass"], "v.outcome = ?", ["pass"], 1),
                (["--operator", "bob"], "r.operator = ?", ["Bob"], 2),
                (["--fault", "stuck-closed"], "e.fault LIKE 'stuck-closed%'", [], 2),
                (["--lot", "L2"], "r.supplier_lot = ?", ["L2"], 1),
                (["--order", "WO-1"], "r.claim_order = ?", ["WO-1"], 2),
                (["--from", yesterday, "--to", tomorrow], "date(r.started) BETWEEN ? AND ?", [yesterday, tomorrow], 4),
                (["--from", tomorrow], "date(r.started) >= ?", [tomorrow], 0),
                (["--to", yesterday], "date(r.started) <= ?", [yesterday], 0),
                (["--operator", "Bob", "--verdict", "fail", "--lot", "L2"], "r.operator = 'Bob' AND r.supplier_lot = 'L2'", [], 1)]:
            with self.subTest(options=options):
                found = self.ids(*options)
                self.assertEqual(found, self.sql(where, *values))
                self.assertEqual(len(found), count)
                exported = list(csv.DictReader(io.StringIO(self.tool("records", "export", *options).stdout, newline="")))
                self.assertEqual([row["record"] for row in exported], found)
        self.assertIn("2026-03-01", self.tool("records", "--from", "yesterday", code=2).stderr)

    def test_an_export_says_what_the_store_holds_in_csv_and_json_lines(self):
        self.tool("records", "export", "-o", self.dir / "all.csv")
        self.tool("records", "export", "-o", self.dir / "all.jsonl")
        with open(self.dir / "all.csv", newline="") as file:
            rows = {row["record"]: row for row in csv.DictReader(file)}
        lines = {line["record"]: line for line in map(json.loads, (self.dir / "all.jsonl").read_text().splitlines())}
        stored = self.database.execute("SELECT id, part, serial, operator, claim_order, supplier, supplier_lot, started FROM record").fetchall()
        self.assertEqual(len(stored), len(self.made))
        for record, part, serial, who, order, supplier, lot, started in stored:
            names = dict(part=part, serial=serial, operator=who, order=order, supplier=supplier, lot=lot)
            for name, value in names.items():
                shown = rows[record][name]
                # A spreadsheet must not take a text for a formula: such a cell begins with an apostrophe.
                self.assertEqual(shown, "'" + value if value and value.startswith("=") else value or "", name)
                self.assertEqual(lines[record].get(name), value, name)
            self.assertEqual(rows[record]["started"], started)
            self.assertIs(lines[record]["simulated"], True)
        self.assertIn(b"\r\n", (self.dir / "all.csv").read_bytes())

    def test_trends_agree_with_figures_computed_elsewhere(self):
        lines = [json.loads(line) for line in self.tool("records", "trend", "--simulated", "--json").stdout.splitlines()]
        records = [json.loads(self.tool("report", i, "--format", "json").stdout) for i in self.ids()]
        groups = {("week", "-W".join(f"{n:02}" for n in datetime.datetime.now(datetime.timezone.utc).isocalendar()[:2])): records,
                  ("supplier", "Parts Ltd"): [r for r in records if r["header"]["claim"].get("lot")],
                  ("supplier", "not stated"): [r for r in records if not r["header"]["claim"].get("lot")]}
        for lot in ("L1", "L2"):
            groups["lot", lot] = [r for r in records if r["header"]["claim"].get("lot") == lot]
        groups["lot", "not stated"] = groups["supplier", "not stated"]
        told = {(line["by"], line["name"]): line for line in lines}
        self.assertEqual(set(told), set(groups))
        for name, members in groups.items():
            with self.subTest(group=name):
                line = told[name]
                self.assertEqual(line["records"], len(members))
                self.assertEqual(line["failed"], sum(r["verdict"]["outcome"] == "fail" for r in members))
                largest = []
                for r in members:
                    closed = [f["corrected"] for f in r["verdict"]["findings"] if f["expected"]["state"] == "closed"
                              and f["indication"]["state"] == "finite" and "corrected" in f]
                    largest += [max(closed)] if closed else []
                figure = line["contact_ohm"]
                self.assertEqual(figure["count"], len(largest))
                self.assertAlmostEqual(figure["mean"], statistics.mean(largest), 9)
                self.assertAlmostEqual(figure["max"], max(largest), 9)
                if len(largest) > 1:
                    self.assertAlmostEqual(figure["sd"], statistics.stdev(largest), 9)
                else:
                    self.assertNotIn("sd", figure)
                kinds = [r["verdict"]["explanations"][0]["fault"].split(":")[0] for r in members if r["verdict"]["outcome"] == "fail"]
                self.assertEqual(line["faults"], {kind: kinds.count(kind) for kind in kinds})
        self.assertEqual(self.tool("records", "trend", "--json").stdout, "")  # simulated ones are never mixed with real ones


class LongListTest(EndToEnd):
    def test_a_long_list_shows_the_newest_forty_and_says_so(self):
        for number in range(42):
            folder = self.dir / f"bench{number}"
            folder.mkdir()
            hands = ScriptedHands(folder)
            meter = ScriptedMeter(lambda: lcd_frame("0000", point=4, unit="V", ac=True))  # shows no known source: given up at once
            self.qualify({"port": meter.port, "hands": hands.path}, "--serial", f"N-{number:02}", "--patience", "0.05s", profile="interlock-door",
                         code=4)
            meter.close()
            hands.close()
        done = self.tool("records")
        lines = [line for line in done.stdout.splitlines() if " N-" in line]
        self.assertEqual([line.split(" N-")[1][:2] for line in lines], [f"{n:02}" for n in range(41, 1, -1)])
        self.assertIn("newest 40 of 42", done.stderr)
        for words in (["--all"], ["--json"], ["--operator", "test"]):
            done = self.tool("records", *words)
            self.assertEqual(len(done.stdout.split("N-")) - 1, 42, words)
            self.assertEqual(done.stderr, "")
        self.assertEqual(self.tool("records", "--serial", "N-00").stdout.count("N-00"), 1)


if __name__ == "__main__":
    unittest.main()
