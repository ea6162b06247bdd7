#include "cli/view/practice_view.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <map>

#include "cli/choose/choices.hpp"
#include "cli/output.hpp"
#include "cli/view/page.hpp"
#include "cli/view/terminal.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/explain/diagnosis.hpp"

namespace switchwright::cli {

namespace {

constexpr const char* commands =
    "  PAIR POSITION   take a reading, like L1-H1 off\n"
    "  (just Enter)    take the reading that would tell most now\n"
    "  faults          what can be wrong, with numbers\n"
    "  name FAULT      your answer: a number or a name; two faults are joined by +\n"
    "  table           everything you have read\n"
    "  give up         show the answer\n"
    "  help            this list";

/// "contact stays closed": what a kind of fault is called in the list of what can be wrong.
std::string kind_words(const std::string& kind) {
  static const std::map<std::string, std::string> words{
      {"none", "nothing is wrong"},           {"stuck-closed", "a contact stays closed"},
      {"stuck-open", "a contact stays open"}, {"resistive", "a contact has too much resistance"},
      {"open", "an element is open"},         {"shorted", "an element is shorted"},
      {"drifted", "an element is off"},       {"swapped", "two terminals are swapped"},
      {"clocked", "the knob sits off by"},    {"bridged", "two terminals are joined"},
      {"tied", "two contacts move as one"},   {"profile", "it is another part"}};
  const auto found = words.find(kind);
  return found == words.end() ? kind : found->second;
}

}  // namespace

PracticeView::PracticeView(const Exercise& exercise, bool easy, bool led)
    : exercise_(exercise), easy_(easy), led_(led), screen_(can_draw()) {}

/// On a screen no line is broken in the middle of a word.
void PracticeView::put(const std::string& line) {
  const std::size_t columns = screen_ ? terminal_size().columns : 0;
  std::string rest = line;
  const std::size_t indent = std::min<std::size_t>(line.find_first_not_of(' '), 20) + 4;
  while (columns > 0 && rest.find('\n') == std::string::npos && rest.find('\x1b') == std::string::npos &&
         width_of(rest) >= columns) {
    const std::size_t cut = rest.rfind(' ', columns - 1);
    if (cut == std::string::npos || cut <= indent) break;
    put_line(rest.substr(0, cut));
    rest = std::string(indent, ' ') + rest.substr(cut + 1);
  }
  put_line(rest);
}

void PracticeView::introduce() {
  const Lesson& lesson = exercise_.lesson();
  const Profile& profile = lesson.profile();
  if (screen_) cli::put("\x1b[2J\x1b[H");
  put(painted("PRACTICE: a simulated switch. Nothing here is a reading of a real part.", "1"));
  put("On a real part you would first disconnect it and prove it dead.");
  put("Local codes and licensed practice come first.\n");
  std::vector<std::string> positions;
  for (const Position& position : profile.positions) positions.push_back(position.id);
  put(fmt::format("  part       {}: {}", profile.id, profile.title));
  put(fmt::format("  terminals  {}", fmt::join(profile.nodes(), ", ")));
  put(fmt::format("  {:<10} {}", profile.knob, fmt::join(positions, ", ")));
  put(fmt::format("  meter      {} (simulated), level {}, seed {}", lesson.meter().id, easy_ ? "easy" : "hard",
                  exercise_.seed()));
  put(easy_ ? "\nOne thing may be wrong with it: a contact that sticks, an element that is open or shorted."
            : "\nAnything may be wrong with it: one thing, two at once, or it is another part.");
  put("One switch in eight has nothing wrong. Take readings, then name the fault.\n");
  put(commands);
  put("");
  if (screen_) ask_line("Enter begins: ");
}

std::string PracticeView::ask() {
  if (led_) {
    if (const auto next = exercise_.next())
      say(fmt::format("next: {} at {} (Enter takes it)", next->place.pair.text(), next->place.position));
    else
      nothing_tells_more();
  }
  if (screen_) draw();
  return ask_line(interactive() ? "practice> " : "");
}

/// The newest reading large, those before it as a list, what was answered last, and how to go on.
void PracticeView::draw() {
  const auto& readings = exercise_.readings();
  const Profile& profile = exercise_.lesson().profile();
  Page page;
  page.head = fmt::format("PRACTICE, not a real part   {}   seed {}   {} {}", profile.id, exercise_.seed(),
                          readings.size(), readings.size() == 1 ? "reading" : "readings");
  if (readings.empty()) {
    std::vector<std::string> positions;
    for (const Position& position : profile.positions) positions.push_back(position.id);
    page.say = {{"Nothing read yet. Which pair, at which position?", "1", 2}};
    page.show = {{fmt::format("terminals: {}", fmt::join(profile.nodes(), ", ")), "", 2},
                 {fmt::format("{}: {}", profile.knob, fmt::join(positions, ", ")), "", 2}};
  } else {
    page.letters = {shown(readings.size() - 1)};
    page.say = {{fmt::format("{} at {}", readings.back().place.pair.text(), readings.back().place.position), "1", 2}};
  }
  // What was answered last comes before the older readings, so that it is not what is cut.
  for (std::size_t at = 0; at < message_.size();) {
    const std::size_t end = std::min(message_.find('\n', at), message_.size());
    page.details.push_back({message_.substr(at, end - at), "33", 0});
    at = end + 1;
  }
  message_.clear();
  if (!page.details.empty() && !readings.empty()) page.details.push_back({"", "", 0});
  for (std::size_t i = readings.size(); i-- > 0;)
    page.details.push_back(
        {row(i, easy_, false), easy_ && exercise_.lesson().contradicts(readings[i], 0) ? "1;31" : "", 0});
  const Place& place = exercise_.lesson().places().front();
  page.keys = {{"a reading:", place.pair.text() + " " + place.position},
               {"Enter:", "the most telling"},
               {"faults:", "the list"},
               {"your answer:", "name FAULT"},
               {"table", ""},
               {"give up", ""},
               {"help", ""}};
  const TerminalSize size = terminal_size();
  cli::put("\x1b[2J");
  cli::draw(laid_out(page, {size.columns, size.rows - 1}, speaks_utf8()));  // the last line is for the answer
  cli::put("\r\n");
}

void PracticeView::show_reading() {
  if (!screen_) put(row(exercise_.readings().size() - 1, easy_));
}

void PracticeView::say(const std::string& line) {
  const std::string said = "  " + line + "\n";
  if (screen_)
    message_ += message_.find(said) == std::string::npos ? said : "";
  else
    put("  " + line);
}

void PracticeView::nothing_tells_more() { say("No reading would tell more: name the fault (faults lists them)."); }

void PracticeView::show_help() {
  if (screen_)
    message_ += std::string{commands} + "\n";
  else
    put(commands);
}

std::string PracticeView::shown(std::size_t i) const {
  const LessonReading& reading = exercise_.readings()[i];
  return reading.ohm ? human_value(*reading.ohm, Quantity::resistance, exercise_.indications()[i].resolution) : "open";
}

std::string PracticeView::row(std::size_t i, bool with_good, bool coloured) const {
  const LessonReading& reading = exercise_.readings()[i];
  std::string text =
      fmt::format("  {:>2}  {:<9} {:<12} {:<12}", i + 1, reading.place.pair.text(), reading.place.position, shown(i));
  if (with_good) {
    const bool wrong = exercise_.lesson().contradicts(reading, 0);
    const std::string good = exercise_.lesson().prediction(0, reading.place);
    text += wrong ? (coloured ? painted("NOT as it should be: ", "1;31") : "NOT as it should be: ") + good
                  : "as it should be: " + good;
  }
  while (!text.empty() && text.back() == ' ') text.pop_back();
  return text;
}

void PracticeView::show_table() {
  std::string text;
  for (std::size_t i = 0; i < exercise_.readings().size(); ++i) text += row(i, easy_, !screen_) + "\n";
  if (text.empty()) text = "  nothing read yet\n";
  if (screen_)
    message_ += text;
  else
    cli::put(text);
}

/// Each kind with its faults, each with its number and what it is about.
void PracticeView::show_faults() {
  const auto& cases = exercise_.lesson().cases();
  const std::size_t indent = screen_ && terminal_size().columns < 60 ? 4 : 36;
  const std::size_t widest = screen_ ? std::min<std::size_t>(terminal_size().columns - 1, 100) : 100;
  std::string text;
  std::size_t column = 0;
  std::size_t doubles = 0;
  for (std::size_t i = 0; i < cases.size(); ++i) {
    if (cases[i].kind == "two") {
      ++doubles;
      continue;
    }
    if (i == 0 || cases[i].kind != cases[i - 1].kind) {
      text += i == 0 ? "" : "\n";
      const std::string kind = "  " + kind_words(cases[i].kind);
      text += kind + (kind.size() < indent ? std::string(indent - kind.size(), ' ') : "\n" + std::string(indent, ' '));
      column = indent;
    }
    const auto colon = cases[i].name.find_first_of(":=");
    const std::string about = colon == std::string::npos ? "" : cases[i].name.substr(colon + 1);
    const std::string number = std::to_string(i + 1);
    const std::size_t width = 3 + number.size() + about.size();
    if (column + width > widest) {
      text += "\n" + std::string(indent, ' ');
      column = indent;
    }
    column += width;
    text += "  " + (screen_ ? number : painted(number, "1")) + (about.empty() ? "" : " " + about);
  }
  text += "\n";
  if (doubles > 0) text += "  Two at once, of those that stick, are open or shorted: such as 2 + 5.\n";
  text += "  Answer with a number, name 2, or in words, name " +
          cases[std::min<std::size_t>(1, cases.size() - 1)].name + ".\n";
  if (screen_)
    message_ += text;
  else
    cli::put(text);
}

void PracticeView::explain(const Judgement& judgement) {
  if (screen_) cli::put("\x1b[2J\x1b[H");
  put("");
  what_was_hidden(judgement);
  what_told_it(judgement);
  shortest_way();
  if (screen_) ask_line("\nEnter shows why the others fell: ");
  why_the_others_fell(judgement);
}

void PracticeView::what_was_hidden(const Judgement& judgement) {
  const Lesson& lesson = exercise_.lesson();
  const LessonCase& hidden = lesson.cases()[exercise_.hidden()];
  if (!judgement.named)
    put(painted("You gave up.", "1;33"));
  else if (judgement.exact)
    put(painted("RIGHT.", "1;32"));
  else if (judgement.same_readings)
    put(painted("RIGHT", "1;32") + " as far as anyone can tell: no reading tells " +
        lesson.cases()[*judgement.named].name + " from what was hidden.");
  else
    put(painted("NOT SO:", "1;31") + " you named " + lesson.cases()[*judgement.named].name + " (" +
        lesson.cases()[*judgement.named].words + ").");
  put(fmt::format("Hidden was {}: {}.", exercise_.hidden_name(), hidden.words));
  for (const Fault& fault : exercise_.hidden_faults())
    if (const Consequence* consequence = consequence_of(lesson.profile(), fault))
      put("  What it means: " + consequence->means);
  if (judgement.refuted_by) {
    const std::size_t i = *judgement.refuted_by;
    const Place& place = exercise_.readings()[i].place;
    put(fmt::format("Your own reading {} speaks against your answer: {} at {} read {}; with {} it would read {}.",
                    i + 1, place.pair.text(), place.position, shown(i), lesson.cases()[*judgement.named].name,
                    lesson.prediction(*judgement.named, place)));
  } else if (judgement.named && !judgement.right()) {
    put("Your readings allowed it; more readings would have told the two apart.");
  }
  if (easy_ || exercise_.readings().empty()) return;  // a diagnosis weighs more than what an easy lesson hides
  const auto diagnosis = exercise_.diagnosis();
  if (!diagnosis.explanations.empty()) {
    put("\nWhat a diagnosis makes of your readings:");
    for (std::size_t i = 0; i < std::min<std::size_t>(3, diagnosis.explanations.size()); ++i)
      put(fmt::format("  {:>11}  {}", percent_text(diagnosis.explanations[i].probability),
                      in_words(diagnosis.explanations[i].hypothesis)));
  }
}

void PracticeView::what_told_it(const Judgement& judgement) {
  put("\nThe readings that told it:");
  for (const std::size_t i : judgement.told_it) put(row(i, true));
  if (judgement.told_it.empty())
    put(exercise_.lesson().cases()[exercise_.hidden()].good()
            ? "  none: every reading was as it should be"
            : "  none of yours: a good part would have read the same");
  if (const auto shown_by = exercise_.shown_by())
    put(fmt::format("  (of all {} readings, {} show{} this fault)", exercise_.lesson().places().size(), *shown_by,
                    *shown_by == 1 ? "s" : ""));
}

void PracticeView::shortest_way() {
  const Lesson& lesson = exercise_.lesson();
  const auto way = exercise_.informed_way();
  put("");
  put(fmt::format("The shortest way there, always the most telling reading next ({} {}; you took {}):", way.size(),
                  way.size() == 1 ? "reading" : "readings", exercise_.readings().size()));
  for (const Exercise::WayStep& step : way) {
    const Place& place = step.next.place;
    const std::string reads = lesson.prediction(exercise_.hidden(), place);
    const std::string good = lesson.prediction(0, place);
    put(fmt::format("      {:<9} {:<12} {:<24} {}{} left", place.pair.text(), place.position, reads,
                    reads == good ? "" : "a good part: " + good + "; ", step.left));
  }
  if (const auto proof = lesson.shortest_way(exercise_.hidden()); proof.size() < way.size()) {
    std::vector<std::string> places;
    for (const Place& place : proof) places.push_back(place.pair.text() + " at " + place.position);
    put(fmt::format("  Knowing the answer, {} would prove it: {}.",
                    proof.size() == 1 ? "one" : fmt::format("these {}", proof.size()), joined_with_and(places)));
  }
}

void PracticeView::why_the_others_fell(const Judgement& judgement) {
  const Lesson& lesson = exercise_.lesson();
  put("\nWhy the others fell:");
  std::size_t more = 0;
  // By reading: what one reading rules out stands together.
  std::map<std::size_t, std::vector<std::size_t>> by_reading;
  for (const Judgement::Fallen& fallen : judgement.fallen) {
    if (lesson.cases()[fallen.of].kind == "two")
      ++more;
    else
      by_reading[fallen.reading].push_back(fallen.of);
  }
  for (const auto& [reading, cases] : by_reading) {
    const Place& place = exercise_.readings()[reading].place;
    put(fmt::format("  reading {}: {} at {} read {}", reading + 1, place.pair.text(), place.position, shown(reading)));
    std::map<std::string, std::vector<std::string>> by_prediction;
    for (const std::size_t of : cases) by_prediction[lesson.prediction(of, place)].push_back(lesson.cases()[of].name);
    for (const auto& [prediction, names] : by_prediction)
      put(fmt::format("      would read {:<22} with {}", prediction, fmt::join(names, ", ")));
  }
  if (more > 0) put(fmt::format("  and {} pairs of faults, each against a reading of yours", more));
  if (judgement.fallen.empty()) put("  none did: you took no reading that speaks against any");
  if (!judgement.alike.empty()) put("Nothing tells from what was hidden: " + named(judgement.alike) + ".");
  if (!judgement.standing.empty()) put("Not ruled out by your readings: " + named(judgement.standing) + ".");
}

std::string PracticeView::named(std::vector<std::size_t> cases) const {
  constexpr std::size_t most = 8;
  std::vector<std::string> names;
  for (std::size_t i = 0; i < std::min(most, cases.size()); ++i)
    names.push_back(exercise_.lesson().cases()[cases[i]].name);
  if (cases.size() > most) names.push_back(fmt::format("{} more", cases.size() - most));
  return joined_with_and(names);
}

}  // namespace switchwright::cli
