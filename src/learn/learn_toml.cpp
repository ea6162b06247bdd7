#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "switchwright/core/text.hpp"
#include "switchwright/learn/learn.hpp"

namespace switchwright {

namespace {

/// A TOML basic string.
std::string quoted(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f)
      out += fmt::format("\\u{:04x}", static_cast<unsigned char>(c));
    else
      out += c;
  }
  return out + "\"";
}

std::string list(const std::vector<std::string>& items) {
  std::string out = "[";
  for (const std::string& item : items) out += (out.size() > 1 ? ", " : "") + quoted(item);
  return out + "]";
}

/// A comment on one line, whatever the text holds.
std::string comment(const std::string& text) {
  std::string out = "# ";
  for (const char c : text) out += static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? ' ' : c;
  return out + "\n";
}

/// Four significant digits: more than a hand-held meter knows, little enough to read.
double rounded(double ohm) {
  const double unit = std::pow(10.0, 3.0 - std::floor(std::log10(ohm)));
  return std::round(ohm * unit) / unit;
}

std::string cell(const LearnSubject& subject, const LearnReading& reading) {
  if (!reading.ohm) return "open";
  return *reading.ohm <= subject.limits.closed_max_ohm ? fmt::format("{:.2g}", *reading.ohm)
                                                       : fmt::format("{:.4g}", *reading.ohm);
}

std::string readings_table(const LearnSubject& subject, const std::vector<LearnReading>& readings) {
  std::string out = comment("The readings in ohm, leads subtracted:") + fmt::format("# {:<12}", "pair");
  for (const std::string& position : subject.positions) out += fmt::format(" {:>12}", position);
  out += "\n";
  std::vector<Pair> pairs;
  for (const LearnReading& reading : readings)
    if (std::find(pairs.begin(), pairs.end(), reading.pair) == pairs.end()) pairs.push_back(reading.pair);
  for (const Pair& pair : pairs) {
    out += fmt::format("# {:<12}", pair.text());
    for (const std::string& position : subject.positions)
      for (const LearnReading& reading : readings)
        if (reading.pair == pair && reading.position == position) out += fmt::format(" {:>12}", cell(subject, reading));
    out += "\n";
  }
  return out;
}

/// What every profile begins with. A rating that nobody stated must still be a number.
std::string opening_toml(const LearnSubject& subject, const std::string& values,
                         const std::vector<std::string>& unconnected) {
  std::string out = fmt::format("schema = 1\ntitle = {}\nvalues = {}\nknob = {}\n\n", quoted(subject.title),
                                quoted(values), quoted(subject.knob));
  const char* const not_learned = "    # NOT LEARNED: write what is stamped on the part";
  out += fmt::format("[rating]\nvoltage_v = {:g}{}\ncurrent_a = {:g}{}\n\n", subject.voltage_v.value_or(1.0),
                     subject.voltage_v ? "" : not_learned, subject.current_a.value_or(1.0),
                     subject.current_a ? "" : not_learned);
  if (!subject.voltage_v || !subject.current_a)
    out.insert(out.size() - 1, "stated = false    # take this line out when both are\n");
  out += "[terminals]\nnames = " + list(subject.terminals) + "\n";
  if (!subject.exposed_metal.empty()) out += "exposed_metal = " + list(subject.exposed_metal) + "\n";
  if (!unconnected.empty())
    out += "unconnected = " + list(unconnected) + "    # read open to everything at every position\n";
  out += "\n";
  for (const std::string& position : subject.positions) out += "[[position]]\nid = " + quoted(position) + "\n";
  return out;
}

std::string limits_toml(const Limits& limits) {
  return fmt::format(
      "\n[limits]\nclosed_max_ohm = {:g}    # common practice for a two-wire reading\nsound_max_ohm = {:g}\n"
      "open_min_ohm = {:g}\n",
      limits.closed_max_ohm, limits.sound_max_ohm, limits.open_min_ohm);
}

}  // namespace

std::string provisional_toml(const LearnSubject& subject) {
  return comment("What is known before a part is learned: nothing but its terminals and positions.") +
         opening_toml(subject, "nothing yet: being learned from one part", subject.terminals) +
         limits_toml(subject.limits);
}

std::string learned_toml(const LearnSubject& subject, const std::vector<LearnReading>& readings, const Learned& learned,
                         const std::string& date, const std::string& by) {
  std::string out = comment("Learned from one part. Review every line before judging other parts by it.");
  if (!by.empty()) out += comment("Measured on " + date + " with " + by + ".");
  out += comment("One part shows neither its tolerances nor its rating, and a cold part does not show what cycles.");
  if (!learned.ambiguities.empty()) {
    out += "#\n" + comment("What the readings leave open:");
    for (const std::string& text : learned.ambiguities) out += comment("- " + text);
  }
  out += "#\n" + readings_table(subject, readings);
  out += opening_toml(subject, "learned from one part on " + date + ", to be reviewed", learned.unconnected);
  if (!learned.contacts.empty())
    out +=
        "\n" +
        comment(
            "Closed as found cold. A contact that opens and closes by itself under power is told only by a trace:") +
        comment("move those positions from closed_at to cycles_at. Give each contact a name that says what it does.");
  for (const Contact& contact : learned.contacts)
    out += "[[contact]]\nid = " + quoted(contact.id) +
           "\nbetween = " + list({contact.between.first(), contact.between.second()}) +
           "\nclosed_at = " + list(contact.closed_at) + "\n";
  if (!learned.elements.empty())
    out +=
        "\n" +
        comment(
            "The tolerance is invented (at least 10 %, and what this meter may be off by): take it from the part's sheet.");
  for (const Element& element : learned.elements)
    out += fmt::format("[[element]]\nid = {}\nbetween = {}\nnominal_ohm = {:g}\ntolerance_pct = {:g}\n",
                       quoted(element.id), list({element.between.first(), element.between.second()}),
                       rounded(element.nominal_ohm), element.tolerance_pct);
  out += limits_toml(subject.limits);
  return out;
}

}  // namespace switchwright
