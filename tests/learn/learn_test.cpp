// Learning a part from its readings. The readings come from the profile room's nodal analysis of a known network and an
// imagined hand-held meter; what is learned must give them again, and must not be larger than what was there.
#include "switchwright/learn/learn.hpp"

#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <algorithm>
#include <filesystem>
#include <random>

#include "explain/simulated.hpp"
#include "judge/parts.hpp"
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

Profile written_and_read(const LearnSubject& subject, const std::vector<LearnReading>& readings,
                         const Learned& learned) {
  return parse_profile(learned_toml(subject, readings, learned, "2026-03-01", "an imagined meter"), "learned.toml");
}

Profile shipped(const std::string& id) { return load_profile(id, {std::filesystem::path(SOURCE_DIR) / "profiles"}); }

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
  const Learned learned =
      learn(subject,
            {{"only", {"A", "B"}, 0.1, 0.1}, {"only", {"B", "C"}, 0.1, 0.1}, {"only", {"A", "C"}, std::nullopt, 0.0}});
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
  const Learned learned = learn(
      subject,
      {{"only", {"A", "B"}, pair_ohm, 0.1}, {"only", {"B", "C"}, pair_ohm, 0.1}, {"only", {"A", "C"}, pair_ohm, 0.1}});
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

TEST_CASE("the expectations of a random part and of what was learned from it agree at every pair and position") {
  // No draw is thrown away: every random part counts, with idle terminals and without any contact, too.
  std::size_t with_idle = 0, with_elements = 0, with_contacts = 0, cases = 0;
  CHECK(rc::check([&](std::uint32_t seed) {
    std::mt19937_64 random(seed);
    const Profile truth = random_part(random);
    const LearnSubject subject = subject_of(truth);
    const auto readings = readings_of(truth, nullptr);
    const Learned learned = learn(subject, readings);
    RC_ASSERT(learned.unexplained.empty());
    ++cases;
    with_idle += !learned.unconnected.empty();
    with_elements += !learned.elements.empty();
    with_contacts += !learned.contacts.empty();
    const Profile again = written_and_read(subject, readings, learned);
    const auto expected = expectations(truth);
    for (const Expectation& e : expected) {
      const Expectation learnt = expectation(again, e.position, e.pair);
      RC_ASSERT(e.ohm.bounded_above() == learnt.ohm.bounded_above());
      // A resistor below the closed limit is not told from a contact.
      if (e.state == PairState::element && *e.nominal_ohm > 3.0 * subject.limits.closed_max_ohm)
        RC_ASSERT(std::abs(*learnt.nominal_ohm - *e.nominal_ohm) <= 0.5 + 2e-3 * *e.nominal_ohm);
      if (e.state == PairState::closed || e.state == PairState::open) RC_ASSERT(e.state == learnt.state);
    }
  }));
  MESSAGE(cases << " parts: " << with_contacts << " with contacts, " << with_elements << " with elements, " << with_idle
                << " with idle terminals");
  CHECK(cases >= 100);
  CHECK(with_idle * 20 > cases);
  CHECK(with_elements * 2 > cases);
  CHECK(with_contacts * 2 > cases);
}

TEST_CASE("an idle terminal stands in the profile as one and is remarked on") {
  LearnSubject subject;
  subject.title = "a part";
  subject.terminals = {"A", "B", "SPARE"};
  subject.positions = {"on", "off"};
  std::vector<LearnReading> readings{{"on", {"A", "B"}, 0.1, 0.1}, {"off", {"A", "B"}, std::nullopt, 0.0}};
  for (const char* position : {"on", "off"})
    for (const char* other : {"A", "B"}) readings.push_back({position, {other, "SPARE"}, std::nullopt, 0.0});
  const Learned learned = learn(subject, readings);
  CHECK(learned.unconnected == std::vector<std::string>{"SPARE"});
  REQUIRE(learned.ambiguities.size() == 1);
  CHECK(learned.ambiguities[0].find("SPARE") == 0);
  const Profile profile = written_and_read(subject, readings, learned);
  CHECK(profile.terminals.size() == 3);
  CHECK(expectation(profile, "on", {"A", "SPARE"}).state == PairState::open);
  CHECK(learned_toml(subject, readings, learned, "2026-03-01", "").find("# - SPARE read open") != std::string::npos);
}

TEST_CASE("what is known before the work is a profile in which every pair is measured and nothing is expected") {
  LearnSubject subject;
  subject.title = "a part";
  subject.terminals = {"A", "B"};
  subject.exposed_metal = {"CASE"};
  subject.positions = {"on", "off"};
  const Profile profile = parse_profile(provisional_toml(subject), "provisional.toml");
  CHECK(profile.contacts.empty());
  CHECK(profile.pairs().size() == 3);
  for (const Expectation& e : expectations(profile)) CHECK(e.state == PairState::open);
  subject.terminals = {"A", "A"};
  CHECK_THROWS_AS(parse_profile(provisional_toml(subject), "provisional.toml"), Error);
}
