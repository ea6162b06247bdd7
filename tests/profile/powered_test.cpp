#include "switchwright/profile/powered.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "switchwright/core/error.hpp"
#include "switchwright/profile/library.hpp"

using namespace switchwright;

namespace {

const std::filesystem::path shipped = std::filesystem::path(SOURCE_DIR) / "profiles";

VoltageExpectation at(const Profile& profile, const std::string& position, const std::string& a, const std::string& b) {
  for (const VoltageExpectation& expected : voltage_expectations(profile))
    if (expected.position == position && expected.pair == Pair(a, b)) return expected;
  FAIL("no such pair");
  return {};
}

constexpr double inf = std::numeric_limits<double>::infinity();

}  // namespace

// By hand: 2400 W at 240 V is 24 ohm, 10 %; heater 14400 ohm, 15 %, beside it; contacts up to 0.1 ohm; supply
// 228 to 252 V (ANSI C84.1 service voltage, range A, from memory). Up to 1 V counts as dead.
TEST_CASE("a 240 V regulator under power reads as hand calculation says") {
  Profile profile = load_profile("regulator-shunt-240", {shipped});
  profile.powered->contact_max_ohm = 0.1;
  const double least_load = 1.0 / (1.0 / 21.6 + 1.0 / (14400 * 0.85));
  const double load_least_share = least_load / (least_load + 0.2);
  const double most_drop = 252 * 0.1 / (least_load + 0.1);
  struct Row {
    const char* position;
    const char* a;
    const char* b;
    VoltageState state;
    double min_v;
    double max_v;
  };
  const auto live = VoltageState::live;
  const auto dead = VoltageState::dead;
  const auto cycles = VoltageState::cycles;
  const Row rows[] = {
      {"off", "L1", "L2", live, 228, 252},
      {"off", "H1", "H2", dead, 0, 1},
      // The lamp (100 kohm, 30 %) ties P to L2, and the open pilot contact may leak 1 Mohm, as cold work allows.
      {"off", "P", "L2", dead, 0, 252 * 130e3 / 1130e3},
      {"off", "P", "L1", live, 228 * 1e6 / 1130e3, 252},
      {"off", "L1", "CASE", live, 114, 126},
      {"off", "L2", "CASE", live, 114, 126},
      {"high", "H1", "H2", live, 228 * load_least_share, 252},
      {"high", "L1", "H1", dead, 0, most_drop},
      {"high", "L2", "H2", dead, 0, most_drop},
      {"high", "P", "L2", live, 228 * 70000 / 70000.1, 252},
      {"high", "H1", "CASE", live, 228 * (0.5 - 0.1 / (least_load + 0.1)), 126},
      {"medium", "H1", "H2", cycles, 0, 252},
      {"medium", "L2", "H2", cycles, 0, 252},
      {"medium", "L1", "H1", dead, 0, most_drop},
      {"medium", "P", "L2", live, 228 * 70000 / 70000.1, 252},
  };
  for (const Row& row : rows) {
    CAPTURE(row.position);
    CAPTURE(row.a);
    CAPTURE(row.b);
    const VoltageExpectation expected = at(profile, row.position, row.a, row.b);
    CHECK(to_string(expected.state) == to_string(row.state));
    CHECK(expected.v.min == doctest::Approx(row.min_v).epsilon(1e-9));
    CHECK(expected.v.max == doctest::Approx(row.max_v).epsilon(1e-9));
  }
}

TEST_CASE("a cycling load is either dead or fully live and nothing between") {
  const Profile profile = load_profile("regulator-shunt-240", {shipped});
  const VoltageExpectation load = at(profile, "low", "H1", "H2");
  REQUIRE(load.bands.size() == 2);
  CHECK(load.bands[0] == Interval{0, 1});
  CHECK(load.bands[1].min > 225);
  CHECK(load.bands[1].max == doctest::Approx(252));
  CHECK(load.nominal_v.value() == doctest::Approx(240));
}

// Two legs of 208Y/120 are 120 degrees apart, each 208/sqrt(3) = 120.09 V from the star point; split phase
// 240 V has its midpoint bonded; a 120 V circuit has its neutral bonded.
TEST_CASE("each leg reads to the housing as the supply is earthed") {
  struct Row {
    const char* id;
    double line;
    double other;
  };
  const Row rows[] = {{"regulator-shunt-240", 120, 120},
                      {"regulator-shunt-208", 208 / std::sqrt(3.0), 208 / std::sqrt(3.0)},
                      {"regulator-shunt-120", 120, 0}};
  for (const Row& row : rows) {
    CAPTURE(row.id);
    const Profile profile = load_profile(row.id, {shipped});
    CHECK(at(profile, "off", "L1", "CASE").nominal_v.value() == doctest::Approx(row.line));
    CHECK(at(profile, "off", "L2", "CASE").nominal_v.value() == doctest::Approx(row.other));
  }
}

