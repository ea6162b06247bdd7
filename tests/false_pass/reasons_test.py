"""Parts that a plan shorter than the full one must not pass: what it does not look at could be bad."""
import unittest

from harness import EndToEnd

# What is in the part | why a pass would be wrong.
ROWS = [
    (["resistive:cycling=6"], "a contact of 6 ohm where 2 ohm are the most"),
    (["resistive:pilot=6"], "the same in the contact that seldom matters"),
    (["stuck-open:pilot"], "a lamp that stays dark over a hot plate"),
    (["bridged:P,CASE"], "the housing joined to a terminal that nothing else is measured at"),
    (["bridged:H2,CASE"], "the housing joined to the element"),
    (["bridged:P,H2"], "two terminals joined that no part joins"),
    (["drifted:heater=40"], "an element out of its band"),
    (["tied:line,cycling", "bridged:P,CASE"], "two faults at once"),
    (["open:heater", "resistive:line=6"], "an open element that takes the reading away which would show the contact"),
    (["stuck-open:line", "stuck-closed:pilot"], "two contacts wrong in opposite ways"),
]


class ShorterPlans(EndToEnd):
    def assert_fails(self, plan):
        def check(faults, why):
            options = [word for fault in faults for word in ("--fault", fault)]
            verdict = self.qualify(self.simulator(*options), "--plan", plan, code=1, timeout=150)[-1]
            self.assertEqual(verdict["verdict"], "fail")

        self.at_once(ROWS, check)

    def test_the_short_plan_passes_none_of_these(self):
        self.assert_fails("short")

    def test_the_adaptive_plan_passes_none_of_these(self):
        self.assert_fails("adaptive")

    def test_a_pass_by_a_shorter_plan_has_seen_every_contact_and_all_exposed_metal(self):
        needed = {(position, *sorted(pair)) for position in ("off", "low", "medium", "high")
                  for pair in (*(("CASE", t) for t in ("H1", "H2", "L1", "L2", "P")), ("H1", "L1"), ("L1", "P"), ("H2", "L2"))}
        def check(plan):
            events = self.qualify(self.simulator(), "--plan", plan, timeout=150)
            judged = {(e["position"], *sorted(e["pair"])) for e in events if e["type"] == "judged"}
            self.assertEqual(needed - judged, set())
            self.assertEqual(events[-1]["verdict"], "pass")

        self.at_once([(plan,) for plan in ("short", "adaptive")], check)


if __name__ == "__main__":
    unittest.main()
