#include "switchwright/profile/fault.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "switchwright/core/error.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/library.hpp"

using namespace switchwright;

namespace {

Profile regulator() { return load_profile("regulator-shunt-240", {std::filesystem::path(SOURCE_DIR) / "profiles"}); }

double reading(const std::string& fault, const std::string& position, const std::string& a, const std::string& b) {
  const Profile profile = regulator();
  std::vector<Fault> faults;
  if (!fault.empty()) faults.push_back(parse_fault(fault, profile));
  return network_of(profile, position, {}, faults).resistance_ohm(a, b);
}

}  // namespace

TEST_CASE("each fault is written the way it is read") {
  const Profile profile = regulator();
  for (const char* text : {"stuck-closed:cycling", "stuck-open:line", "resistive:line=5", "resistive:line=0.25",
                           "open:heater", "shorted:heater", "drifted:heater=-20", "swapped:L1,L2", "clocked=1",
                           "clocked=-2", "bridged:L1,P", "bridged:H2,CASE", "tied:line,cycling"}) {
    CAPTURE(text);
    CHECK(to_string(parse_fault(text, profile)) == text);
  }
  CHECK(parse_fault("clocked:1", profile) == parse_fault("clocked=1", profile));
}

TEST_CASE("two names in either order are one fault") {
  const Profile profile = regulator();
  CHECK(to_string(parse_fault("swapped:L2,L1", profile)) == "swapped:L1,L2");
  CHECK(to_string(parse_fault("bridged:CASE,H2", profile)) == "bridged:H2,CASE");
  CHECK(to_string(parse_fault("tied:cycling,line", profile)) == "tied:line,cycling");
}

TEST_CASE("several faults are read as a diagnosis joins them") {
  const Profile profile = regulator();
  CHECK(parse_faults("none", profile).empty());
  CHECK(parse_faults("open:heater", profile) == std::vector{parse_fault("open:heater", profile)});
  CHECK(parse_faults("resistive:line=5.2 + bridged:L1,P", profile) ==
        std::vector{parse_fault("resistive:line=5.2", profile), parse_fault("bridged:L1,P", profile)});
  CHECK_THROWS_AS(parse_faults("open:heater + ", profile), Error);
  CHECK_THROWS_AS(parse_faults("", profile), Error);
}

TEST_CASE("a fault that makes no sense is refused with what is meant or what to write") {
  struct Row {
    const char* text;
    const char* message;
  };
  const Row rows[] = {
      {"", "known kind"},
      {"stuck-close:line", "did you mean \"stuck-closed\"?"},
      {"stuck-closed:lime", "did you mean \"line\"?"},
      {"stuck-closed:heater", "names no contact of regulator-shunt-240: \"heater\"; known: line, pilot, cycling"},
      {"stuck-closed", "does not say of what"},
      {"stuck-closed:line=3", "takes no value"},
      {"resistive:line", "does not say how much (ohm)"},
      {"resistive:line=x", "does not begin with a number"},
      {"resistive:line=5V", "V is a unit of voltage"},
      {"resistive:line=-5", "above 0 ohm"},
      {"drifted:heater=-100", "above -100 percent"},
      {"open:line", "names no element"},
      {"swapped:L1", "one terminal of two"},
      {"swapped:L1,L1", "same terminal twice"},
      {"swapped:L1,L9", "names no terminal"},
      {"bridged:L1", "one terminal of two"},
      {"bridged:L1,line", "names no terminal"},
      {"bridged:L1,P=3", "takes no value"},
      {"tied:line", "one contact of two"},
      {"tied:line,line", "same contact twice"},
      {"tied:line,heater", "names no contact"},
      {"clocked", "how many positions"},
      {"clocked=0", "whole number of positions"},
      {"clocked=1.5", "whole number of positions"},
      {"clocked=4", "whole number of positions"},
      {"clocked=1e99", "whole number of positions"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.text);
    try {
      parse_fault(row.text, regulator());
      FAIL_CHECK("accepted");
    } catch (const Error& error) {
      CAPTURE(error.what());
      CHECK(error.kind() == ErrorKind::usage);
      CHECK(std::string(error.what()).find(row.message) != std::string::npos);
    }
  }
}