TEST_CASE("a floating point is not checked and the reason says so") {
  Profile profile = load_profile("regulator-shunt-240", {shipped});
  for (const char* floating : {"H1", "H2"})
    for (const char* other : {"L1", "L2", "P", "CASE"}) {
      CAPTURE(floating);
      CAPTURE(other);
      const VoltageExpectation expected = at(profile, "off", floating, other);
      CHECK(expected.state == VoltageState::not_checked);
      CHECK(expected.reason.find("floats") != std::string::npos);
    }
  profile.powered->earth.clear();
  CHECK(at(profile, "off", "L1", "CASE").state == VoltageState::not_checked);
}

// By hand: both legs cycle, so with both open the load floats; joined to a leg it stands 120 V from the housing.
TEST_CASE("a load that floats in one state of its contacts and is live in the other is right in both") {
  const Profile profile = load_profile("regulator-both-legs-240", {shipped});
  const VoltageExpectation expected = at(profile, "low", "H1", "CASE");
  CHECK(expected.state == VoltageState::cycles);
  REQUIRE(expected.stray_max_v);
  CHECK(expected.join_v == doctest::Approx(120));
  REQUIRE(expected.bands.size() == 2);
  CHECK(expected.bands[0] == Interval{0, *expected.stray_max_v});
  CHECK(expected.bands[1].min > 110);
  CHECK_FALSE(expected.live_is_critical);
}

TEST_CASE("what a floating point may show is what the leakage allowed cold shows on a meter") {
  // A leak of 1 Mohm from 240 V, read with 10 Mohm: 240 * 10/11.
  CHECK(leak_shows_v(240, 1e6, 10e6) == doctest::Approx(240.0 * 10 / 11));
  const Profile profile = load_profile("regulator-shunt-240", {shipped});
  const VoltageExpectation expected = at(profile, "off", "H1", "L2");
  CHECK(expected.join_v == doctest::Approx(240));
  CHECK(expected.leak_ohm == 1e6);
  CHECK(expected.stray_max_v.value() == doctest::Approx(120));  // 1 Mohm input, the usual least
}

TEST_CASE("readings between ends of the supply and bonded metal are of the supply") {
  const Profile profile = load_profile("regulator-shunt-240", {shipped});
  CHECK(at(profile, "off", "L1", "L2").of_the_supply);
  CHECK(at(profile, "off", "L1", "CASE").of_the_supply);
  CHECK_FALSE(at(profile, "off", "P", "L1").of_the_supply);
  CHECK_FALSE(at(profile, "high", "H1", "CASE").of_the_supply);
}

namespace {

/// Regulator with many contacts beside each other between the legs and the load.
Profile with_contacts(int count) {
  Profile profile = load_profile("regulator-shunt-240", {shipped});
  for (int i = 0; i < count; ++i) {
    Contact contact;
    contact.id = "more-" + std::to_string(i);
    contact.between = {"L1", "H1"};
    contact.closed_at = {"high"};
    profile.contacts.push_back(contact);
  }
  return profile;
}

}  // namespace

TEST_CASE("a circuit with more parts than are solved is not known and never anything passes") {
  const Profile profile = with_contacts(20);
  const VoltageExpectation load = at(profile, "off", "H1", "H2");
  CHECK(load.state == VoltageState::unsolved);
  CHECK(load.bands.empty());
  CHECK(can_be_read(load));
  CHECK_FALSE(load.reason.empty());
  CHECK(at(profile, "off", "L1", "L2").state == VoltageState::live);  // of the supply: known whatever the part is
}

