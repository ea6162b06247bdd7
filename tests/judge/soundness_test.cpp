// Which contacts readings prove sound. Expected answers follow from Ohm's law and from what is in series with what.
#include "switchwright/judge/soundness.hpp"

#include <doctest/doctest.h>

#include "parts.hpp"
#include "switchwright/profile/contact_limits.hpp"

using namespace parts;

namespace {

/// 0.1 milliohm digits; invented.
MeterDefinition milliohm() {
  return meter_of({{Quantity::resistance, 10, 1e-4, 0.0, 1}, {Quantity::resistance, 1e8, 1e3, 1, 1}});
}

Profile two_contacts() {
  Profile p;
  p.id = "two";
  p.rating = {240, 10, {}};
  p.terminals = {"A", "B", "C"};
  p.positions = {{"on", 0, "on"}};
  p.contacts = {{"load", {"A", "B"}, {"on"}, {}}, {"pilot", {"A", "C"}, {"on"}, {}}};
  p.contacts[1].current_a = 0.01;
  p.limits.sound_max_mv = 200;  // 20 milliohm at 10 A; the pilot could have 20 ohm and is held to 2
  return p;
}

ScopeItem item(const Profile& p, const std::vector<std::pair<Pair, double>>& readings) {
  std::vector<Finding> findings;
  for (const auto& [pair, ohm] : readings)
    findings.push_back(
        judge(expectation(p, "on", pair), reads(ohm, 1e-4), Witness::not_needed, p, milliohm(), ideal_leads(), {}));
  return soundness_item(p, findings, DecisionRule::guarded);
}

}  // namespace

TEST_CASE("millivolts become ohms by the current that each contact carries") {
  const Profile p = two_contacts();
  CHECK(sound_max_ohm(p, "load") == doctest::Approx(0.020));
  CHECK(sound_max_ohm(p, "pilot") == doctest::Approx(2.0));
  CHECK(strictest_sound_ohm(p) == doctest::Approx(0.020));
  Profile older = p;  // ohms of a contact that carries the rated current
  older.limits.sound_max_mv.reset();
  older.limits.sound_max_ohm = 0.05;
  CHECK(sound_max_ohm(older, "load") == doctest::Approx(0.05));
  CHECK(sound_max_ohm(older, "pilot") == doctest::Approx(2.0));
  older.contacts[1].current_a = 0.5;  // 0.05 ohm x 10 A = 0.5 V; at 0.5 A that is 1 ohm
  CHECK(sound_max_ohm(older, "pilot") == doctest::Approx(1.0));
}

TEST_CASE("a contact is sound only by a reading that shows it") {
  const Profile p = two_contacts();
  const Pair load{"A", "B"}, pilot{"A", "C"}, both{"B", "C"};
  CHECK(item(p, {{load, 0.010}, {pilot, 0.5}, {both, 0.51}}).decided == Decided::pass);
  CHECK(item(p, {{load, 0.030}, {pilot, 0.5}, {both, 0.53}}).decided == Decided::fail);
  // Through the pilot the load's 30 milliohm cannot be told from the pilot's own.
  CHECK(item(p, {{pilot, 0.5}, {both, 0.53}}).decided == Decided::undecided);
  CHECK(item(p, {{both, 0.012}}).decided == Decided::pass);       // so little is enough for either
  CHECK(item(p, {{load, 0.010}}).decided == Decided::undecided);  // nobody looked at the pilot
  CHECK(item(p, {}).decided == Decided::undecided);
}

TEST_CASE("a contact that another bridges is never called sound") {
  Profile p = two_contacts();
  p.contacts.push_back({"twin", {"A", "B"}, {"on"}, {}});
  CHECK(item(p, {{{"A", "B"}, 0.005}, {{"A", "C"}, 0.5}}).decided == Decided::undecided);
}
