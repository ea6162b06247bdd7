#include "switchwright/profile/wired.hpp"

#include <doctest/doctest.h>

#include "switchwright/core/error.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/library.hpp"

using namespace switchwright;

namespace {

Profile shipped(const char* id) { return load_profile(id, {std::filesystem::path(SOURCE_DIR) / "profiles"}); }

std::string refusal(const char* text, const Profile& profile) {
  try {
    parse_wired_load(text, profile);
  } catch (const Error& error) {
    return std::string{error.what_happened()} + "; " + std::string{error.what_next()};
  }
  return {};
}

}  // namespace

TEST_CASE("a load is stated by its power and voltage, by its ohms, or for one output") {
  // R = U^2 / P.
  struct Row {
    const char* text;
    const char* pair;
    double ohm;
  };
  const Profile one = shipped("regulator-shunt-240");
  for (const Row& row :
       {Row{"2800W@240", "H1-H2", 240.0 * 240.0 / 2800.0}, Row{"2.8kW@240 V", "H1-H2", 57600.0 / 2800.0},
        Row{"20.6 ohm", "H1-H2", 20.6}, Row{"20,6", "H1-H2", 20.6}, Row{"surface=1kW@208", "H1-H2", 43.264},
        Row{"L1-L2=30ohm", "L1-L2", 30.0}}) {
    CAPTURE(row.text);
    const WiredLoad load = parse_wired_load(row.text, one);
    CHECK(load.between.text() == row.pair);
    CHECK(load.ohm == doctest::Approx(row.ohm));
  }
  CHECK(refusal("0W@240", one) != "");
  CHECK(refusal("2800@", one) != "");
  CHECK(refusal("-5ohm", one) != "");
  CHECK(refusal("H1-H9=20ohm", one).find("no output") != std::string::npos);
  CHECK(refusal("2800W@240", shipped("regulator-dual-240")).find("H1-H2=... and H1-H3=...") != std::string::npos);
}

TEST_CASE("the load joins the network and every expectation is derived anew") {
  // By hand: heater 14.4 kohm within 15 % beside a load of 57600/2800 ohm within 15 %; contacts up to 2 ohm each.
  const Profile wired = wired_profile(shipped("regulator-shunt-240"), {{Pair("H1", "H2"), 57600.0 / 2800.0}});
  const Expectation off = expectation(wired, "off", Pair("H1", "H2"));
  const double least = 1.0 / (1.0 / (14400.0 * 0.85) + 1.0 / (57600.0 / 2800.0 * 0.85));
  const double most = 1.0 / (1.0 / (14400.0 * 1.15) + 1.0 / (57600.0 / 2800.0 * 1.15));
  CHECK(off.state == PairState::element);
  CHECK(off.ohm.max == doctest::Approx(most).epsilon(1e-4));
  CHECK(off.ohm.min == doctest::Approx(least).epsilon(1e-4));
  CHECK(expectation(wired, "off", Pair("L1", "H1")).state == PairState::open);
  CHECK(expectation(wired, "high", Pair("L1", "H1")).state == PairState::closed);
  // Through both contacts and the load: what was 14.4 kohm is 20 ohm.
  CHECK(expectation(wired, "high", Pair("L1", "L2")).ohm.max == doctest::Approx(most + 4.0).epsilon(1e-3));
}

TEST_CASE("pulling connectors takes away what hangs on them and nothing of the part") {
  const Profile part = shipped("regulator-shunt-240");
  const Profile wired = wired_profile(part, {{Pair("H1", "H2"), 20.0}});
  CHECK(is_wired(wired));
  CHECK_FALSE(is_wired(part));
  CHECK(wired_terminals(wired) == std::vector<std::string>{"L2", "H1", "H2", "P"});  // the lamp from P to L2 stays too
  CHECK_FALSE(is_wired(all_pulled(wired)));
  CHECK(all_pulled(wired).elements.size() == part.elements.size());
  CHECK(with_pulled(wired, {"H1"}).elements.size() == part.elements.size() + 1);
}

TEST_CASE("how a part was wired is in its text and comes back from it") {
  for (const char* id : {"regulator-shunt-240", "thermostat-pilot", "interlock-door", "selector-three-heat"}) {
    CAPTURE(id);
    const Profile part = shipped(id);
    const Pair output = part.powered->loads.front().between;
    const Profile wired = wired_profile(part, {{output, 25.0}});
    const Profile again = parse_profile(wired.source_text, "record");
    REQUIRE(again.elements.size() == wired.elements.size());
    CHECK(again.elements.back().outside);
    CHECK(again.internal == wired.internal);
    CHECK(expectations(again).size() == expectations(part).size());  // the same pairs: no probe reaches what is outside
  }
}