// A neon lamp with its resistor as the lamp of the rocker: dark below 55 V, lit from 90 V on (invented). On 120 V it is
// lit when the rocker is on; at off it is dark, and what hangs on it alone floats.
TEST_CASE("a lamp with a striking voltage conducts only above it") {
  Profile profile = load_profile("rocker-lamp", {shipped});
  profile.elements.at(0).strikes_v = Interval{55, 90};
  profile.powered->loads.clear();  // nothing but the lamp joins 2 to 3
  CHECK(to_string(expectation(profile, "off", {"2", "3"}).state) == "open");
  CHECK(to_string(expectation(profile, "on", {"1", "3"}).state) == "open");
  CHECK(at(profile, "on", "2", "3").state == VoltageState::live);
  CHECK(at(profile, "off", "1", "2").state == VoltageState::not_checked);
  CHECK_FALSE(can_be_read(at(profile, "off", "1", "2")));  // the meter's own current may light it
  const VoltageExpectation dark = at(profile, "off", "2", "3");
  CHECK(dark.state == VoltageState::not_checked);
  CHECK(dark.stray_max_v);  // and it must not be live
  const PoweredSwitch off(profile, "off", {}), on(profile, "on", {});
  CHECK_FALSE(off.volts("2", "3", 120).has_value());
  CHECK(on.volts("2", "3", 120).value() == doctest::Approx(120).epsilon(1e-3));
  // Between 1 and 2 instead of across the load, with the load back: lit at off, its 47 kohm over 9.6 ohm.
  profile.powered->loads = {{"load", {"2", "3"}, 9.6, 0, false}};
  profile.elements.at(0).between = {"1", "2"};
  const PoweredSwitch across(profile, "off", {});
  CHECK(across.volts("2", "3", 120).value() == doctest::Approx(120 * 9.6 / 47009.6).epsilon(1e-6));
  CHECK(across.volts("2", "3", 40).has_value());
  CHECK(across.volts("1", "2", 40).value() == doctest::Approx(40));
}

TEST_CASE("a dead load that reads live is critical and a contact's drop is not") {
  const Profile profile = load_profile("regulator-shunt-240", {shipped});
  CHECK(at(profile, "off", "H1", "H2").live_is_critical);
  CHECK_FALSE(at(profile, "high", "L1", "H1").live_is_critical);
  CHECK_FALSE(at(profile, "high", "H1", "H2").live_is_critical);
  CHECK(at(load_profile("regulator-shunt-120", {shipped}), "off", "L2", "CASE").live_is_critical);
}

TEST_CASE("a profile without a powered part says what to add") {
  Profile profile = load_profile("regulator-shunt-240", {shipped});
  profile.powered.reset();
  CHECK_THROWS_AS(voltage_expectations(profile), Error);
}

TEST_CASE("supply ranges are those of the standards") {
  // ANSI C84.1 service voltage: from memory. IEC 60038: 207 to 253 V at the supply terminals of a 230 V
  // supply.
  CHECK(supply_range("ansi-c84.1-a", 120).value() == Interval{114, 126});
  CHECK(supply_range("ansi-c84.1-a", 208).value() == Interval{197, 218});
  CHECK(supply_range("ansi-c84.1-b", 240).value() == Interval{220, 254});
  CHECK(supply_range("iec-60038", 230).value().min == doctest::Approx(207));
  CHECK(supply_range("iec-60038", 230).value().max == doctest::Approx(253));
  CHECK_FALSE(supply_range("ansi-c84.1-a", 230).has_value());
  CHECK_FALSE(supply_range("ansi", 240).has_value());
}

TEST_CASE("faults show under power where they should") {
  const Profile profile = load_profile("regulator-shunt-240", {shipped});
  struct Row {
    const char* fault;
    const char* position;
    const char* a;
    const char* b;
    double volts;  // infinite: floats
  };
  const Row rows[] = {
      {"", "off", "H1", "CASE", inf},
      {"", "off", "H1", "H2", 0},
      {"", "high", "H1", "H2", 240},
      {"stuck-closed:line", "off", "H2", "CASE", 120},  // element dead, yet live to the housing
      {"stuck-closed:line", "off", "H1", "H2", 0},
      {"stuck-open:line", "high", "H1", "H2", 0},
      {"stuck-open:pilot", "high", "P", "L2", 0},
      {"resistive:line=24", "high", "H1", "H2", 120},
      {"shorted:heater", "high", "H1", "H2", inf},  // a short of the supply
  };
  for (const Row& row : rows) {
    CAPTURE(row.fault);
    CAPTURE(row.a);
    std::vector<Fault> faults;
    if (*row.fault) faults.push_back(parse_fault(row.fault, profile));
    const PoweredSwitch part(profile, row.position, {.closed_contact_ohm = 0.001}, faults);
    const auto volts = part.volts(row.a, row.b, 240);
    CHECK(volts.has_value() == std::isfinite(row.volts));
    if (volts) CHECK(std::abs(*volts - row.volts) < 0.2);
  }
  const PoweredSwitch opened(profile, "medium", {}, {}, {"cycling"});
  CHECK(opened.volts("H1", "H2", 240).value() == doctest::Approx(0));
  CHECK(opened.volts("L2", "H2", 240).value() == doctest::Approx(240).epsilon(1e-3));
  const PoweredSwitch welded(profile, "medium", {}, {parse_fault("stuck-closed:cycling", profile)}, {"cycling"});
  CHECK(welded.volts("H1", "H2", 240).value() == doctest::Approx(240).epsilon(1e-2));
}

