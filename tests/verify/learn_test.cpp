// Learning a part from its readings. The readings come from the profile room's nodal analysis of a known network and an
// imagined hand-held meter; what is learned must give them again, and must not be larger than what was there.
#include "switchwright/verify/learn.hpp"

#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <algorithm>
#include <filesystem>
#include <random>

#include "parts.hpp"
#include "simulated.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/profile/library.hpp"

using namespace switchwright;

namespace {

LearnSubject subject_of(const Profile& profile) {
  LearnSubject subject;
  subject.title = "a part, learned";
  subject.terminals = profile.terminals;
  subject.exposed_metal = profile.exposed_metal;
  for (const Position& position : profile.positions) subject.positions.push_back(position.id);
  subject.beyond_ohm = 60e6;
  return subject;
}

/// Without `random` the readings are exact.
std::vector<LearnReading> readings_of(const Profile& profile, std::mt19937_64* random) {
  std::vector<LearnReading> readings;
  std::optional<simulated::Meter> meter;
  Leads leads;
  if (random) {
    meter.emplace(parts::finer(), *random);
    leads = meter->leads();
  }
  PartValues values;
  values.closed_contact_ohm = random ? 0.02 : 0.0;
  for (const Position& position : profile.positions) {
    const Network network = network_of(profile, position.id, values);
    for (const Pair& pair : profile.pairs()) {
      const double ohm = network.resistance_ohm(pair.first(), pair.second());
      LearnReading reading{position.id, pair, std::nullopt, 0.0};
      if (random) {
        const Indication i = meter->read(ohm);
        if (i.state == ReadingState::finite) {
          reading.ohm = std::max(0.0, i.value - leads.correction_ohm());
          reading.U_ohm = uncertainty_of(parts::finer(), Quantity::resistance, i.value, i.resolution, &leads).U;
        }
      } else if (std::isfinite(ohm)) {
        reading.ohm = ohm;
      }
      readings.push_back(reading);
    }
  }
  return readings;
}

Profile written_and_read(const LearnSubject& subject, const std::vector<LearnReading>& readings, const Learned& learned) {
  return parse_profile(learned_toml(subject, readings, learned, "2026-03-01", "an imagined meter"), "learned.toml");
}

Profile shipped(const std::string& id) {
  return load_profile(id, {std::filesystem::path(SOURCE_DIR) / "profiles"});
}

Profile random_part(std::mt19937_64& random) {
  Profile profile;
  profile.id = "random";
  const std::size_t nodes = 3 + random() % 5;
  for (std::size_t i = 0; i < nodes; ++i) profile.terminals.push_back("T" + std::to_string(i + 1));
  const std::size_t positions = 1 + random() % 5;
  for (std::size_t i = 0; i < positions; ++i)
    profile.positions.push_back({"p" + std::to_string(i), static_cast<double>(i), "p"});
  const auto two = [&] {
    const std::size_t a = random() % nodes;
    const std::size_t b = (a + 1 + random() % (nodes - 1)) % nodes;
    return Pair{profile.terminals[a], profile.terminals[b]};
  };
  for (std::size_t i = random() % 5; i > 0; --i) {
    Contact contact{"c" + std::to_string(i), two(), {}, {}};
    for (const Position& position : profile.positions)
      if (random() % 2) contact.closed_at.push_back(position.id);
    if (!contact.closed_at.empty()) profile.contacts.push_back(contact);
  }
  for (std::size_t i = random() % 4; i > 0; --i) {
    const double decade = 1.5 + 3.5 * static_cast<double>(random() % 1000) / 1000.0;
    profile.elements.push_back({"e" + std::to_string(i), two(), std::pow(10.0, decade), 10.0});
  }
  return profile;
}

bool every_terminal_used(const Profile& profile) {
  return std::all_of(profile.terminals.begin(), profile.terminals.end(), [&](const std::string& terminal) {
    return std::any_of(profile.contacts.begin(), profile.contacts.end(),
                       [&](const Contact& c) { return c.between.has(terminal); }) ||
           std::any_of(profile.elements.begin(), profile.elements.end(),
                       [&](const Element& e) { return e.between.has(terminal); });
  });
}

bool has(const std::vector<Contact>& contacts, const Pair& pair) {
  return std::any_of(contacts.begin(), contacts.end(), [&](const Contact& c) { return c.between == pair; });
}

}  // namespace

TEST_CASE("a regulator is learned from its readings") {
  std::mt19937_64 random(1);
  const Profile truth = shipped("regulator-shunt-240");
  const LearnSubject subject = subject_of(truth);
  const auto readings = readings_of(truth, &random);
  const Learned learned = learn(subject, readings);
  CHECK(learned.unexplained.empty());
  CHECK(learned.fewest_contacts);
  REQUIRE(learned.contacts.size() == 3);
  for (const Contact& contact : truth.contacts) CHECK(has(learned.contacts, contact.between));
  REQUIRE(learned.elements.size() == 1);
  CHECK(learned.elements[0].between == Pair{"H1", "H2"});
  CHECK(learned.elements[0].nominal_ohm == doctest::Approx(14400).epsilon(0.02));
  // L1, H1 and P are joined together: which two of the three pairs are contacts, no reading tells.
  REQUIRE(learned.ambiguities.size() >= 2);
  CHECK(learned.ambiguities[0].find("may as well be") != std::string::npos);
  CHECK(outside_of(written_and_read(subject, readings, learned), readings, subject.beyond_ohm).empty());
}