// By hand from the wiring: contacts 0.01 ohm when closed, heater 14400 ohm between H1 and H2.
TEST_CASE("each fault changes the readings that its part is in") {
  const double inf = std::numeric_limits<double>::infinity();
  struct Row {
    const char* fault;
    const char* position;
    const char* a;
    const char* b;
    double ohm;
  };
  const Row rows[] = {
      {"", "off", "L2", "H2", inf},
      {"", "low", "L2", "H2", 0.01},
      {"stuck-closed:cycling", "off", "L2", "H2", 0.01},
      {"stuck-open:line", "high", "L1", "H1", inf},
      {"stuck-open:line", "high", "H1", "L2", 14400.01},
      {"resistive:line=5", "low", "L1", "H1", 5},
      {"resistive:line=5", "low", "P", "H1", 5.01},
      {"resistive:line=5", "off", "L1", "H1", inf},
      {"open:heater", "off", "H1", "H2", inf},
      {"shorted:heater", "off", "H1", "H2", 0},
      {"drifted:heater=-20", "off", "H1", "H2", 11520},
      {"swapped:L1,L2", "low", "L2", "H1", 0.01},
      {"swapped:L1,L2", "low", "L1", "H2", 0.01},
      {"swapped:L1,L2", "low", "L1", "P", 14400.03},
      {"clocked=1", "off", "L1", "H1", 0.01},
      {"clocked=1", "high", "L1", "H1", inf},  // the regulator turns right round: past high comes off
      {"clocked=-1", "low", "L1", "H1", inf},
      {"bridged:L1,L2", "off", "L1", "L2", 0.01},
      {"bridged:L1,L2", "off", "L1", "H2", inf},
      {"bridged:L1,L2", "low", "L1", "H2", 1 / (1 / 0.02 + 1 / 14400.01)},
      {"bridged:H2,CASE", "off", "H1", "CASE", 14400.01},
      {"tied:line,pilot", "off", "L1", "H1", inf},  // the two move alike anyhow
  };
  for (const Row& row : rows) {
    CAPTURE(row.fault);
    CAPTURE(row.position);
    CAPTURE(row.a);
    CAPTURE(row.b);
    const double ohm = reading(row.fault, row.position, row.a, row.b);
    if (std::isinf(row.ohm))
      CHECK(std::isinf(ohm));
    else
      CHECK(ohm == doctest::Approx(row.ohm).epsilon(1e-12));
  }
}

// By hand: contact a is closed at 1, b at 2, c at none; 0.01 ohm each.
TEST_CASE("contacts that are tied close where either should and a chain of ties pulls all of them") {
  Profile profile;
  profile.terminals = {"A", "B", "C", "X"};
  profile.positions = {{"1", 0, ""}, {"2", 90, ""}, {"3", 180, ""}};
  profile.contacts = {{"a", {"A", "X"}, {"1"}, {}}, {"b", {"B", "X"}, {"2"}, {}}, {"c", {"C", "X"}, {}, {}}};
  struct Row {
    const char* faults;
    const char* position;
    bool a, b, c;
  };
  const Row rows[] = {
      {"none", "1", true, false, false},
      {"tied:a,b", "1", true, true, false},
      {"tied:a,b", "2", true, true, false},
      {"tied:a,b", "3", false, false, false},
      {"tied:b,c + tied:a,b", "1", true, true, true},
      {"tied:a,b + stuck-open:a", "1", false, true, false},
      {"tied:a,b + stuck-closed:c", "3", false, false, true},
      {"tied:a,b + clocked=1", "2", false, false, false},
  };
  for (const Row& row : rows) {
    CAPTURE(row.faults);
    CAPTURE(row.position);
    const Network network = network_of(profile, row.position, {}, parse_faults(row.faults, profile));
    CHECK(std::isfinite(network.resistance_ohm("A", "X")) == row.a);
    CHECK(std::isfinite(network.resistance_ohm("B", "X")) == row.b);
    CHECK(std::isfinite(network.resistance_ohm("C", "X")) == row.c);
  }
}

TEST_CASE("a knob that does not turn right round stops at its ends when clocked") {
  Profile profile = regulator();
  profile.positions.back().angle_deg = 160;  // 200 degrees are left: this knob does not go round
  const Fault clocked = parse_fault("clocked=1", profile);
  CHECK(network_of(profile, "high", {}, {clocked}).resistance_ohm("L1", "H1") == doctest::Approx(0.01));
}

TEST_CASE("an open contact leaks only when it is given a resistance") {
  const Profile profile = regulator();
  CHECK(std::isinf(network_of(profile, "off", {}).resistance_ohm("L1", "H1")));
  CHECK(network_of(profile, "off", {.closed_contact_ohm = 0.01, .open_contact_ohm = 5e6}).resistance_ohm("L1", "H1") ==
        doctest::Approx(5e6));
}
