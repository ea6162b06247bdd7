#include "profile/parser.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/fault.hpp"

namespace switchwright::profile_toml {

namespace {

/// A profile is one part with a handful of terminals; a limit keeps a mistaken or hostile file from filling
/// memory with pairs times positions.
constexpr std::size_t most_nodes = 64;
constexpr std::size_t most_positions = 64;
constexpr std::size_t longest_name = 32;

constexpr Range tolerance = between(0.0, 99.9);
constexpr Range fraction{0.0, 1.0, true, "a fraction from 0 to 1"};

template <typename T>
bool contains(const std::vector<T>& list, const T& item) {
  return std::find(list.begin(), list.end(), item) != list.end();
}

}  // namespace

ProfileParser::ProfileParser(const toml::table& root, Profile& profile, Mistakes& mistakes)
    : root_(root, "the profile", mistakes), profile_(&profile), mistakes_(&mistakes) {}

void ProfileParser::parse() {
  parse_heading();
  parse_terminals();
  parse_positions();
  parse_contacts();
  parse_elements();
  parse_limits();
  parse_inspection();
  parse_stated();
  parse_not_checked();
  parse_timing();
  parse_consequences();
  parse_powered();
  parse_wired();
  root_.finish();
  check_every_terminal_is_wired();
}

void ProfileParser::parse_heading() {
  profile_->schema = 1;
  root_.schema(profile_->schema);
  if (const auto title = root_.word("title", Need::required)) profile_->title = title->text;
  if (const auto values = root_.word("values", Need::required)) profile_->values = values->text;
  if (const auto knob = root_.word("knob", Need::optional)) profile_->knob = knob->text;
  if (auto rating = root_.section("rating", Need::required)) {
    if (const auto volts = rating->number("voltage_v", Need::required, above_zero)) profile_->rating.voltage_v = *volts;
    if (const auto amps = rating->number("current_a", Need::required, above_zero)) profile_->rating.current_a = *amps;
    (void)rating->truth("stated");  // profile/unfinished.hpp
    profile_->rating.endurance_operations = rating->number("endurance_operations", Need::optional, above_zero);
    rating->finish();
  }
}

void ProfileParser::parse_terminals() {
  auto section = root_.section("terminals", Need::required);
  if (!section) return;
  const auto read = [&](std::string_view key, Need need, std::vector<std::string>& into) {
    for (const Word& word : section->words(key, need)) {
      if (word.text.find('-') != std::string::npos) {
        mistakes_->add(word.at, fmt::format("expected a terminal name without \"-\", saw \"{}\"; a pair is written "
                                            "with it (L1-H1)",
                                            word.text));
        continue;
      }
      if (const auto id = fresh_id(word, "terminal")) {
        into.push_back(*id);
        node_places_.emplace(*id, word.at);
      }
    }
  };
  read("names", Need::required, profile_->terminals);
  read("exposed_metal", Need::optional, profile_->exposed_metal);
  read("internal", Need::optional, profile_->internal);
  // A blind tab is said to be one, so that a forgotten contact is not taken for it.
  for (const Word& word : section->words("unconnected", Need::optional)) {
    if (!contains(profile_->terminals, word.text))
      mistakes_->add(word.at, fmt::format("expected a terminal of \"names\", saw \"{}\"", word.text));
    unconnected_.push_back(word);
  }
  if (!profile_->terminals.empty() && profile_->terminals.size() < 2)
    mistakes_->add(section->at("names"), "expected at least two terminals, saw one");
  if (profile_->nodes().size() > most_nodes) {
    mistakes_->add(section->at("names"),
                   fmt::format("expected at most {} terminals, saw {}", most_nodes, profile_->nodes().size()));
  }
  section->finish();
}

/// How a person gets to a position, in the profile's own words.
void ProfileParser::parse_way_to(Section& section, Position& position) {
  const auto sentence = [&](std::string_view key) {
    const auto word = section.word(key, Need::optional);
    std::string text = word ? word->text : "";
    while (text.ends_with('.') || text.ends_with(' ')) text.pop_back();
    return text;
  };
  position.go = sentence("do");
  position.caution = sentence("caution");
  if (const auto seconds = section.number("change_s", Need::optional, {0, 86400, true, "seconds from 0 to 86400"}))
    position.change_s = *seconds;
}

void ProfileParser::parse_positions() {
  const auto sections = root_.sections("position", Need::required);
  if (sections.size() > most_positions) {
    mistakes_->add(sections.front().at(),
                   fmt::format("expected at most {} positions, saw {}", most_positions, sections.size()));
    return;
  }
  for (Section section : sections) {
    Position position;
    if (const auto word = section.word("id", Need::required)) {
      if (const auto id = fresh_id(*word, "position")) position.id = *id;
      section.called(word->text);
    }
    const auto angle = section.number("angle_deg", Need::optional, {-3600, 3600, true, "an angle in degrees"});
    if (angle)
      position.angle_deg = *angle;
    else if (!profile_->positions.empty())
      position.angle_deg = profile_->positions.back().angle_deg + 1.0;  // a door or a coil has no angles, only an order
    const auto label = section.word("label", Need::optional);
    position.label = label ? label->text : position.id;
    parse_way_to(section, position);
    section.finish();
    if (position.id.empty()) continue;
    if (angle && !profile_->positions.empty() && *angle <= profile_->positions.back().angle_deg)
      mistakes_->add(section.at("angle_deg"),
                     fmt::format("expected an angle above the {} of \"{}\" before it, saw {}; list the positions in "
                                 "the order of their angles",
                                 profile_->positions.back().angle_deg, profile_->positions.back().id, *angle));
    position_ids_.push_back(position.id);
    profile_->positions.push_back(std::move(position));
  }
}

void ProfileParser::parse_contacts() {
  for (Section section : root_.sections("contact", Need::optional)) {
    Contact contact;
    std::optional<std::string> id;
    if (const auto word = section.word("id", Need::required)) {
      id = fresh_id(*word, "contact or element");
      section.called(word->text);
    }
    const auto between = pair_of(section, "between");
    contact.closed_at = positions_of(section, "closed_at", Need::optional);
    contact.cycles_at = positions_of(section, "cycles_at", Need::optional);
    contact.current_a = section.number("current_a", Need::optional, above_zero);
    contact.sound_max_mv = section.number("sound_max_mv", Need::optional, above_zero);
    for (const std::string& position : contact.cycles_at)
      if (contains(contact.closed_at, position))
        mistakes_->add(section.at("cycles_at"),
                       fmt::format("expected {} either closed or cycling at \"{}\", saw both; cycles_at already "
                                   "means closed when cold",
                                   section.name(), position));
    if (!section.has("closed_at") && !section.has("cycles_at"))
      mistakes_->add(section.at(), fmt::format("expected closed_at or cycles_at in {}, saw neither; a contact that "
                                               "never closes is no contact",
                                               section.name()));
    else if (contact.closed_at.empty() && contact.cycles_at.empty())
      mistakes_->add(section.at(section.has("closed_at") ? "closed_at" : "cycles_at"),
                     fmt::format("expected a position where {} is closed, saw none; a contact that never closes is no "
                                 "contact, and two terminals that nothing joins need none",
                                 section.name()));
    contact.never_opens = section.truth("never_opens").value_or(false);
    if (contact.never_opens && contact.closed_at.size() < profile_->positions.size())
      mistakes_->add(section.at("never_opens"),
                     fmt::format("expected every position in closed_at of {}, since it never opens, saw {} of {}",
                                 section.name(), contact.closed_at.size(), profile_->positions.size()));
    section.finish();
    if (!id || !between) continue;
    contact.id = *id;
    contact.between = *between;
    profile_->contacts.push_back(std::move(contact));
  }
}

std::optional<Element> ProfileParser::resistor_in(Section& section) {
  std::optional<std::string> id;
  if (const auto word = section.word("id", Need::required)) {
    id = fresh_id(*word, "contact or element");
    section.called(word->text);
  }
  const auto between = pair_of(section, "between");
  const auto nominal = section.number("nominal_ohm", Need::required, {0, 1e12, false, "an ohm value above 0"});
  const auto percent = section.number("tolerance_pct", Need::required, tolerance);
  const auto strikes_v = section.interval("strikes_v", above_zero);
  section.finish();
  if (!id || !between || !nominal || !percent) return std::nullopt;
  return Element{*id, *between, *nominal, *percent, strikes_v};
}

void ProfileParser::parse_elements() {
  for (Section section : root_.sections("element", Need::optional))
    if (auto element = resistor_in(section)) profile_->elements.push_back(std::move(*element));
  if (!root_.has("contact") && !root_.has("element") && unconnected_.empty())  // else every terminal is accounted for
    mistakes_->add(root_.at(), "expected at least one [[contact]] or [[element]], saw none; say what the part is");
}

/// What the part stays wired to. Points that are no terminals are those of the [powered] circuit; no probe reaches them.
void ProfileParser::parse_wired() {
  for (Section section : root_.sections("wired", Need::optional)) {
    auto element = resistor_in(section);
    if (!element) continue;
    for (const std::string& point : {element->between.first(), element->between.second()})
      if (contains(outside_, point) && !contains(profile_->internal, point)) profile_->internal.push_back(point);
    element->outside = true;
    profile_->elements.push_back(std::move(*element));
  }
}

void ProfileParser::parse_limits() {
  auto section = root_.section("limits", Need::required);
  if (!section) return;
  Limits& limits = profile_->limits;
  if (const auto ohm = section->number("closed_max_ohm", Need::required, above_zero)) limits.closed_max_ohm = *ohm;
  parse_sound_limit(*section);
  if (const auto ohm = section->number("open_min_ohm", Need::required, above_zero)) limits.open_min_ohm = *ohm;
  if (limits.closed_max_ohm >= limits.open_min_ohm)
    mistakes_->add(section->at("open_min_ohm"),
                   fmt::format("expected open_min_ohm above closed_max_ohm ({}), saw {}; a reading between them could "
                               "be both open and closed",
                               limits.closed_max_ohm, limits.open_min_ohm));
  if (limits.sound_max_ohm > limits.closed_max_ohm) {
    const bool in_mv = limits.sound_max_mv.has_value();
    mistakes_->add(
        section->at(in_mv ? "sound_max_mv" : "sound_max_ohm"),
        in_mv
            ? fmt::format("expected a sound_max_mv that is no more than closed_max_ohm ({}) at the rated current, saw "
                          "{}, which is {:.3g} ohm",
                          limits.closed_max_ohm, *limits.sound_max_mv, limits.sound_max_ohm)
            : fmt::format("expected sound_max_ohm not above closed_max_ohm ({}), saw {}", limits.closed_max_ohm,
                          limits.sound_max_ohm));
  }
  section->finish();
}

/// Millivolts at the rated current, as sheets have it, or ohms, as older profiles do.
void ProfileParser::parse_sound_limit(Section& section) {
  Limits& limits = profile_->limits;
  limits.sound_max_mv = section.number("sound_max_mv", Need::optional, above_zero);
  const bool in_mv = section.has("sound_max_mv");
  if (in_mv && section.has("sound_max_ohm"))
    mistakes_->add(section.at("sound_max_ohm"),
                   "expected either sound_max_mv or sound_max_ohm in [limits], saw both; keep the millivolts");
  if (const auto ohm = section.number("sound_max_ohm", in_mv ? Need::optional : Need::required, above_zero))
    limits.sound_max_ohm = *ohm;
  if (limits.sound_max_mv && profile_->rating.current_a > 0.0)
    limits.sound_max_ohm = *limits.sound_max_mv * 1e-3 / profile_->rating.current_a;
}

Severity ProfileParser::severity_of(Section& section) {
  constexpr std::array severities{Severity::critical, Severity::major, Severity::minor};
  std::vector<std::string> known;
  for (const Severity severity : severities) known.push_back(to_string(severity));
  const auto word = section.choice("severity", known, Need::optional);
  for (const Severity severity : severities)
    if (word && word->text == to_string(severity)) return severity;
  return Severity::major;
}

void ProfileParser::parse_inspection() {
  for (Section section : root_.sections("inspect", Need::optional)) {
    const auto ask = section.word("ask", Need::required);
    const Severity severity = severity_of(section);
    section.finish();
    if (ask) profile_->inspect.push_back({ask->text, severity});
  }
}

void ProfileParser::parse_consequences() {
  for (Section section : root_.sections("consequence", Need::optional)) {
    const auto fault = section.word("fault", Need::required);
    const auto means = section.word("means", Need::required);
    const auto next = section.word("next", Need::optional);
    const Severity severity = severity_of(section);
    section.finish();
    if (!fault || !means) continue;
    try {
      const Fault read = parse_fault_pattern(fault->text, *profile_);
      profile_->consequences.push_back({to_string(read), means->text, next ? next->text : std::string{}, severity});
    } catch (const Error& error) {
      mistakes_->add(fault->at, fmt::format("expected a fault that this part can have: {}", error.what()));
    }
  }
}

void ProfileParser::parse_not_checked() {
  for (Section section : root_.sections("not_checked", Need::optional)) {
    std::vector<Pair> pairs;
    if (section.has("terminal") && section.has("pair"))
      mistakes_->add(section.at("terminal"), "expected either pair or terminal in [[not_checked]], saw both; keep one");
    if (section.has("terminal")) {  // every pair that this terminal is in
      section.skip("pair");
      if (const auto word = section.word("terminal", Need::required); word && is_known_node(*word))
        for (const Pair& pair : profile_->pairs())
          if (pair.has(word->text)) pairs.push_back(pair);
    } else {
      section.skip("terminal");
      if (const auto pair = pair_of(section, "pair")) pairs.push_back(*pair);
    }
    const std::vector<std::string> at = positions_of(section, "at", Need::optional);
    const auto reason = section.word("reason", Need::required);
    section.finish();
    if (!reason) continue;
    for (const Pair& pair : pairs) profile_->not_checked.push_back({pair, at, reason->text});
  }
}

void ProfileParser::parse_timing() {
  for (Section section : root_.sections("timing", Need::optional)) {
    Timing timing;
    const auto position = position_of(section, "position");
    timing.on_s = section.interval("on_s", zero_or_more);
    timing.off_s = section.interval("off_s", zero_or_more);
    timing.period_s = section.interval("period_s", zero_or_more);
    timing.duty = section.interval("duty", fraction);
    section.finish();
    if (!position) continue;
    timing.position = *position;
    const auto& contacts = profile_->contacts;
    if (std::none_of(contacts.begin(), contacts.end(), [&](const Contact& c) { return c.cycles(*position); }))
      mistakes_->add(section.at("position"),
                     fmt::format("expected a position where some contact cycles, saw \"{}\"; add it to a cycles_at or "
                                 "remove this [[timing]]",
                                 *position));
    profile_->timing.push_back(std::move(timing));
  }
}

void ProfileParser::check_every_terminal_is_wired() {
  for (const std::string& terminal : profile_->terminals) {
    const auto touches = [&](const auto& part) { return part.between.has(terminal); };
    const auto said =
        std::find_if(unconnected_.begin(), unconnected_.end(), [&](const Word& w) { return w.text == terminal; });
    if (std::any_of(profile_->contacts.begin(), profile_->contacts.end(), touches) ||
        std::any_of(profile_->elements.begin(), profile_->elements.end(), touches)) {
      if (said != unconnected_.end())
        mistakes_->add(said->at,
                       fmt::format("expected a terminal that nothing joins, saw \"{}\", which has a contact or element",
                                   terminal));
      continue;
    }
    if (said != unconnected_.end()) continue;
    mistakes_->add(node_places_.at(terminal),
                   fmt::format("expected a contact or element at every terminal, saw none at \"{}\"; add one, "
                               "remove the terminal, or list it under \"unconnected\"",
                               terminal));
  }
}

bool ProfileParser::is_known_node(const Word& word) {
  std::vector<std::string> nodes = profile_->network_nodes();
  nodes.insert(nodes.end(), outside_.begin(), outside_.end());
  if (contains(nodes, word.text)) return true;
  const std::string hint = suggestion(word.text, nodes);
  mistakes_->add(word.at,
                 fmt::format("expected a terminal, saw \"{}\"{}{}", word.text, hint.empty() ? "" : "; ", hint));
  return false;
}

std::optional<Pair> ProfileParser::pair_of(Section& section, std::string_view key) {
  // The same terminal twice is found here, so that the message is about the pair and not about a list.
  if (const auto* list = section.list(key); list && list->size() == 2) {
    const auto first = (*list)[0].value<std::string>();
    const auto second = (*list)[1].value<std::string>();
    if (first && second && *first == *second) {
      mistakes_->add(section.at(key), fmt::format("expected two different terminals for \"{}\" in {}, saw \"{}\" "
                                                  "twice",
                                                  key, section.name(), *first));
      section.skip(key);
      return std::nullopt;
    }
  }
  const std::vector<Word> ends = section.words(key, Need::required);
  if (ends.empty()) return std::nullopt;
  if (ends.size() != 2) {
    mistakes_->add(section.at(key),
                   fmt::format("expected two terminals for \"{}\" in {}, saw {}", key, section.name(), ends.size()));
    return std::nullopt;
  }
  const bool first_known = is_known_node(ends[0]);
  const bool second_known = is_known_node(ends[1]);
  if (!first_known || !second_known) return std::nullopt;
  return Pair(ends[0].text, ends[1].text);
}

std::vector<std::string> ProfileParser::positions_of(Section& section, std::string_view key, Need need) {
  std::vector<std::string> found;
  for (const Word& word : section.words(key, need))
    if (is_known_position(section, key, word)) found.push_back(word.text);
  return found;
}

bool ProfileParser::is_known_position(const Section& section, std::string_view key, const Word& word) {
  if (contains(position_ids_, word.text)) return true;
  const std::string hint = suggestion(word.text, position_ids_);
  mistakes_->add(word.at, fmt::format("expected a position for \"{}\" in {}, saw \"{}\"{}{}", key, section.name(),
                                      word.text, hint.empty() ? "" : "; ", hint));
  return false;
}

std::optional<std::string> ProfileParser::position_of(Section& section, std::string_view key) {
  const auto word = section.word(key, Need::required);
  return word && is_known_position(section, key, *word) ? std::optional(word->text) : std::nullopt;
}

std::optional<std::string> ProfileParser::fresh_id(const Word& word, std::string_view space) {
  const bool plain = std::all_of(word.text.begin(), word.text.end(), [](unsigned char c) {
    return std::isalnum(c) || c == '_' || c == '-' || c == '.' || c == '+' || c == '/';
  });
  if (!plain || word.text.size() > longest_name) {
    mistakes_->add(word.at, fmt::format("expected a {} name of letters, digits and _ . + / - (at most {}), saw \"{}\"",
                                        space, longest_name, word.text));
    return std::nullopt;
  }
  const auto [first, fresh] = taken_.emplace(fmt::format("{}/{}", space, word.text), word.at);
  if (!fresh) {
    mistakes_->add(word.at, fmt::format("expected each {} name once, saw \"{}\" again; the first is in line {}", space,
                                        word.text, first->second.begin.line));
    return std::nullopt;
  }
  return word.text;
}

}  // namespace switchwright::profile_toml
