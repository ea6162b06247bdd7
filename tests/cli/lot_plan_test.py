"""lot plan and lot study as a person runs them."""
import json
import os
import subprocess
import tempfile
import unittest

from harness import TOOL


def run(*arguments, text=None):
    return subprocess.run([TOOL, "lot", *arguments], capture_output=True, text=True, input=text, timeout=60)


class Plan(unittest.TestCase):
    def plan(self, *arguments, code=0):
        done = run("plan", *arguments, "--json")
        self.assertEqual(done.returncode, code, done.stderr)
        return [json.loads(line) for line in done.stdout.splitlines()]

    def test_a_plan_is_one_object_with_the_lot_echoed(self):
        # MIL-STD-105E: lot 2000, level II, letter K; AQL 1.0 normal 125, 3/4.
        got = self.plan("--size", "2000")
        self.assertEqual(len(got), 1)
        self.assertEqual({k: got[0][k] for k in ("type", "code_letter", "sample_size", "accept", "reject", "lot_size", "level", "aql", "mode")},
                         {"type": "plan", "code_letter": "K", "sample_size": 125, "accept": 3, "reject": 4, "lot_size": 2000, "level": "II", "aql": 1.0,
                          "mode": "normal"})

    def test_a_sample_that_reaches_the_lot_is_the_lot(self):
        got = self.plan("--size", "8")[0]
        self.assertEqual((got["sample_size"], got["accept"], got["table_sample_size"], got["whole_lot"]), (8, 0, 13, True))
        self.assertIn("Test all 8 units", run("plan", "--size", "8").stdout)

    def test_the_double_plan_is_given_on_request(self):
        got = self.plan("--size", "5000", "--aql", "1.5", "--double")[0]  # published: 125 + 125, 3/7, 8/9
        self.assertEqual([got[k] for k in ("sample_size", "accept", "reject", "second_sample_size", "second_accept", "second_reject")],
                         [125, 3, 7, 125, 8, 9])
        self.assertEqual(run("plan", "--size", "50", "--double").returncode, 2)

    def test_a_plan_is_found_from_two_risks(self):
        got = self.plan("--size", "100000", "--ltpd", "5", "--alpha", "5%", "--beta", "10%")[0]
        found = [one for one in got["beside"] if one["sampling"] == "found"][0]
        # From memory: the tables of Dodge and Romig's kind give 132 and 3 for a process at 1 % / 5 %.
        self.assertAlmostEqual(found["sample_size"], 132, delta=2)
        self.assertEqual(found["accept"], 3)

    def test_the_curve_falls_from_certain_to_hardly_ever(self):
        points = self.plan("--size", "200", "--curve", "--simulate", "20000")[1:]
        accepted = [point["accepted"] for point in points]
        self.assertEqual(accepted[0], 1.0)
        self.assertEqual(accepted, sorted(accepted, reverse=True))
        self.assertLess(accepted[-1], 0.01)
        self.assertGreaterEqual(len(points), 10)
        for point in points:
            self.assertAlmostEqual(point["simulated_accepted"], point["accepted"], delta=0.015)

    def test_the_picture_is_a_valid_drawing(self):
        with tempfile.TemporaryDirectory() as folder:
            file = os.path.join(folder, "curve.svg")
            self.assertEqual(run("plan", "--size", "200", "--picture", file).returncode, 0)
            import xml.etree.ElementTree as tree
            self.assertTrue(tree.parse(file).getroot().tag.endswith("svg"))
            self.assertEqual(run("plan", "--size", "200", "--picture", os.path.join(folder, "curve.jpeg")).returncode, 2)

    def test_what_the_standard_does_not_have_is_one_sentence_and_exit_2(self):
        for arguments in (["--size", "1"], ["--size", "0"], ["--size", "200", "--aql", "3"], ["--size", "200", "--level", "IV"], ["--size", "200", "--mode", "loose"],
                          ["--size", "-5"], ["--size", "2.5"], [], ["--size", "200", "--aql", "65", "--ltpd", "5"], ["--size", "200", "--ltpd", "0.5"],
                          ["--size", "200", "--simulate", "1000"]):
            done = run("plan", *arguments)
            self.assertEqual(done.returncode, 2, (arguments, done.stdout, done.stderr))
            self.assertEqual(done.stdout, "", arguments)

    def test_every_size_level_and_quality_gives_a_plan(self):
        for size in ("2", "9", "281", "500001", "100000000"):
            for level in ("S-1", "III"):
                for aql in ("0.010", "1.0", "10", "1000"):
                    for mode in ("normal", "tightened", "reduced"):
                        done = run("plan", "--size", size, "--level", level, "--aql", aql, "--mode", mode, "--curve")
                        self.assertEqual((done.returncode, done.stderr), (0, ""), (size, level, aql, mode))


class Study(unittest.TestCase):
    def sheet(self, noise):
        lines = ["part,operator,trial,value"]
        for part in range(10):
            for who in ("Ann", "Bo", "Cy"):
                for trial in range(3):
                    lines.append(f"{part},{who},{trial},{14.4 + 0.1 * part + noise * ((part * 7 + trial * 13 + len(who) * 5) % 11 - 5):.4f} kohm")
        return "\n".join(lines) + "\n"

    def test_the_exit_code_says_whether_the_bench_is_fit(self):
        self.assertEqual(run("study", "-", text=self.sheet(0.001)).returncode, 0)
        self.assertEqual(run("study", "-", text=self.sheet(0.1)).returncode, 1)

    def test_a_tolerance_carries_a_unit(self):
        done = run("study", "-", "--tolerance", "0.4 kohm", "--json", text=self.sheet(0.002))
        last = json.loads(done.stdout.splitlines()[-1])
        self.assertEqual(last["type"], "study")
        self.assertAlmostEqual(last["gauge"]["of_tolerance_pct"], 100 * 6 * last["gauge"]["sd"] / 400, places=6)

    def test_calls_against_a_hidden_reference(self):
        calls = "part,operator,result\n" + "".join(f"{p},{w},{'pass' if p < 6 or (w == 'Bo' and p == 9) else 'fail'}\n" for _ in range(2) for p in range(10) for w in ("Ann", "Bo"))
        with tempfile.NamedTemporaryFile("w", suffix=".csv") as truth:
            truth.write("part,result\n" + "".join(f"{p},{'pass' if p < 6 else 'fail'}\n" for p in range(10)))
            truth.flush()
            done = run("study", "-", "--reference", truth.name, text=calls)
        self.assertEqual(done.returncode, 3, done.stdout + done.stderr)
        self.assertIn("Bad parts were passed 2 of 16 times", " ".join(done.stdout.split()))

    def test_a_bad_sheet_is_one_sentence_and_exit_2(self):
        for text in ("", "part,value\n1,2\n", "part,operator,value\n1,Ann,x\n", "part,operator,value\n1,Ann,2\n"):
            done = run("study", "-", text=text)
            self.assertEqual((done.returncode, done.stdout), (2, ""), text)
        self.assertEqual(run("study", "/nowhere/at/all.csv").returncode, 2)


if __name__ == "__main__":
    unittest.main()
