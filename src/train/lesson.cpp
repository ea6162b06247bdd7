#include "switchwright/train/lesson.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <random>
#include <sstream>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/explain/set_cover.hpp"
#include "switchwright/judge/uncertainty.hpp"
#include "switchwright/profile/expectation.hpp"

namespace switchwright {

namespace {

/// The faults of a case together with healthy elements at one end of their tolerance.
std::vector<Fault> with_tolerances(const Profile& profile, std::vector<Fault> faults, double sign) {
  for (const Element& element : profile.elements)
    if (std::none_of(faults.begin(), faults.end(), [&](const Fault& f) {
          return f.id == element.id &&
                 (f.kind == FaultKind::open || f.kind == FaultKind::shorted || f.kind == FaultKind::drifted);
        }))
      faults.push_back({FaultKind::drifted, element.id, {}, sign * element.tolerance_pct});
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

Lesson::Lesson(Profile profile, MeterDefinition meter, LessonLevel level, Knowledge knowledge)
    : profile_(std::move(profile)), meter_(std::move(meter)), knowledge_(std::move(knowledge)) {
  beyond_ohm_ = meter_.top_of_range(Quantity::resistance).value_or(1e7);
  cases_ = lesson_cases(profile_, knowledge_.others, level);
  for (const Expectation& expected : expectations(profile_))
    if (expected.state != PairState::not_checked) places_.push_back({expected.position, expected.pair});

  PartValues least;
  least.closed_contact_ohm = 0.0;
  for (std::size_t i = 0; i < cases_.size(); ++i) {
    const LessonCase& one = cases_[i];
    const Profile& part = part_of(i);
    PartValues most;
    most.closed_contact_ohm = part.limits.sound_max_ohm;
    std::map<std::string, std::pair<Network, Network>> at;
    for (const Position& position : profile_.positions)
      at.emplace(position.id, std::pair{network_of(part, position.id, least, with_tolerances(part, one.least, -1)),
                                        network_of(part, position.id, most, with_tolerances(part, one.most, +1))});
    std::vector<Span>& spans = spans_.emplace_back();
    for (const Place& place : places_) {
      const auto& [low, high] = at.at(place.position);
      spans.push_back({low.resistance_ohm(place.pair.first(), place.pair.second()),
                       high.resistance_ohm(place.pair.first(), place.pair.second())});
    }
  }
}

const Profile& Lesson::part_of(std::size_t of) const {
  const std::string& id = cases_.at(of).profile;
  const auto other =
      std::find_if(knowledge_.others.begin(), knowledge_.others.end(), [&](const Profile& p) { return p.id == id; });
  return id.empty() || other == knowledge_.others.end() ? profile_ : *other;
}

std::size_t Lesson::hidden(std::uint64_t seed) const {
  std::mt19937_64 random(seed);  // only its own output is used: distributions differ between libraries
  if (random() % 8 == 0) return 0;
  std::map<std::string, std::vector<std::size_t>> by_kind;
  for (std::size_t i = 1; i < cases_.size(); ++i)
    if (!same_readings(0, i)) by_kind[cases_[i].kind].push_back(i);
  if (const auto two = by_kind.find("two"); two != by_kind.end()) {
    if (random() % 4 == 0) return two->second[random() % two->second.size()];
    by_kind.erase(two);
  }
  if (by_kind.empty()) return 0;
  const auto& kind = std::next(by_kind.begin(), static_cast<std::ptrdiff_t>(random() % by_kind.size()))->second;
  return kind[random() % kind.size()];
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
  std::vector<std::string> wanted;
  for (const std::string& part : name_parts(text)) {
    const bool number = !part.empty() && part.size() < 6 &&
                        std::all_of(part.begin(), part.end(), [](unsigned char c) { return std::isdigit(c); });
    const std::size_t n = number ? std::stoul(part) : 0;
    const auto names = n >= 1 && n <= cases_.size() ? name_parts(cases_[n - 1].name) : std::vector{part};
    wanted.insert(wanted.end(), names.begin(), names.end());
  }
  std::sort(wanted.begin(), wanted.end());
  for (std::size_t i = 0; i < cases_.size(); ++i)
    if (name_parts(cases_[i].name) == wanted) return i;
  std::vector<std::string> names;
  for (const LessonCase& one : cases_) names.push_back(one.name);
  const std::string near = suggestion(text, names);
  throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is not a fault of this lesson", {},
              near.empty() ? "faults lists them" : near);
}

Place Lesson::place_named(const std::string& text) const {
  std::istringstream stream{lower(text)};
  std::vector<std::string> words;
  for (std::string word; stream >> word;) words.push_back(word);
  if (words.size() < 2 || words.size() > 3)
    throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is not understood", {},
                "a reading is asked for by a pair and a position, like " + places_.front().pair.text() + " " +
                    places_.front().position);
  std::vector<std::string> known;
  for (const Position& position : profile_.positions) known.push_back(position.id);
  const auto position =
      std::find_if(known.begin(), known.end(), [&](const std::string& id) { return lower(id) == words.back(); });
  if (position == known.end()) {
    const std::string near = suggestion(words.back(), known);
    throw Error(ErrorKind::usage, "no position is called \"" + terminal_safe(words.back()) + "\"", {},
                near.empty() ? "positions: " + joined_with_and(known) : near);
  }
  for (const Place& place : places_) {
    const std::string a = lower(place.pair.first());
    const std::string b = lower(place.pair.second());
    const bool here = words.size() == 2 ? words[0] == a + "-" + b || words[0] == b + "-" + a
                                        : (words[0] == a && words[1] == b) || (words[0] == b && words[1] == a);
    if (here && place.position == *position) return place;
  }
  throw Error(ErrorKind::usage, "there is no such pair of terminals", {},
              "terminals: " + joined_with_and(profile_.nodes()));
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
      for (std::size_t j = i + 1; j < open_cases.size(); ++j)
        told += look_different(open_cases[i], open_cases[j], place);
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
