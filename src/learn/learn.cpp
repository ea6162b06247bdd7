#include "switchwright/learn/learn.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <set>

#include "learn/learn_table.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/expectation.hpp"

namespace switchwright {

namespace {

std::size_t index_of(const std::vector<std::string>& names, const std::string& name, const char* what) {
  const auto found = std::find(names.begin(), names.end(), name);
  if (found == names.end())
    throw Error(ErrorKind::usage, fmt::format("no {} is called \"{}\"", what, terminal_safe(name)), {},
                suggestion(name, names));
  return static_cast<std::size_t>(found - names.begin());
}

/// Everything that is joined, directly or through others, gets the number of its first member.
std::vector<std::size_t> groups_of(const LearnTable& table, std::size_t position, double closed_max_ohm) {
  const std::size_t n = table.nodes.size();
  std::vector<std::size_t> group(n);
  std::iota(group.begin(), group.end(), std::size_t{0});
  for (std::size_t a = 0; a < n; ++a)
    for (std::size_t b = a + 1; b < n; ++b) {
      const auto& cell = table.at(position, a, b);
      if (!cell.ohm || *cell.ohm > closed_max_ohm || group[a] == group[b]) continue;
      const std::size_t from = std::max(group[a], group[b]);
      const std::size_t to = std::min(group[a], group[b]);
      std::replace(group.begin(), group.end(), from, to);
    }
  return group;
}

}  // namespace

std::size_t LearnTable::groups(std::size_t position) const {
  return std::set<std::size_t>(group_of[position].begin(), group_of[position].end()).size();
}

Profile provisional_profile(const LearnSubject& subject) {
  Profile profile;
  profile.id = "learning";
  profile.title = subject.title;
  profile.values = "nothing yet: being learned from one part";
  profile.knob = subject.knob;
  profile.terminals = subject.terminals;
  profile.exposed_metal = subject.exposed_metal;
  profile.limits = subject.limits;
  for (std::size_t i = 0; i < subject.positions.size(); ++i)
    profile.positions.push_back({subject.positions[i], 30.0 * static_cast<double>(i), subject.positions[i]});
  return profile;
}

LearnTable table_of(const LearnSubject& subject, const std::vector<LearnReading>& readings) {
  LearnTable table;
  table.nodes = subject.terminals;
  table.nodes.insert(table.nodes.end(), subject.exposed_metal.begin(), subject.exposed_metal.end());
  table.positions = subject.positions;
  const std::size_t n = table.nodes.size();
  table.cells.assign(table.positions.size(), std::vector<LearnTable::Cell>(n * n));
  std::vector<std::vector<bool>> seen(table.positions.size(), std::vector<bool>(n * n));
  for (const LearnReading& reading : readings) {
    const std::size_t p = index_of(table.positions, reading.position, "position");
    const std::size_t a = index_of(table.nodes, reading.pair.first(), "terminal");
    const std::size_t b = index_of(table.nodes, reading.pair.second(), "terminal");
    if (reading.ohm && !std::isfinite(*reading.ohm))
      throw Error(ErrorKind::usage, "a reading of " + reading.pair.text() + " is not a number", reading.position);
    for (const std::size_t at : {a * n + b, b * n + a}) {
      table.cells[p][at] = {reading.ohm ? std::optional(std::max(0.0, *reading.ohm)) : std::nullopt, reading.U_ohm};
      seen[p][at] = true;
    }
  }
  for (std::size_t p = 0; p < table.positions.size(); ++p)
    for (std::size_t a = 0; a < n; ++a)
      for (std::size_t b = a + 1; b < n; ++b)
        if (!seen[p][a * n + b])
          throw Error(ErrorKind::usage, fmt::format("{}-{} was not measured", table.nodes[a], table.nodes[b]),
                      "position " + table.positions[p], "learning needs every pair at every position");
  for (std::size_t p = 0; p < table.positions.size(); ++p)
    table.group_of.push_back(groups_of(table, p, subject.limits.closed_max_ohm));
  return table;
}

namespace {

/// What is learned becomes the rule for every other part, so a contact that is certainly not sound is said loudly.
void warn_of_bad_contacts(const LearnTable& table, const LearnSubject& subject, Learned& learned) {
  const auto index = [&](const std::string& name) {
    return static_cast<std::size_t>(std::find(table.nodes.begin(), table.nodes.end(), name) - table.nodes.begin());
  };
  for (const Contact& contact : learned.contacts) {
    const LearnTable::Cell* worst = nullptr;
    for (std::size_t p = 0; p < table.positions.size(); ++p) {
      if (!contact.conducts_at(table.positions[p])) continue;
      const auto& cell = table.at(p, index(contact.between.first()), index(contact.between.second()));
      if (cell.ohm && (worst == nullptr || *cell.ohm > *worst->ohm)) worst = &cell;
    }
    if (worst == nullptr || *worst->ohm - worst->U_ohm <= subject.limits.sound_max_ohm) continue;
    learned.ambiguities.push_back(fmt::format(
        "WARNING: the closed contact {} read {} (U {}), and a sound one has at most {}: this part is not known to be "
        "good. Learn from another one, or measure the contact with: switchwright drop.",
        contact.between.text(), human_ohm(*worst->ohm), human_ohm(worst->U_ohm),
        human_ohm(subject.limits.sound_max_ohm)));
  }
}

}  // namespace

Learned learn(const LearnSubject& subject, const std::vector<LearnReading>& readings) {
  const LearnTable table = table_of(subject, readings);
  Learned learned;
  learn_contacts(table, learned);
  learn_elements(table, subject, learned);
  warn_of_bad_contacts(table, subject, learned);
  for (const std::string& terminal : subject.terminals) {
    const auto touches = [&](const auto& part) { return part.between.has(terminal); };
    if (std::any_of(learned.contacts.begin(), learned.contacts.end(), touches) ||
        std::any_of(learned.elements.begin(), learned.elements.end(), touches))
      continue;
    learned.unconnected.push_back(terminal);
    learned.ambiguities.push_back(
        terminal +
        " read open to everything at every position: a blind tab, or a contact that was not operated or is defective.");
  }
  for (std::size_t p = 0; p < table.positions.size(); ++p)
    for (std::size_t a = 0; a < table.nodes.size(); ++a)
      for (std::size_t b = a + 1; b < table.nodes.size(); ++b) {
        const auto& cell = table.at(p, a, b);
        if (table.joined(p, a, b) && (!cell.ohm || *cell.ohm > subject.limits.closed_max_ohm))
          learned.unexplained.push_back({table.positions[p], {table.nodes[a], table.nodes[b]}, cell.ohm, cell.U_ohm});
      }
  return learned;
}

std::vector<LearnReading> outside_of(const Profile& profile, const std::vector<LearnReading>& readings,
                                     double beyond_ohm) {
  const auto expected = expectations(profile);
  std::vector<LearnReading> outside;
  for (const LearnReading& reading : readings) {
    const auto found = std::find_if(expected.begin(), expected.end(), [&](const Expectation& e) {
      return e.position == reading.position && e.pair == reading.pair;
    });
    const bool inside = found != expected.end() && (reading.ohm ? *reading.ohm + reading.U_ohm >= found->ohm.min &&
                                                                      *reading.ohm - reading.U_ohm <= found->ohm.max
                                                                : found->ohm.max > beyond_ohm * 0.9);
    if (!inside) outside.push_back(reading);
  }
  return outside;
}

}  // namespace switchwright
