// How faults are written and read.
#include "switchwright/profile/fault.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

enum class Target { contact, element, two_terminals, two_nodes, two_contacts, none };

bool names_two(Target target) {
  return target == Target::two_terminals || target == Target::two_nodes || target == Target::two_contacts;
}

struct KindRow {
  FaultKind kind;
  const char* word;
  Target target;
  const char* unit;  ///< nullptr: takes no value
};
constexpr std::array kinds{
    KindRow{FaultKind::stuck_closed, "stuck-closed", Target::contact, nullptr},
    KindRow{FaultKind::stuck_open, "stuck-open", Target::contact, nullptr},
    KindRow{FaultKind::resistive, "resistive", Target::contact, "ohm"},
    KindRow{FaultKind::open, "open", Target::element, nullptr},
    KindRow{FaultKind::shorted, "shorted", Target::element, nullptr},
    KindRow{FaultKind::drifted, "drifted", Target::element, "percent"},
    KindRow{FaultKind::swapped, "swapped", Target::two_terminals, nullptr},
    KindRow{FaultKind::clocked, "clocked", Target::none, "positions"},
    KindRow{FaultKind::bridged, "bridged", Target::two_nodes, nullptr},
    KindRow{FaultKind::tied, "tied", Target::two_contacts, nullptr},
};

const KindRow& row_of(FaultKind kind) {
  return *std::find_if(kinds.begin(), kinds.end(), [&](const KindRow& row) { return row.kind == kind; });
}

[[noreturn]] void refuse(const std::string& text, const std::string& what, const std::string& next) {
  throw Error(ErrorKind::usage, fmt::format("the fault \"{}\" {}", terminal_safe(text), what), {}, next);
}

std::vector<std::string> ids_of(Target target, const Profile& profile) {
  std::vector<std::string> ids;
  if (target == Target::contact || target == Target::two_contacts)
    for (const Contact& contact : profile.contacts) ids.push_back(contact.id);
  if (target == Target::element)
    for (const Element& element : profile.elements) ids.push_back(element.id);
  if (target == Target::two_terminals) ids = profile.terminals;
  if (target == Target::two_nodes) ids = profile.nodes();
  return ids;
}

const char* example_of(Target target) {
  switch (target) {
    case Target::two_terminals: return "swapped:L1,L2";
    case Target::two_nodes: return "bridged:L1,L2";
    case Target::two_contacts: return "tied:line,cycling";
    default: return "stuck-closed:cycling";
  }
}

void check_id(const std::string& text, const std::string& id, Target target, const Profile& profile) {
  const std::vector<std::string> known = ids_of(target, profile);
  if (std::find(known.begin(), known.end(), id) != known.end()) return;
  const char* noun = target == Target::contact || target == Target::two_contacts ? "contact"
                     : target == Target::element                                 ? "element"
                                                                                 : "terminal";
  const std::string hint = suggestion(id, known);
  refuse(text, fmt::format("names no {} of {}: \"{}\"", noun, profile.id, terminal_safe(id)),
         hint.empty() ? fmt::format("this profile has no {}", noun) : hint);
}

double number_in(const std::string& text, FaultKind kind, const std::string& word) {
  const Amount amount = kind == FaultKind::resistive ? Amount::ohms
                        : kind == FaultKind::drifted ? Amount::percent
                                                     : Amount::number;
  return read_amount(word, amount, {}, "\"" + terminal_safe(text) + "\"");
}

void check_value(const std::string& text, const Fault& fault, const Profile& profile) {
  const double value = *fault.value;
  if (fault.kind == FaultKind::resistive && !(value > 0.0))
    refuse(text, "needs a resistance above 0 ohm", "write it like resistive:line=5");
  if (fault.kind == FaultKind::drifted && !(value > -100.0))
    refuse(text, "needs a drift above -100 percent", "write it like drifted:heater=30; a short is shorted:heater");
  if (fault.kind == FaultKind::clocked &&
      (value != std::floor(value) || value == 0.0 || std::abs(value) >= double(profile.positions.size())))
    refuse(text, fmt::format("needs a whole number of positions, not 0 and less than {}", profile.positions.size()),
           "write it like clocked=1");
}

}  // namespace

