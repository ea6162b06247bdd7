#include "cli/lot/serials.hpp"

#include <fmt/format.h>

#include <iostream>

#include "cli/choose/choices.hpp"
#include "cli/output.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

constexpr const char* hint = "(scan or type it; :lost REASON when the unit cannot be had, :q stops)";

std::string trimmed(std::string line) {
  const auto first = line.find_first_not_of(" \t\r");
  return first == std::string::npos ? std::string{} : line.substr(first, line.find_last_not_of(" \t\r") - first + 1);
}

/// What a scanner types has no control characters; one that has was not read right.
bool is_clean(const std::string& text) {
  for (const char c : text)
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) return false;
  return text.size() <= 200;
}

}  // namespace

/// By an option, by the hands or by a list; empty: a person is asked.
std::string Serials::given(const std::string& label) {
  if (!bench_.options.serial.empty()) return bench_.options.serial;
  if (!bench_.options.serials.empty()) {
    const bool is_stdin = bench_.options.serials == "-";
    if (!is_stdin && !file_.is_open()) {
      file_.open(bench_.options.serials);
      if (!file_)
        throw Error(ErrorKind::usage, "the serial numbers cannot be read", bench_.options.serials,
                    "name a file with one a line");
    }
    std::istream& in = is_stdin ? std::cin : file_;
    std::string line;
    while (std::getline(in, line)) {
      ++lines_;
      if (line = trimmed(line); !line.empty()) return line;
    }
    throw Error(ErrorKind::usage, fmt::format("the serial numbers are at their end after {} lines", lines_),
                "--serials",
                "what was tested is kept; give the rest and go on with: switchwright lot run " + bench_.lot_id);
  }
  return label;
}

Serials::Answer Serials::of(const LotPlaceState& place, const std::string& label, const LotCourse& course,
                            const Store& store) {
  const std::string number = given(label);
  const bool can_ask = bench_.attended() && number.empty();
  for (;;) {
    Answer answer;
    answer.serial = number;
    if (answer.serial.empty()) {
      if (!can_ask)
        throw Error(ErrorKind::usage, fmt::format("the serial number of unit {} is missing", place.unit), "",
                    bench_.options.one ? "give it with --serial" : "give them with --serials, one a line");
      answer.serial = trimmed(ask_line(fmt::format("serial number of unit {} {}: ", place.unit, hint)));
    }
    if (answer.serial.empty()) continue;
    if (!is_clean(answer.serial)) {
      if (!can_ask)
        throw Error(ErrorKind::usage, "a serial number has control characters or more than 200 characters", "",
                    "read the label again");
      put_line("That was not read right: scan it again.");
      continue;
    }
    if (can_ask && answer.serial == ":q") {
      answer.stop = true;
      return answer;
    }
    if (can_ask && answer.serial.starts_with(":lost")) {
      answer.reason = trimmed(answer.serial.substr(5));
      if (answer.reason.empty()) {
        put_line("Say why: :lost REASON; it stands in the report.");
        continue;
      }
      answer.serial.clear();
      answer.lost = true;
      return answer;
    }
    const LotPlaceState* had = nullptr;
    for (const LotPlaceState& other : course.places)
      if (other.place != place.place && !other.serial.empty() && same_tag(other.serial, answer.serial)) had = &other;
    if (!had) {
      for (const auto& elsewhere : store.lots_with(answer.serial))
        if (elsewhere.lot != bench_.lot_id && !bench_.options.json)
          put_line(fmt::format("  note: {} was tested before, in lot record {}", terminal_safe(answer.serial),
                               elsewhere.lot));
      return answer;
    }
    std::string meant = bench_.options.repeated;
    const std::string words =
        fmt::format("serial number {} is that of unit {} already, which {}", terminal_safe(answer.serial), had->unit,
                    had->state == UnitState::pass   ? "passed"
                    : had->state == UnitState::fail ? "failed"
                                                    : "is undecided");
    if (meant.empty() && !bench_.attended())
      throw Error(
          ErrorKind::usage, words, "",
          "say what it means with --repeated same (that piece once more) or --repeated other (another piece that bears it too)");
    if (meant.empty()) {
      put_line(words + ".");
      const std::string said = ask_line(
          "same = that piece once more (a retest), other = another piece that bears it too, Enter = scan again: ");
      meant = said;
    }
    if (meant == "same") {
      answer.again_place = had->place;
      return answer;
    }
    if (meant == "other") return answer;
    if (!can_ask) return of(place, {}, course, store);
  }
}

}  // namespace switchwright::cli
