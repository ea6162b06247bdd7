#include <doctest/doctest.h>

#include <algorithm>
#include <string>
#include <vector>

#include "parts.hpp"

using namespace parts;

namespace {

const Pair line{"L1", "H1"}, cycling{"L2", "H2"}, heater{"H1", "H2"};

/// The regulator without its pilot: what is expected below shows all of it.
Profile two_contacts() {
  Profile part = regulator();
  part.terminals = {"L1", "L2", "H1", "H2"};
  part.contacts.erase(part.contacts.begin() + 1);
  return part;
}

std::vector<Expectation> expected_of_regulator() {
  return {open("off", line, true),    closed("low", line),    closed("high", line),
          open("off", cycling, true), closed("low", cycling), closed("high", cycling),
          element("off", heater),     element("low", heater), element("high", heater)};
}

/// A good switch on the hand-held meter, opens over-range.
std::vector<Measured> good_switch() {
  std::vector<Measured> all;
  int placement = 0;
  for (const Pair& pair : {line, cycling, heater}) {
    ++placement;
    for (const char* position : {"off", "low", "high"}) {
      const bool is_open = std::string(position) == "off" && pair != heater;
      all.push_back({position, pair,
                     is_open          ? over_range()
                     : pair == heater ? reads(14400, 10)
                                      : reads(0.2),
                     placement, false});
    }
  }
  return all;
}

Leads steady_leads() {
  Leads leads;
  leads.before = leads.after = reads(0.2);
  return leads;
}

Verdict judged(const std::vector<Measured>& measured, const std::vector<InspectionFinding>& inspection = {},
               const MeterDefinition& meter = handheld(), const Leads& leads = steady_leads()) {
  return judge_all(two_contacts(), expected_of_regulator(), measured, inspection, meter, leads, {});
}

bool says(const Verdict& verdict, const std::string& words) {
  return std::any_of(verdict.remarks.begin(), verdict.remarks.end(),
                     [&](const std::string& r) { return r.find(words) != std::string::npos; });
}

InspectionFinding asked(Severity severity, std::optional<bool> answer) {
  return {{"Terminals free of discolouration?", severity}, answer, ""};
}

}  // namespace

TEST_CASE("a good switch passes with its opens witnessed and the doubtful soundness named") {
  const Verdict v = judged(good_switch());
  CHECK(v.outcome == Outcome::pass);
  CHECK(v.headline == "Pass for continuity, soundness not decided: all 9 readings are inside their limits.");
  CHECK(v.findings.size() == 9);
  CHECK(v.not_measured.empty());
  CHECK(v.deviations().empty());
  CHECK(v.findings[0].witness == Witness::witnessed);
  CHECK(v.scope[ScopePart::soundness].decided == Decided::undecided);
  CHECK(v.scope[ScopePart::soundness].how.find("four wires") != std::string::npos);
  CHECK(v.scope[ScopePart::timing].decided == Decided::not_asked);
  CHECK(says(v, "proves neither insulation nor disconnection"));
  CHECK_FALSE(says(v, "drifted"));
}

TEST_CASE("a welded cycling contact fails and is the worst deviation") {
  auto measured = good_switch();
  measured[3].indication = reads(0.2);        // L2-H2 at off
  measured[7].indication = reads(20000, 10);  // heater too high at low
  const Verdict v = judged(measured);
  CHECK(v.outcome == Outcome::fail);
  CHECK(v.headline == "Fail: 2 of 9 readings deviate; the worst: at off, L2-H2 stays-closed (critical).");
  REQUIRE(v.deviations().size() == 2);
  CHECK(v.deviations()[0]->expected.pair == cycling);
  CHECK(v.deviations()[0]->severity == Severity::critical);
  CHECK(v.deviations()[1]->kind == DeviationKind::out_of_band);
}