std::string to_string(const Fault& fault) {
  const KindRow& row = row_of(fault.kind);
  std::string text = row.word;
  if (!fault.id.empty()) text += ":" + fault.id;
  if (!fault.other.empty()) text += "," + fault.other;
  if (fault.value) text += fmt::format("={}", *fault.value);
  return text;
}

namespace {

Fault read_fault(const std::string& text, const Profile& profile, bool value_needed) {
  const std::size_t kind_ends = text.find_first_of(":=");
  const std::string word = text.substr(0, kind_ends);
  const auto row = std::find_if(kinds.begin(), kinds.end(), [&](const KindRow& r) { return word == r.word; });
  if (row == kinds.end()) {
    std::vector<std::string> known;
    for (const KindRow& r : kinds) known.emplace_back(r.word);
    refuse(text, "is of no known kind", suggestion(word, known));
  }
  Fault fault;
  fault.kind = row->kind;
  std::string rest = kind_ends == std::string::npos ? std::string{} : text.substr(kind_ends);

  if (row->target == Target::none) {
    if (rest.empty() && !value_needed) return fault;
    if (rest.size() < 2) refuse(text, "does not say how many positions", "write it like clocked=1");
    fault.value = number_in(text, fault.kind, rest.substr(1));
    check_value(text, fault, profile);
    return fault;
  }
  const std::string like = fmt::format("write it like {}", example_of(row->target));
  if (rest.size() < 2 || rest.front() != ':') refuse(text, "does not say of what", like);
  const std::size_t equals = rest.find('=');
  fault.id = rest.substr(1, equals == std::string::npos ? equals : equals - 1);
  if (row->unit && (value_needed || equals != std::string::npos)) {
    if (equals == std::string::npos)
      refuse(text, fmt::format("does not say how much ({})", row->unit), fmt::format("write it like {}=5", text));
    fault.value = number_in(text, fault.kind, rest.substr(equals + 1));
  } else if (equals != std::string::npos) {
    refuse(text, "takes no value", fmt::format("leave out \"{}\"", terminal_safe(rest.substr(equals))));
  }
  if (names_two(row->target)) {
    const char* noun = row->target == Target::two_contacts ? "contact" : "terminal";
    const std::size_t comma = fault.id.find(',');
    if (comma == std::string::npos) refuse(text, fmt::format("names one {} of two", noun), like);
    fault.other = fault.id.substr(comma + 1);
    fault.id.resize(comma);
    check_id(text, fault.other, row->target, profile);
    if (fault.id == fault.other) refuse(text, fmt::format("names the same {} twice", noun), like);
  }
  check_id(text, fault.id, row->target, profile);
  if (names_two(row->target)) {  // the order says nothing, so there is one way to write it
    const std::vector<std::string> known = ids_of(row->target, profile);
    if (std::find(known.begin(), known.end(), fault.id) > std::find(known.begin(), known.end(), fault.other))
      std::swap(fault.id, fault.other);
  }
  if (fault.value) check_value(text, fault, profile);
  return fault;
}

}  // namespace

Fault parse_fault(const std::string& text, const Profile& profile) { return read_fault(text, profile, true); }
Fault parse_fault_pattern(const std::string& text, const Profile& profile) { return read_fault(text, profile, false); }

std::vector<Fault> parse_faults(const std::string& text, const Profile& profile) {
  constexpr std::string_view between = " + ";
  std::vector<Fault> faults;
  if (text == "none") return faults;
  for (std::size_t begin = 0;;) {
    const std::size_t end = text.find(between, begin);
    faults.push_back(parse_fault(text.substr(begin, end == std::string::npos ? end : end - begin), profile));
    if (end == std::string::npos) return faults;
    begin = end + between.size();
  }
}

const Consequence* consequence_of(const Profile& profile, const Fault& fault) {
  Fault any_value = fault;
  any_value.value.reset();
  for (const std::string& wanted : {to_string(fault), to_string(any_value)})
    for (const Consequence& consequence : profile.consequences)
      if (consequence.fault == wanted) return &consequence;
  return nullptr;
}

}  // namespace switchwright