TEST_CASE("every shipped profile that a meter can see through is learned again") {
  std::mt19937_64 random(7);
  for (const std::string& id : list_profiles({std::filesystem::path(SOURCE_DIR) / "profiles"})) {
    CAPTURE(id);
    const Profile truth = shipped(id);
    const LearnSubject subject = subject_of(truth);
    const auto readings = readings_of(truth, &random);
    const Learned learned = learn(subject, readings);
    CHECK(learned.unexplained.empty());
    CHECK(learned.contacts.size() <= truth.contacts.size());
    CHECK(learned.elements.size() <= truth.elements.size());
    CHECK(outside_of(written_and_read(subject, readings, learned), readings, subject.beyond_ohm).empty());
  }
}

TEST_CASE("readings of a random network are given again by what is learned from them") {
  CHECK(rc::check([](std::uint32_t seed) {
    std::mt19937_64 random(seed);
    const Profile truth = random_part(random);
    const LearnSubject subject = subject_of(truth);
    const auto readings = readings_of(truth, nullptr);
    const Learned learned = learn(subject, readings);
    RC_ASSERT(learned.unexplained.empty());
    if (learned.fewest_contacts) RC_ASSERT(learned.contacts.size() <= truth.contacts.size());
    Profile again = provisional_profile(subject);
    again.contacts = learned.contacts;
    again.elements = learned.elements;
    PartValues values;
    values.closed_contact_ohm = 0.0;
    for (const LearnReading& reading : readings) {
      const double ohm =
          network_of(again, reading.position, values).resistance_ohm(reading.pair.first(), reading.pair.second());
      RC_ASSERT(std::isfinite(ohm) == reading.ohm.has_value());
      if (reading.ohm) RC_ASSERT(std::abs(ohm - *reading.ohm) <= 0.3 + 1e-6 * *reading.ohm);
    }
  }));
}

TEST_CASE("readings with a meter's noise lie within what the learned profile expects") {
  CHECK(rc::check([](std::uint32_t seed) {
    std::mt19937_64 random(seed);
    const Profile truth = random_part(random);
    if (!every_terminal_used(truth)) return;  // a profile with an idle terminal is refused by the parser
    const LearnSubject subject = subject_of(truth);
    const auto readings = readings_of(truth, &random);
    const Learned learned = learn(subject, readings);
    RC_ASSERT(learned.unexplained.empty());
    RC_ASSERT(outside_of(written_and_read(subject, readings, learned), readings, subject.beyond_ohm).empty());
  }));
}

TEST_CASE("a reading that no network gives is named") {
  LearnSubject subject;
  subject.terminals = {"A", "B", "C"};
  subject.positions = {"only"};
  // Joined A-B and B-C, yet A-C reads open.
  const Learned learned = learn(subject, {{"only", {"A", "B"}, 0.1, 0.1}, {"only", {"B", "C"}, 0.1, 0.1},
                                          {"only", {"A", "C"}, std::nullopt, 0.0}});
  REQUIRE(learned.unexplained.size() == 1);
  CHECK(learned.unexplained[0].pair == Pair{"A", "C"});
}

TEST_CASE("a missing or unknown reading is refused") {
  LearnSubject subject;
  subject.terminals = {"A", "B", "C"};
  subject.positions = {"only"};
  CHECK_THROWS_AS(learn(subject, {{"only", {"A", "B"}, 0.1, 0.1}}), Error);
  CHECK_THROWS_AS(learn(subject, {{"only", {"A", "D"}, 0.1, 0.1}}), Error);
  CHECK_THROWS_AS(learn(subject, {{"on", {"A", "B"}, 0.1, 0.1}}), Error);
}

TEST_CASE("a resistor that every position bridges is not invented and a triangle is said to be one") {
  LearnSubject subject;
  subject.terminals = {"A", "B", "C"};
  subject.positions = {"only"};
  // Three resistors of 100 ohm in a triangle: each pair reads 100 in parallel with 200 ohm (Ohm's law).
  const double pair_ohm = 100.0 * 200.0 / 300.0;
  const Learned learned = learn(subject, {{"only", {"A", "B"}, pair_ohm, 0.1}, {"only", {"B", "C"}, pair_ohm, 0.1},
                                          {"only", {"A", "C"}, pair_ohm, 0.1}});
  CHECK(learned.unexplained.empty());
  REQUIRE(learned.elements.size() == 3);
  for (const Element& element : learned.elements) CHECK(element.nominal_ohm == doctest::Approx(100.0).epsilon(0.01));
  REQUIRE(learned.ambiguities.size() == 1);
  CHECK(learned.ambiguities[0].find("star") != std::string::npos);
}

TEST_CASE("whatever a title holds the file that is written loads") {
  LearnSubject subject;
  subject.title = "a \"part\" \\ with\nlines\x1b[2J # and = signs";
  subject.terminals = {"A", "B"};
  subject.positions = {"on", "off"};
  const std::vector<LearnReading> readings{{"on", {"A", "B"}, 0.1, 0.1}, {"off", {"A", "B"}, std::nullopt, 0.0}};
  const Profile profile =
      parse_profile(learned_toml(subject, readings, learn(subject, readings), "2026-03-01", "a\nb"), "learned.toml");
  CHECK(profile.title == subject.title);
  CHECK(profile.contacts.size() == 1);
}
