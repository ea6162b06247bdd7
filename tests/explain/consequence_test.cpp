#include "switchwright/explain/consequence.hpp"

#include <doctest/doctest.h>

#include <string>

#include "judge/parts.hpp"
#include "switchwright/profile/library.hpp"

using namespace parts;

namespace {

const std::filesystem::path shipped = std::filesystem::path(SOURCE_DIR) / "profiles";

Profile shipped_profile(const char* id) { return load_profile(id, {shipped}); }

std::optional<Consequence> of(const char* profile_id, const std::string& fault) {
  const Profile profile = shipped_profile(profile_id);
  Cause cause;
  cause.fault = parse_fault(fault, profile);
  return consequence_of(profile, {}, cause);
}

bool says(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("every single fault of every shipped profile means something and has a next step") {
  for (const std::string& id : list_profiles({shipped})) {
    const Profile profile = load_profile(id, {shipped});
    std::vector<Profile> library;
    for (const std::string& other : list_profiles({shipped})) library.push_back(load_profile(other, {shipped}));
    for (const Hypothesis& h : hypotheses(profile, library, {}, false)) {
      if (h.good()) continue;
      CAPTURE(id);
      CAPTURE(to_string(h));
      const auto consequence = consequence_of(profile, library, h.causes.front());
      REQUIRE(consequence);
      CHECK_FALSE(consequence->means.empty());
      CHECK_FALSE(consequence->next.empty());
    }
  }
}

TEST_CASE("a bridge is as grave as what it can make live") {
  // From the wiring: the load hangs between H1 and H2, P is the lamp behind the line contact.
  CHECK(of("regulator-shunt-240", "bridged:H2,CASE")->severity == Severity::critical);
  CHECK(says(of("regulator-shunt-240", "bridged:H2,CASE")->means, "a hand can touch is joined to H2"));
  CHECK(of("regulator-shunt-240", "bridged:L1,H2")->severity == Severity::critical);
  CHECK(of("regulator-shunt-240", "bridged:L1,H2")->fault == "bridged:L1,H2");
}

TEST_CASE("the words of the profile come before general ones") {
  CHECK(says(of("regulator-shunt-240", "swapped:H1,H2")->means, "a resistive element does not mind"));
  CHECK(says(of("regulator-shunt-240", "swapped:H1,P")->means, "What belongs on H1 is on P"));
}

// P = U^2 / R: (240/208)^2 = 1.33, (240/120)^2 = 4.
TEST_CASE("another voltage version says how much too hot its heater would get") {
  const Profile wanted = shipped_profile("regulator-shunt-240");
  const std::vector<Profile> library{shipped_profile("regulator-shunt-208"), shipped_profile("regulator-shunt-120")};
  Cause cause;
  cause.kind = CauseKind::other_profile;
  cause.profile = "regulator-shunt-208";
  CHECK(says(consequence_of(wanted, library, cause)->means, "made for 208 V, not for 240 V"));
  CHECK(says(consequence_of(wanted, library, cause)->means, "1.3 times the power"));
  cause.profile = "regulator-shunt-120";
  CHECK(says(consequence_of(wanted, library, cause)->means, "4 times the power"));
}

// Rated 240 V, 15 A. By hand: 10 mohm: 15^2 x 0.01 = 2.25 W, 0.15 V; Holm from 20 degC with L = 2.443e-8:
// sqrt(293.15^2 + 0.15^2 / (4 L)) = 562 K = 289 degC. 0.3 ohm: 67.5 W and 4.5 V, silver melts at 0.37 V
// (Holm's table). 16 ohm before the rated load of 16 ohm: 7.5 A and 900 W.
TEST_CASE("a resistive contact says its heat at the rated current and how hot the spot gets at most") {
  const Profile p = shipped_profile("regulator-shunt-240");
  const Contact& line = p.contacts[0];
  const Contact& pilot = p.contacts[1];
  CHECK(says(heat_in_words(p, line, 0.01), "At the rated 15 A"));
  // The pilot carries 20 mA: 0.02^2 x 1.5 = 0.6 mW.
  CHECK(says(heat_in_words(p, pilot, 1.5), "At the 0.02 A that it carries"));
  CHECK(says(heat_in_words(p, pilot, 1.5), "0.0006 W"));
  CHECK(says(heat_in_words(p, line, 0.01), "2.25 W"));
  CHECK(says(heat_in_words(p, line, 0.01), "up to 289 degC (Holm, drop 0.15 V)"));
  CHECK(says(heat_in_words(p, line, 0.01), "upper bound"));
  CHECK(says(heat_in_words(p, line, 0.3), "67.5 W"));
  CHECK(says(heat_in_words(p, line, 0.3), "the drop of 4.5 V is more than the 0.37 V"));
  CHECK(says(heat_in_words(p, line, 16.0), "7.5 A are left"));
  CHECK(says(heat_in_words(p, line, 16.0), "900 W"));
  CHECK(says(of("regulator-shunt-240", "resistive:line=0.3")->means, "67.5 W"));
  CHECK_FALSE(says(of("regulator-shunt-240", "stuck-open:line")->means, "W into heat"));
  Profile unrated = p;
  unrated.rating.current_a = 0.0;
  CHECK(heat_in_words(unrated, unrated.contacts[0], 0.3).empty());
}
