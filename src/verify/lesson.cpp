#include "switchwright/verify/lesson.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <random>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/verify/hypothesis.hpp"
#include "switchwright/verify/uncertainty.hpp"
#include "verify/set_cover.hpp"

namespace switchwright {

namespace {

Fault fault_of(FaultKind kind, const std::string& id, std::optional<double> value = {}, const std::string& other = {}) {
  return {kind, id, other, value};
}

LessonCase single(const Fault& least, const Fault& most, const std::string& more_words = {}) {
  Fault plain = most;
  if (plain.kind == FaultKind::resistive || plain.kind == FaultKind::drifted) plain.value.reset();
  Cause cause;
  cause.fault = plain;
  return {to_string(plain) + (more_words.empty() ? "" : "=" + more_words), in_words(cause), {least}, {most}};
}

LessonCase both(const LessonCase& a, const LessonCase& b) {
  return {a.name + " + " + b.name, a.words + ", and " + b.words, {a.least[0], b.least[0]}, {a.most[0], b.most[0]}};
}

/// Faults that anyone should find.
std::vector<LessonCase> plain_cases(const Profile& profile) {
  std::vector<LessonCase> cases;
  const auto add = [&](FaultKind kind, const std::string& id) { cases.push_back(single(fault_of(kind, id), fault_of(kind, id))); };
  for (const Contact& contact : profile.contacts) add(FaultKind::stuck_closed, contact.id);
  for (const Contact& contact : profile.contacts) add(FaultKind::stuck_open, contact.id);
  for (const Element& element : profile.elements) add(FaultKind::open, element.id);
  for (const Element& element : profile.elements) add(FaultKind::shorted, element.id);
  return cases;
}

void add_subtle_cases(const Profile& profile, std::vector<LessonCase>& cases) {
  for (const Contact& contact : profile.contacts)
    cases.push_back(single(fault_of(FaultKind::resistive, contact.id, profile.limits.closed_max_ohm),
                           fault_of(FaultKind::resistive, contact.id, profile.limits.open_min_ohm)));
  for (const Element& element : profile.elements) {
    const double off_by = element.tolerance_pct;
    cases.push_back(single(fault_of(FaultKind::drifted, element.id, -90.0),
                           fault_of(FaultKind::drifted, element.id, -std::min(off_by, 89.0)), "low"));
    cases.push_back(single(fault_of(FaultKind::drifted, element.id, off_by),
                           fault_of(FaultKind::drifted, element.id, 900.0 + off_by), "high"));
  }
  for (std::size_t i = 0; i < profile.terminals.size(); ++i)
    for (std::size_t j = i + 1; j < profile.terminals.size(); ++j) {
      const Fault swapped = fault_of(FaultKind::swapped, profile.terminals[i], {}, profile.terminals[j]);
      cases.push_back(single(swapped, swapped));
    }
  if (profile.positions.size() > 1)
    for (const double steps : {1.0, -1.0}) {
      const Fault clocked = fault_of(FaultKind::clocked, "", steps);
      if (std::abs(steps) < static_cast<double>(profile.positions.size())) cases.push_back(single(clocked, clocked));
    }
}

/// The faults of a case together with healthy elements at one end of their tolerance.
std::vector<Fault> with_tolerances(const Profile& profile, std::vector<Fault> faults, double sign) {
  for (const Element& element : profile.elements)
    if (std::none_of(faults.begin(), faults.end(), [&](const Fault& f) {
          return f.id == element.id && f.kind != FaultKind::swapped;
        }))
      faults.push_back(fault_of(FaultKind::drifted, element.id, sign * element.tolerance_pct));
  return faults;
}

std::string lower(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

/// Names compare without blanks and case, the two halves of a double in either order.
std::vector<std::string> name_parts(const std::string& text) {
  std::vector<std::string> parts{{}};
  for (const char c : lower(text)) {
    if (c == '+')
      parts.emplace_back();
    else if (c != ' ' && c != '\t')
      parts.back() += c;
  }
  std::sort(parts.begin(), parts.end());
  return parts;
}

}  // namespace

Lesson::Lesson(Profile profile, MeterDefinition meter, LessonLevel level)
    : profile_(std::move(profile)), meter_(std::move(meter)) {
  beyond_ohm_ = meter_.top_of_range(Quantity::resistance).value_or(1e7);
  cases_.push_back({"none", "nothing is wrong", {}, {}});
  const auto plain = plain_cases(profile_);
  cases_.insert(cases_.end(), plain.begin(), plain.end());
  if (level == LessonLevel::hard) {
    add_subtle_cases(profile_, cases_);
    for (std::size_t i = 0; i < plain.size(); ++i)
      for (std::size_t j = i + 1; j < plain.size(); ++j)
        if (plain[i].most[0].id != plain[j].most[0].id) cases_.push_back(both(plain[i], plain[j]));
  }
  for (const Expectation& expected : expectations(profile_))
    if (expected.state != PairState::not_checked) places_.push_back({expected.position, expected.pair});

  PartValues least;
  least.closed_contact_ohm = 0.0;
  PartValues most;
  most.closed_contact_ohm = profile_.limits.sound_max_ohm;
  for (const LessonCase& one : cases_) {
    std::map<std::string, std::pair<Network, Network>> at;
    for (const Position& position : profile_.positions)
      at.emplace(position.id, std::pair{network_of(profile_, position.id, least, with_tolerances(profile_, one.least, -1)),
                                        network_of(profile_, position.id, most, with_tolerances(profile_, one.most, +1))});
    std::vector<Span>& spans = spans_.emplace_back();
    for (const Place& place : places_) {
      const auto& [low, high] = at.at(place.position);
      spans.push_back({low.resistance_ohm(place.pair.first(), place.pair.second()),
                       high.resistance_ohm(place.pair.first(), place.pair.second())});
    }
  }
}

std::size_t Lesson::hidden(std::uint64_t seed) const {
  std::mt19937_64 random(seed);  // only its own output is used: distributions differ between libraries
  if (random() % 8 == 0) return 0;
  std::vector<std::size_t> shown;
  std::vector<std::size_t> doubles;
  for (std::size_t i = 1; i < cases_.size(); ++i)
    if (!same_readings(0, i)) (cases_[i].most.size() > 1 ? doubles : shown).push_back(i);
  if (!doubles.empty() && random() % 4 == 0) return doubles[random() % doubles.size()];
  return shown.empty() ? 0 : shown[random() % shown.size()];
}

std::vector<Fault> Lesson::faults_of(std::size_t of, std::uint64_t seed) const {
  std::mt19937_64 random(seed + 1);
  const double share = static_cast<double>(random() % 1000) / 1000.0;
  std::vector<Fault> faults = cases_.at(of).most;
  for (Fault& fault : faults) {
    if (fault.kind == FaultKind::resistive)  // from well above the limit to what a burnt contact may have
      fault.value = std::round(2.5 * profile_.limits.closed_max_ohm * std::pow(50.0, share) * 10.0) / 10.0;
    if (fault.kind == FaultKind::drifted) {
      const bool up = cases_[of].least[0].value.value_or(0.0) >= 0.0;
      const double off_by = std::round(fault.value.value_or(0.0));
      fault.value = up ? std::round(std::abs(cases_[of].least[0].value.value_or(0.0)) + 20.0 + 60.0 * share)
                       : std::max(-85.0, off_by - std::round(15.0 + 30.0 * share));
    }
  }
  return faults;
}

std::size_t Lesson::named(const std::string& text) const {
  if (!text.empty() && std::all_of(text.begin(), text.end(), [](unsigned char c) { return std::isdigit(c); }) &&
      text.size() < 6) {
    const std::size_t number = std::stoul(text);
    if (number >= 1 && number <= cases_.size()) return number - 1;
  }
  const auto wanted = name_parts(text);
  for (std::size_t i = 0; i < cases_.size(); ++i)
    if (name_parts(cases_[i].name) == wanted) return i;
  std::vector<std::string> names;
  for (const LessonCase& one : cases_) names.push_back(one.name);
  throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is not a fault of this lesson", {},
              suggestion(text, names).empty() ? "faults lists them" : suggestion(text, names));
}

double Lesson::U_at(double ohm) const { return uncertainty_of(meter_, Quantity::resistance, ohm, 0.0).U; }

bool Lesson::look_different(std::size_t a, std::size_t b, std::size_t place) const {
  const Span& x = span(a, place).least <= span(b, place).least ? span(a, place) : span(b, place);
  const Span& y = &x == &span(a, place) ? span(b, place) : span(a, place);
  if (x.most > beyond_ohm_) return false;  // the lower one may show over-range itself
  if (y.least > beyond_ohm_) return true;
  return x.most + U_at(x.most) < y.least - U_at(y.least);
}

bool Lesson::same_readings(std::size_t a, std::size_t b) const {
  for (std::size_t place = 0; place < places_.size(); ++place)
    if (look_different(a, b, place)) return false;
  return true;
}

std::size_t Lesson::index_of(const Place& place) const {
  const auto found = std::find(places_.begin(), places_.end(), place);
  if (found == places_.end()) throw std::out_of_range("no such place");
  return static_cast<std::size_t>(found - places_.begin());
}

bool Lesson::contradicts(const LessonReading& reading, std::size_t with) const {
  const Span& predicted = span(with, index_of(reading.place));
  if (!reading.ohm) return predicted.most < beyond_ohm_ * 0.9;
  return *reading.ohm + reading.U_ohm < predicted.least || *reading.ohm - reading.U_ohm > predicted.most;
}

std::vector<std::size_t> Lesson::against(std::size_t with, const std::vector<LessonReading>& readings) const {
  std::vector<std::size_t> found;
  for (std::size_t i = 0; i < readings.size(); ++i)
    if (contradicts(readings[i], with)) found.push_back(i);
  return found;
}

std::vector<std::size_t> Lesson::left(const std::vector<LessonReading>& readings) const {
  std::vector<std::size_t> cases;
  for (std::size_t i = 0; i < cases_.size(); ++i)
    if (against(i, readings).empty()) cases.push_back(i);
  return cases;
}

std::optional<Place> Lesson::most_telling(const std::vector<LessonReading>& readings) const {
  const auto open_cases = left(readings);
  std::optional<Place> best;
  std::size_t most = 0;
  for (std::size_t place = 0; place < places_.size(); ++place) {
    std::size_t told = 0;
    for (std::size_t i = 0; i < open_cases.size(); ++i)
      for (std::size_t j = i + 1; j < open_cases.size(); ++j) told += look_different(open_cases[i], open_cases[j], place);
    const bool read = std::any_of(readings.begin(), readings.end(),
                                  [&](const LessonReading& r) { return r.place == places_[place]; });
    if (told <= most || read) continue;
    most = told;
    best = places_[place];
  }
  return best;
}

std::vector<Place> Lesson::shortest_way(std::size_t to) const {
  std::vector<std::size_t> others;
  for (std::size_t i = 0; i < cases_.size(); ++i)
    if (i != to && !same_readings(i, to)) others.push_back(i);
  std::vector<std::vector<std::size_t>> tells(places_.size());
  for (std::size_t place = 0; place < places_.size(); ++place)
    for (std::size_t i = 0; i < others.size(); ++i)
      if (look_different(to, others[i], place)) tells[place].push_back(i);
  std::vector<Place> way;
  for (const std::size_t place : smallest_cover(others.size(), tells, 200'000).chosen) way.push_back(places_[place]);
  return way;
}

std::string Lesson::prediction(std::size_t of, const Place& place) const {
  const Span& predicted = span(of, index_of(place));
  if (predicted.least > beyond_ohm_) return "open";
  if (predicted.most > beyond_ohm_) return human_ohm(predicted.least) + " or more";
  if (predicted.most - predicted.least < 0.5 && predicted.most < profile_.limits.closed_max_ohm) return "closed";
  return human_ohm(predicted.least) + " to " + human_ohm(predicted.most);
}

}  // namespace switchwright
