"""What `profiles` says: order, coverage, the shortest plan, pictures, checks, and the profile that a record fits."""
import json
import unittest
import xml.etree.ElementTree as ElementTree

from harness import SOURCE, EndToEnd

LIBRARY = sorted(p.stem for p in (SOURCE / "profiles").glob("*.toml"))


class Profiles(EndToEnd):
    def lines(self, *arguments, **options):
        return [json.loads(line) for line in self.tool("profiles", *arguments, "--json", **options).stdout.splitlines()]

    def test_an_order_visits_every_checked_pair_once_and_costs_no_more_than_the_plain_one(self):
        for profile in LIBRARY:
            with self.subTest(profile=profile):
                *placements, order = self.lines(profile, "--order")
                expected = {(e["position"], *sorted(e["pair"])) for e in self.lines(profile) if e["state"] != "not-checked"}
                visited = [(position, *sorted(p["pair"])) for p in placements for position in p["positions"]]
                self.assertEqual(sorted(visited), sorted(expected))
                self.assertLessEqual(order["lower_bound_s"], order["cost_s"] + 1e-9)
                self.assertLessEqual(order["cost_s"], order["naive_cost_s"] + 1e-9)

    def test_all_pairs_of_a_regulator_need_one_probe_at_a_time(self):
        # A complete graph has an order in which neighbours share a terminal: its line graph has a Hamiltonian path
        # (Chartrand 1968, from memory), so 14 moves of one probe suffice for 15 pairs.
        *placements, order = self.lines("regulator-shunt-240", "--order")
        self.assertEqual(len(placements), 15)
        for before, after in zip(placements, placements[1:]):
            self.assertTrue(set(before["pair"]) & set(after["pair"]))
        self.assertTrue(order["optimal"])

    def test_a_scanner_has_another_order_than_a_person(self):
        person = self.lines("regulator-shunt-240", "--order")
        scanner = self.lines("regulator-shunt-240", "--order", "--hands", "scanner")
        self.assertEqual((person[-1]["hands"], scanner[-1]["hands"]), ("person", "scanner"))
        self.assertNotEqual(len(person), len(scanner))

    def test_the_shortest_plan_detects_every_fault_that_is_detected_at_all(self):
        for profile in ("regulator-shunt-240", "selector-three-heat", "thermostat-pilot"):
            with self.subTest(profile=profile):
                *faults, summary = self.lines(profile, "--coverage")
                shortest = self.lines(profile, "--short")[0]
                chosen = {(r["position"], *sorted(r["pair"])) for r in shortest["readings"]}
                self.assertLess(len(chosen), summary["readings"])
                self.assertEqual(len(chosen) + shortest["left_out"], summary["readings"])
                for fault in faults:
                    detecting = {(r["position"], *sorted(r["pair"])) for r in fault["detected_by"]}
                    self.assertEqual(fault["detected"], bool(detecting))
                    if detecting:
                        self.assertTrue(chosen & detecting, fault["fault"])
                    else:
                        self.assertIn(fault["fault"], shortest["never_detected"])

    def test_every_profile_is_drawn_at_every_position(self):
        svg = "{http://www.w3.org/2000/svg}"
        for profile in LIBRARY:
            for position in sorted({e["position"] for e in self.lines(profile)}):
                with self.subTest(profile=profile, position=position):
                    self.tool("profiles", profile, "--picture", "picture.svg", "--position", position)
                    root = ElementTree.parse(self.dir / "picture.svg").getroot()
                    self.assertEqual(root.tag, svg + "svg")
                    self.assertIsNone(root.find(f".//{svg}script"))
                    words = {t.text for t in root.iter(svg + "text")}
                    for e in self.lines(profile):
                        self.assertTrue(set(e["pair"]) - words <= {"CASE", "BASE", "FRAME", "SHAFT"}, e["pair"])

    def test_a_position_that_is_not_there_is_named_with_its_neighbour(self):
        done = self.tool("profiles", "regulator-shunt-240", "--picture", "-", "--position", "hihg", code=2)
        self.assertIn("high", done.stderr)

    def test_a_sound_file_is_sound_and_a_wrong_one_has_every_mistake_named(self):
        text = (SOURCE / "profiles/rocker-lamp.toml").read_text()
        (self.dir / "mine.toml").write_text(text)
        self.assertEqual(self.lines("check", "mine.toml")[0]["profile"], "mine")
        (self.dir / "wrong.toml").write_text(text.replace('closed_at = ["on"]', 'closed_at = ["onn"]').replace("schema = 1", "schema = 9"))
        done = self.tool("profiles", "check", "wrong.toml", code=2)
        self.assertIn("onn", done.stderr)
        self.assertIn("schema", done.stderr)
        self.tool("profiles", "check", "absent.toml", code=2)

    def test_a_part_of_another_voltage_is_matched_to_its_own_profile(self):
        verdict = self.qualify(self.simulator(profile="regulator-shunt-120"), profile="regulator-shunt-240", code=1)[-1]
        self.assertEqual(verdict["explanations"][0]["fault"], "profile:regulator-shunt-120")
        ranked = self.lines("match", "latest")
        self.assertEqual((ranked[0]["profile"], ranked[0]["fails"]), ("regulator-shunt-120", 0))
        self.assertGreater(next(r for r in ranked if r["profile"] == "regulator-shunt-240")["fails"], 0)


if __name__ == "__main__":
    unittest.main()
