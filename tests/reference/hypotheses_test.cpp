// Every fault that a diagnosis can name, wired up in a circuit simulator: all single and all
// double faults of all shipped profiles, every pair at every position, against what the diagnosis predicts and
// what the simulated switch reads.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "explain/predictor.hpp"
#include "spice.hpp"
#include "switchwright/explain/hypothesis.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/library.hpp"

using namespace switchwright;
using namespace switchwright::reference;

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double closed_ohm = 0.05;    // of every closed contact, bridge and short
constexpr double resistive_ohm = 7.5;  // of a resistive contact
constexpr double drifted_share = 1.4;
constexpr std::size_t questions_of_one_run = 1500;
const std::filesystem::path shipped = std::filesystem::path(SOURCE_DIR) / "profiles";

/// Turning on from the last position leads to the first where what is left of the circle is no more than one
/// and a half of the largest step.
bool knob_goes_round(const std::vector<Position>& positions) {
  double largest = 0.0;
  for (std::size_t i = 1; i < positions.size(); ++i)
    largest = std::max(largest, positions[i].angle_deg - positions[i - 1].angle_deg);
  const double left = 360.0 - (positions.back().angle_deg - positions.front().angle_deg);
  return left > 0.0 && left <= 1.5 * largest;
}

/// The switch as somebody would solder it together with these faults in it. Written from the description of
/// the faults in profile/fault.hpp, so that the check does not lean on the code it checks.
std::vector<Resistor> soldered(const Profile& profile, std::size_t shown, const std::vector<Cause>& causes) {
  const auto has = [&](FaultKind kind, const std::string& id) {
    return std::any_of(causes.begin(), causes.end(),
                       [&](const Cause& c) { return c.fault.kind == kind && c.fault.id == id; });
  };
  const int count = static_cast<int>(profile.positions.size());
  int at = static_cast<int>(shown);
  for (const Cause& cause : causes)
    if (cause.fault.kind == FaultKind::clocked) {
      at += static_cast<int>(*cause.fault.value);
      at = knob_goes_round(profile.positions) ? (at + 2 * count) % count : std::min(std::max(at, 0), count - 1);
    }
  const std::string position = profile.positions[static_cast<std::size_t>(at)].id;

  std::map<std::string, bool> closes;
  for (const Contact& c : profile.contacts) closes[c.id] = c.conducts_at(position);
  for (int pass = 0; pass < 2; ++pass)
    for (const Cause& cause : causes)
      if (cause.fault.kind == FaultKind::tied && (closes[cause.fault.id] || closes[cause.fault.other]))
        closes[cause.fault.id] = closes[cause.fault.other] = true;

  std::vector<Resistor> all;
  for (const Contact& c : profile.contacts) {
    const bool closed = has(FaultKind::stuck_closed, c.id) || (closes[c.id] && !has(FaultKind::stuck_open, c.id));
    if (closed)
      all.push_back(
          {c.id, c.between.first(), c.between.second(), has(FaultKind::resistive, c.id) ? resistive_ohm : closed_ohm});
  }
  for (const Element& e : profile.elements) {
    if (has(FaultKind::open, e.id)) continue;
    const double ohm = has(FaultKind::shorted, e.id)   ? closed_ohm
                       : has(FaultKind::drifted, e.id) ? drifted_share * e.nominal_ohm
                                                       : e.nominal_ohm;
    all.push_back({e.id, e.between.first(), e.between.second(), ohm});
  }
  for (const Cause& cause : causes)
    if (cause.fault.kind == FaultKind::bridged)
      all.push_back({"bridge", cause.fault.id, cause.fault.other, closed_ohm});
  for (const Cause& cause : causes) {  // the lead that should go to one terminal goes to the other
    if (cause.fault.kind != FaultKind::swapped) continue;
    for (Resistor& r : all)
      for (std::string* end : {&r.from, &r.to}) {
        if (*end == cause.fault.id)
          *end = cause.fault.other;
        else if (*end == cause.fault.other)
          *end = cause.fault.id;
      }
  }
  return all;
}

bool joined(const std::vector<Resistor>& resistors, const std::string& a, const std::string& b) {
  std::vector<std::string> seen{a};
  for (std::size_t i = 0; i < seen.size(); ++i)
    for (const Resistor& r : resistors)
      for (const auto& [x, y] : {std::pair(r.from, r.to), std::pair(r.to, r.from)})
        if (x == seen[i] && std::find(seen.begin(), seen.end(), y) == seen.end()) seen.push_back(y);
  return std::find(seen.begin(), seen.end(), b) != seen.end();
}