TEST_CASE("an open is witnessed only by a low reading of the same pair with the probes left in place") {
  struct Row {
    std::string what;
    std::vector<Measured> measured;
    Witness witness;
  };
  const std::vector<Row> rows{
      {"another position of the placement",
       {{"off", line, over_range(), 1}, {"low", line, reads(0.2), 1}},
       Witness::witnessed},
      {"before or after", {{"low", line, reads(0.2), 1}, {"off", line, over_range(), 1}}, Witness::witnessed},
      {"the probes were moved in between",
       {{"off", line, over_range(), 1}, {"low", line, reads(0.2), 2}},
       Witness::missing},
      {"the same position says nothing",
       {{"off", line, reads(0.2), 1}, {"off", line, over_range(), 1}},
       Witness::missing},
      {"fingers of 100 kohm are no witness",
       {{"off", line, over_range(), 1}, {"low", line, reads(100e3, 100), 1}},
       Witness::missing},
      {"fingers on the tips are no witness",
       {{"off", line, over_range(), 1}, {"low", line, reads(2.2e6, 1e3), 1}},
       Witness::missing},
      {"stated by the operator", {{"off", line, over_range(), 1, true}}, Witness::stated},
      {"a witness is worth more than a word",
       {{"off", line, over_range(), 1, true}, {"low", line, reads(0.2), 1}},
       Witness::witnessed},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    const Verdict v = judged(row.measured);
    const auto off = std::find_if(v.findings.begin(), v.findings.end(),
                                  [](const Finding& f) { return f.expected.position == "off"; });
    REQUIRE(off != v.findings.end());
    CHECK(off->witness == row.witness);
  }
}

TEST_CASE("the last attempt counts and keeps its place in the list") {
  auto measured = good_switch();
  measured[1].indication = reads(0.5);
  measured.push_back({"low", Pair{"H1", "L1"}, reads(0.3), 4, false});
  const Verdict v = judged(measured);
  CHECK(v.outcome == Outcome::pass);
  REQUIRE(v.findings.size() == 9);
  CHECK(v.findings[1].expected.position == "low");
  CHECK(*v.findings[1].corrected == doctest::Approx(0.1));
}

TEST_CASE("what is missing leaves the verdict undecided") {
  auto measured = good_switch();
  measured.pop_back();
  Verdict v = judged(measured);
  CHECK(v.outcome == Outcome::undecided);
  REQUIRE(v.not_measured.size() == 1);
  CHECK(v.not_measured[0].position == "high");
  CHECK(v.headline == "Undecided: 1 of 9 readings not measured.");
  v = judged({});
  CHECK(v.outcome == Outcome::undecided);
  CHECK(v.headline == "Undecided: nothing was measured.");
}

TEST_CASE("a failure outranks what is missing") {
  const Verdict v = judged({{"off", cycling, reads(0.2), 1}});
  CHECK(v.outcome == Outcome::fail);
  CHECK(v.not_measured.size() == 8);
}

TEST_CASE("inspection answers decide by their severity") {
  struct Row {
    Severity severity;
    std::optional<bool> answer;
    Outcome outcome;
  };
  const std::vector<Row> rows{{Severity::critical, false, Outcome::fail},
                              {Severity::major, false, Outcome::fail},
                              {Severity::minor, false, Outcome::pass},
                              {Severity::major, true, Outcome::pass},
                              {Severity::minor, std::nullopt, Outcome::undecided},
                              {Severity::major, std::nullopt, Outcome::undecided}};
  for (const Row& row : rows) {
    const Verdict v = judged(good_switch(), {asked(row.severity, row.answer)});
    CHECK(v.outcome == row.outcome);
    CHECK(v.inspection.size() == 1);
    CHECK((v.headline.find("not answered") != std::string::npos) == !row.answer.has_value());
    CHECK(says(v, "was answered no") == (row.answer == false));
  }
}