TEST_CASE("a powered part that makes no sense is refused at its line") {
  const Profile profile = load_profile("regulator-shunt-240", {shipped});
  struct Row {
    const char* from;
    const char* to;
    const char* message;
  };
  const Row rows[] = {
      {"range = \"ansi-c84.1-a\"", "range = \"ansi\"", "expected a voltage standard for \"range\", saw \"ansi\""},
      {"range = \"ansi-c84.1-a\"", "range = \"ansi-c84.1-a\"\nsupply_v = [1, 2]", "either range or supply_v"},
      {"range = \"ansi-c84.1-a\"\n", "", "expected range or supply_v"},
      {"earth = \"midpoint\"", "earth = \"midpiont\"", "did you mean \"midpoint\"?"},
      {"earth = \"midpoint\"", "earth = \"H1\"", "one end of the supply"},
      {"power_w = 2400", "power_w = 2400\nohm = 24", "either ohm or power_w"},
      {"power_w = 2400\n", "", "either ohm or power_w"},
      {"supply = [\"L1\", \"L2\"]", "supply = [\"L1\", \"H1\"]", "joined by closed contacts at \"low\""},
      {"id = \"lamp\"", "id = \"heater\"", "expected each contact or element name once"},
      {"between = [\"P\", \"L2\"]", "between = [\"P\", \"N\"]", "expected a terminal, saw \"N\""},
      {"lamp = true", "lamp = 1", "expected true or false for \"lamp\""},
      {"lamp = true", "lamp = true\nstrikes_v = [90, 55]", "strikes_v"},
      {"earth = \"midpoint\"", "earth = \"midpoint\"\nearth_point = \"CASE\"", "earth_point"},
      {"earth = \"midpoint\"", "earth = \"midpoint\"\nbond_max_ohm = 0", "bond_max_ohm"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.to);
    std::string text = profile.source_text;
    const auto at = text.find(row.from);
    REQUIRE(at != std::string::npos);
    text.replace(at, std::string(row.from).size(), row.to);
    try {
      parse_profile(text, "demo.toml");
      FAIL_CHECK("accepted");
    } catch (const Error& error) {
      CAPTURE(error.what());
      CHECK(std::string(error.what()).find(row.message) != std::string::npos);
    }
  }
}

// What the bands are for: every good switch on every allowed supply reads inside one of them.
TEST_CASE("good switches under power read inside a band") {
  std::mt19937 random(1881);
  std::uniform_real_distribution<double> unit(0.0, 1.0);
  for (const std::string& id : list_profiles({shipped})) {
    Profile profile = load_profile(id, {shipped});
    if (!profile.powered) continue;
    const auto all = voltage_expectations(profile);
    for (int i = 0; i < 300; ++i) {
      Profile made = profile;
      const auto within = [&](double tolerance_pct) {
        return 1.0 + tolerance_pct / 100.0 * (2.0 * unit(random) - 1.0);
      };
      for (Element& e : made.elements) e.nominal_ohm *= within(e.tolerance_pct);
      for (PoweredLoad& load : made.powered->loads) load.ohm *= within(load.tolerance_pct);
      const Position& position = profile.positions[random() % profile.positions.size()];
      std::vector<std::string> opened;
      for (const Contact& c : profile.contacts)
        if (c.cycles(position.id) && unit(random) < 0.5) opened.push_back(c.id);
      const double supply = profile.powered->supply_v.min +
                            unit(random) * (profile.powered->supply_v.max - profile.powered->supply_v.min);
      const PoweredSwitch part(
          made, position.id,
          {.closed_contact_ohm = profile.powered->contact_max_ohm * unit(random),
           .open_contact_ohm = i % 2 ? 1e300 : profile.limits.open_min_ohm * (1.0 + 9.0 * unit(random))},
          {}, opened);
      for (const VoltageExpectation& expected : all) {
        if (expected.position != position.id || expected.state == VoltageState::not_checked || expected.stray_max_v)
          continue;
        const auto volts = part.volts(expected.pair.first(), expected.pair.second(), supply);
        CAPTURE(id);
        CAPTURE(position.id);
        CAPTURE(expected.pair.text());
        REQUIRE(volts.has_value());
        bool inside = false;
        for (const Interval& band : expected.bands)
          inside = inside || (*volts >= band.min * (1 - 1e-9) && *volts <= band.max * (1 + 1e-9));
        if (!inside) FAIL_CHECK("outside every band: " << *volts);
      }
    }
  }
}