/// Circuits to be solved, each once however many faults lead to it, and what they are compared with.
class Comparison {
 public:
  void add(const std::vector<Resistor>& circuit, const Pair& pair, double predicted, double simulated,
           std::string what) {
    ++compared_;
    if (!joined(circuit, pair.first(), pair.second())) {
      if (predicted != infinity || simulated != infinity) complain(what, infinity, predicted, simulated);
      return;
    }
    std::string key = pair.text();
    for (const Resistor& r : circuit) key += fmt::format("|{} {} {}", r.from, r.to, r.ohm);
    const auto [at, is_new] = question_.emplace(key, questions_.size());
    if (is_new) questions_.push_back({circuit, pair.first(), pair.second()});
    rows_.push_back({at->second, predicted, simulated, std::move(what)});
  }
  /// Solves and compares.
  void run() {
    std::vector<double> solved;
    for (std::size_t begin = 0; begin < questions_.size(); begin += questions_of_one_run) {
      const std::size_t end = std::min(begin + questions_of_one_run, questions_.size());
      const auto some =
          ngspice_ohm({questions_.begin() + std::ptrdiff_t(begin), questions_.begin() + std::ptrdiff_t(end)});
      solved.insert(solved.end(), some.begin(), some.end());
    }
    for (const Row& row : rows_) {
      const double truth = solved[row.question];
      // A simulated short is 0 ohm where the diagnosis takes a closed contact's resistance.
      const double short_ohm = row.what.find("shorted") == std::string::npos ? 0.0 : 2.0 * closed_ohm + 1e-9;
      if (std::abs(row.predicted - truth) > 1e-6 + 1e-7 * truth ||
          !(std::abs(row.simulated - truth) <= short_ohm + 1e-6 + 1e-7 * truth))
        complain(row.what, truth, row.predicted, row.simulated);
    }
    MESSAGE(compared_ << " readings compared, " << questions_.size() << " different circuits solved");
  }
  std::size_t compared() const { return compared_; }
  std::size_t wrong() const { return wrong_; }
  const std::string& first_wrong() const { return first_wrong_; }

 private:
  struct Row {
    std::size_t question;
    double predicted;
    double simulated;
    std::string what;
  };
  void complain(const std::string& what, double truth, double predicted, double simulated) {
    if (++wrong_ == 1)
      first_wrong_ = fmt::format("{}: ngspice {}, predicted {}, simulated {}", what, truth, predicted, simulated);
  }
  std::map<std::string, std::size_t> question_;
  std::vector<Question> questions_;
  std::vector<Row> rows_;
  std::size_t compared_ = 0;
  std::size_t wrong_ = 0;
  std::string first_wrong_;
};

/// What the diagnosis predicts, and what the simulated switch reads, at every place.
void compare(const Profile& profile, const Hypothesis& h, Comparison& comparison) {
  const Predictor predictor(profile, closed_ohm);
  const Scenario scenario = predictor.scenario(h.causes);
  std::vector<double> unknowns;
  for (const Unknown& u : scenario.unknowns)
    unknowns.push_back(u.kind == Unknown::Kind::resistive_contact ? resistive_ohm
                       : u.kind == Unknown::Kind::drifted_element ? drifted_share * profile.elements[u.part].nominal_ohm
                                                                  : u.nominal_ohm);
  const std::vector<Ohms> networks = scenario.solved(unknowns);
  std::vector<Fault> faults;
  for (const Cause& cause : h.causes) {
    faults.push_back(cause.fault);
    if (cause.fault.kind == FaultKind::resistive) faults.back().value = resistive_ohm;
    if (cause.fault.kind == FaultKind::drifted) faults.back().value = 100.0 * (drifted_share - 1.0);
  }
  for (std::size_t p = 0; p < profile.positions.size(); ++p) {
    const std::string& position = profile.positions[p].id;
    const std::vector<Resistor> circuit = soldered(profile, p, h.causes);
    const Network simulated = network_of(profile, position, {.closed_contact_ohm = closed_ohm}, faults);
    for (const Pair& pair : profile.pairs())
      comparison.add(circuit, pair,
                     networks[scenario.network_at[p]](scenario.node[predictor.node_index(pair.first())],
                                                      scenario.node[predictor.node_index(pair.second())]),
                     simulated.resistance_ohm(pair.first(), pair.second()),
                     fmt::format("{} {} {} at {}", profile.id, to_string(h), pair.text(), position));
  }
}

}  // namespace

TEST_CASE("every single fault of every profile reads as ngspice says at every pair and position") {
  if (!has_ngspice()) return;
  Comparison comparison;
  for (const std::string& id : list_profiles({shipped})) {
    const Profile profile = load_profile(id, {shipped});
    for (const Hypothesis& h : hypotheses(profile, {}, {}, false)) compare(profile, h, comparison);
  }
  comparison.run();
  CAPTURE(comparison.first_wrong());
  CHECK(comparison.compared() > 20000);
  CHECK(comparison.wrong() == 0);
}

TEST_CASE("every double fault of every profile reads as ngspice says at every pair and position") {
  if (!has_ngspice()) return;
  std::size_t compared = 0;
  for (const std::string& id : list_profiles({shipped})) {
    CAPTURE(id);
    Comparison comparison;
    const Profile profile = load_profile(id, {shipped});
    for (const Hypothesis& h : hypotheses(profile, {}, {}, true))
      if (h.causes.size() == 2) compare(profile, h, comparison);
    comparison.run();
    CAPTURE(comparison.first_wrong());
    CHECK(comparison.wrong() == 0);
    compared += comparison.compared();
  }
  MESSAGE(compared << " readings compared");
  CHECK(compared > 100000);
}