TEST_CASE("remarks name what weakens the result") {
  auto measured = good_switch();
  measured[2].indication.flags.low_battery = true;
  measured[0].placement = 9;
  measured[0].contact_stated = true;
  Leads drifting;
  drifting.before = reads(0.2);
  drifting.after = reads(0.5);
  MeterDefinition silent = handheld();
  silent.accuracy.clear();

  const Verdict v = judged(measured, {}, handheld(), drifting);
  CHECK(v.outcome == Outcome::undecided);
  CHECK(says(v, "drifted from 0.2 ohm to 0.5 ohm"));
  CHECK(says(v, "For 1 over-range reading the contact of the probes is stated"));
  CHECK(judged(good_switch(), {}, silent).outcome == Outcome::undecided);
  CHECK(says(judged(good_switch(), {}, handheld(), Leads{}), "leads were not measured"));
  Leads once;
  once.before = reads(0.2);
  CHECK(says(judged(good_switch(), {}, handheld(), once), "measured only once"));
  once.before = over_range();
  CHECK(says(judged(good_switch(), {}, handheld(), once), "leads read over-range"));
}

TEST_CASE("pairs that the profile leaves out are neither missed nor judged") {
  auto expected = expected_of_regulator();
  Expectation left_out = open("off", {"L1", "CASE"});
  left_out.state = PairState::not_checked;
  left_out.reason = "no bare metal";
  expected.push_back(left_out);
  auto measured = good_switch();
  measured.push_back({"off", {"L1", "CASE"}, reads(3.0), 9, false});
  const Verdict v = judge_all(two_contacts(), expected, measured, {}, handheld(), steady_leads(), {});
  CHECK(v.outcome == Outcome::pass);
  CHECK(v.findings.size() == 9);
  CHECK(says(v, "1 reading at a place that the profile does not check"));
}

TEST_CASE("an unsound contact fails though every reading is inside its limits for continuity") {
  auto measured = good_switch();
  for (auto& m : measured)
    if (m.pair != heater && m.indication.state == ReadingState::finite) m.indication = reads(0.25, 0.01);
  measured[1].indication = reads(0.9, 0.01);
  const Verdict v = judged(measured, {}, finer());
  CHECK(v.outcome == Outcome::fail);
  CHECK(v.scope[ScopePart::continuity].decided == Decided::pass);
  CHECK(v.scope[ScopePart::soundness].decided == Decided::fail);
  CHECK(v.headline == "Fail: contact line is not sound.");
  REQUIRE(v.deviations().size() == 1);
  CHECK(v.deviations()[0]->kind == DeviationKind::high_resistance);
}

TEST_CASE("leads that cannot be trusted let nothing pass") {
  struct Row {
    std::string what;
    std::optional<double> before, after;
    Outcome outcome;
    std::string says;
  };
  const std::vector<Row> rows{
      {"good", 0.2, 0.2, Outcome::pass, ""},
      {"too high", 0.9, 0.9, Outcome::undecided, "more than 0.5 ohm can hide a bad contact"},
      {"too high only at the end", 0.2, 0.9, Outcome::undecided, "can hide a bad contact"},
      {"drifting", 0.1, 0.5, Outcome::undecided, "drifted from 0.1 ohm to 0.5 ohm"},
      {"below zero", -0.9, -0.9, Outcome::undecided, "below zero there is no resistance"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    Leads leads;
    if (row.before) leads.before = reads(*row.before);
    if (row.after) leads.after = reads(*row.after);
    auto measured = good_switch();
    for (Measured& m : measured)
      if (m.pair != heater && m.indication.state == ReadingState::finite)
        m.indication = reads(row.before.value_or(0.0));
    const Verdict v = judged(measured, {}, handheld(), leads);
    CHECK(v.outcome == row.outcome);
    if (!row.says.empty()) CHECK(says(v, row.says));
  }
}

TEST_CASE("without a lead measurement nothing near the closed limit is decided") {
  // Handheld at 0.9 ohm: U 0.59 ohm; with half an ohm of doubt a reading passes below 0.91 of 2.0 ohm only.
  auto measured = good_switch();
  CHECK(judged(measured, {}, handheld(), Leads{}).outcome == Outcome::pass);
  for (Measured& m : measured)
    if (m.pair != heater && m.indication.state == ReadingState::finite) m.indication = reads(1.2);
  CHECK(judged(measured, {}, handheld(), steady_leads()).findings[1].continuity == Outcome::pass);
  CHECK(judged(measured, {}, handheld(), Leads{}).findings[1].continuity == Outcome::undecided);
}

TEST_CASE("every closing counts and a redo replaces only its own") {
  struct Row {
    std::string what;
    std::vector<double> ohm;       // L1-H1 at low, visit by visit
    std::optional<double> redone;  // the last visit again
    Outcome outcome;
  };
  const std::vector<Row> rows{
      {"alike", {0.2, 0.2, 0.3}, {}, Outcome::pass},
      {"the first does not close well", {7.0, 0.2, 0.2}, {}, Outcome::fail},
      {"one in the middle", {0.2, 7.0, 0.2}, {}, Outcome::fail},
      {"scatter inside the limit", {0.2, 1.0, 0.2}, {}, Outcome::undecided},
      {"the bad one was redone on purpose", {0.2, 0.2, 7.0}, 0.2, Outcome::undecided},
      {"another one was redone", {7.0, 0.2, 0.3}, 0.2, Outcome::fail},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    auto measured = good_switch();
    std::erase_if(measured, [](const Measured& m) { return m.pair == line && m.position == "low"; });
    int visit = 0;
    for (const double ohm : row.ohm) measured.push_back({"low", line, reads(ohm), 1, false, ++visit});
    if (row.redone) measured.push_back({"low", line, reads(*row.redone), 1, false, visit});
    const Verdict v = judged(measured);
    CHECK(v.outcome == row.outcome);
    const auto low = std::find_if(v.findings.begin(), v.findings.end(), [](const Finding& f) {
      return f.expected.pair == line && f.expected.position == "low";
    });
    REQUIRE(low != v.findings.end());
    CHECK(low->visits.size() == row.ohm.size());
    CHECK(std::any_of(v.remarks.begin(), v.remarks.end(), [](const std::string& remark) {
            return remark.starts_with("Measured again after it had failed: ");
          }) == (row.what == "the bad one was redone on purpose"));
  }
}

TEST_CASE("what failed is not passed by reading it again, unless a probe that slipped may have been the reason") {
  struct Row {
    std::string what;
    std::string position;  // of L1-H1: open at off, closed at low
    Indication before;
    bool given_up;
    Outcome outcome;
  };
  const std::vector<Row> rows{
      {"open where closed, read again", "low", over_range(), false, Outcome::undecided},
      {"open where closed, a probe had slipped", "low", over_range(), true, Outcome::pass},
      {"7 ohm where closed, a probe had slipped", "low", reads(7.0), true, Outcome::pass},
      {"closed where open, read again", "off", reads(0.3), false, Outcome::undecided},
      {"closed where open, whatever slipped", "off", reads(0.3), true, Outcome::undecided},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    auto measured = good_switch();
    Measured before{row.position, line, row.before, 1, true};
    before.given_up = row.given_up;
    measured.insert(measured.begin(), before);
    const Verdict v = judged(measured);
    CHECK(v.outcome == row.outcome);
    CHECK(v.findings.size() == 9);
    CHECK(std::any_of(v.remarks.begin(), v.remarks.end(), [](const std::string& remark) {
      return remark.starts_with("Measured again after it had failed: ") || remark.starts_with("Placed again because");
    }));
  }
}

TEST_CASE("a fault that no reading would show leaves a part undecided that reads well everywhere") {
  struct Row {
    std::string what;
    std::vector<Contact> contacts;
    std::vector<std::string> positions;
    std::vector<Pair> left_out;  // by the profile
    std::string reason;          // empty: it passes
  };
  const Pair ab{"A", "B"}, bc{"B", "C"};
  Contact link{"link", ab, {"off", "on"}, {}};
  link.never_opens = true;
  const std::vector<Row> rows{
      {"one that opens and closes", {{"main", ab, {"on"}, {}}}, {"off", "on"}, {}, ""},
      {"closed at every position", {{"main", ab, {"off", "on"}, {}}}, {"off", "on"}, {}, "contact main stayed closed"},
      {"a link, and said to be one", {link}, {"off", "on"}, {}, ""},
      {"nothing to be moved", {{"fuse", ab, {"on"}, {}}}, {"on"}, {}, ""},
      {"cycles everywhere", {{"main", ab, {}, {"off", "on"}}}, {"off", "on"}, {}, "contact main stayed closed"},
      {"side by side",
       {{"main", ab, {"on"}, {}}, {"beside", ab, {"on"}, {}}},
       {"off", "on"},
       {},
       "contact main and contact beside stayed open"},
      {"its only pair is left out",
       {{"main", ab, {"on"}, {}}, {"other", bc, {"off"}, {}}},
       {"off", "on"},
       {ab},
       "contact main stayed"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.what);
    Profile part;
    part.rating = {240, 10, {}};
    part.terminals = {"A", "B", "C"};
    for (const std::string& position : row.positions) part.positions.push_back({position, 0, position});
    part.contacts = row.contacts;
    part.limits.closed_max_ohm = 2.0, part.limits.sound_max_ohm = 0.5, part.limits.open_min_ohm = 1e6;
    for (const Pair& pair : row.left_out) part.not_checked.push_back({pair, {}, "no room for a probe"});
    const auto expected = expectations(part);
    std::vector<Measured> measured;
    for (const Expectation& e : expected)
      if (e.state != PairState::not_checked)
        measured.push_back({e.position, e.pair, e.state == PairState::closed ? reads(0.3) : over_range(), 1, true});
    const Verdict v = judge_all(part, expected, measured, {}, handheld(), steady_leads(), {});
    CHECK(v.outcome == (row.reason.empty() ? Outcome::pass : Outcome::undecided));
    CHECK(v.headline.find(row.reason) != std::string::npos);
  }
}

TEST_CASE("a contact that was not seen to close often enough leaves the verdict undecided") {
  const Profile part = two_contacts();
  JudgeSettings settings;
  settings.closings = {{"line", 3}};
  auto measured = good_switch();  // off, low, high: line closes once
  Verdict v = judge_all(part, expected_of_regulator(), measured, {}, handheld(), steady_leads(), settings);
  CHECK(v.outcome == Outcome::undecided);
  CHECK(v.headline.find("contact line was seen to close 1 of 3 times") != std::string::npos);
  std::vector<Measured> again = measured;
  again.resize(3);
  for (int visit = 1; visit <= 2; ++visit) {
    again.push_back({"off", line, over_range(), 1, false, visit});
    again.push_back({"low", line, reads(0.2), 1, false, visit});
  }
  again.insert(again.end(), measured.begin() + 3, measured.end());
  v = judge_all(part, expected_of_regulator(), again, {}, handheld(), steady_leads(), settings);
  CHECK(v.outcome == Outcome::pass);
}

TEST_CASE("every word of the public enumerations has its spelling") {
  CHECK(to_string(Outcome::undecided) == "undecided");
  CHECK(to_string(DecisionRule::guarded) == "guarded");
  CHECK(to_string(Witness::missing) == "missing");
  const std::vector<std::pair<DeviationKind, std::string>> kinds{{DeviationKind::stays_open, "stays-open"},
                                                                 {DeviationKind::stays_closed, "stays-closed"},
                                                                 {DeviationKind::leaks, "leaks"},
                                                                 {DeviationKind::high_resistance, "high-resistance"},
                                                                 {DeviationKind::out_of_band, "out-of-band"},
                                                                 {DeviationKind::inspection, "inspection"},
                                                                 {DeviationKind::low_voltage, "low-voltage"},
                                                                 {DeviationKind::dead, "dead"},
                                                                 {DeviationKind::live, "live"}};
  for (const auto& [kind, word] : kinds) CHECK(to_string(kind) == word);
}
