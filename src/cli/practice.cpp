// Training on a switch with a fault that nobody is told. The simulator runs in this process and is reached like any other
// bench: readings through its pseudo-terminal, hands through its socket.
#include <fmt/format.h>

#include <filesystem>
#include <random>
#include <sstream>

#include "cli/choices.hpp"
#include "cli/options.hpp"
#include "cli/output.hpp"
#include "cli/places.hpp"
#include "cli/practice_bench.hpp"
#include "switchwright/bench/event.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/record/store.hpp"
#include "switchwright/verify/judge.hpp"
#include "switchwright/verify/lesson.hpp"

namespace switchwright::cli {

namespace {

constexpr const char* commands =
    "  PAIR POSITION   take a reading, such as: L1-H1 off\n"
    "  (Enter)         take the reading that would tell most now\n"
    "  table           what you have read\n"
    "  faults          what can be wrong, with numbers\n"
    "  name FAULT      your answer: a name or a number; two faults are joined by +\n"
    "  give up         show the answer\n"
    "  help            this list";

std::filesystem::path practice_store(const PracticeOptions& options) {
  if (!options.store.empty()) return options.store;
  return default_store_path().parent_path() / "practice.sqlite";
}

std::vector<std::string> words_of(const std::string& line) {
  std::istringstream stream{line};
  std::vector<std::string> words;
  for (std::string word; stream >> word;) words.push_back(word);
  return words;
}

class Exercise {
 public:
  Exercise(const Lesson& lesson, const MeterDefinition& meter, PracticeOptions options, std::uint64_t seed)
      : lesson_(lesson),
        meter_(meter),
        options_(std::move(options)),
        seed_(seed),
        hidden_(lesson.hidden(seed)),
        bench_(lesson.profile(), meter, lesson.faults_of(hidden_, seed), seed) {}

  int run() {
    introduce();
    leads_.before = bench_.take({Probes::shorted, {}, "", Quantity::resistance});
    std::optional<std::size_t> answer;
    bool gave_up = false;
    while (!answer && !gave_up) {
      propose();
      const std::string line = ask_line(interactive() ? "practice> " : "");
      try {
        answer = obey(line, gave_up);
      } catch (const Error& error) {
        if (error.kind() != ErrorKind::usage) throw;
        put_line("  " + error.what_happened() + (error.what_next().empty() ? "" : "; " + error.what_next()));
      }
    }
    return explain(answer);
  }

 private:
  void introduce() {
    const Profile& profile = lesson_.profile();
    put_line("PRACTICE: a simulated switch. Nothing here is a reading of a real part.");
    put_line("On a real part you would first disconnect it and prove it dead. Local codes and licensed practice come first.\n");
    put_line(fmt::format("  part       {}: {}", profile.id, profile.title));
    put_line("  terminals  " + fmt::format("{}", fmt::join(profile.nodes(), ", ")));
    std::vector<std::string> positions;
    for (const Position& position : profile.positions) positions.push_back(position.id);
    put_line(fmt::format("  {:<10} {}", profile.knob, fmt::format("{}", fmt::join(positions, ", "))));
    put_line(fmt::format("  meter      {} (simulated), level {}, seed {}", meter_.id, options_.level, seed_));
    put_line("\nOne switch in eight has nothing wrong. Take readings, then name the fault.\n");
    put_line(commands);
    put_line("");
  }

  void propose() {
    if (!options_.led) return;
    if (const auto next = lesson_.most_telling(readings_))
      put_line(fmt::format("  next: {} at {} (Enter takes it)", next->pair.text(), next->position));
    else
      put_line("  no reading would tell more: name the fault (faults lists them)");
  }

  std::optional<std::size_t> obey(const std::string& line, bool& gave_up) {
    const auto words = words_of(line);
    if (words.empty()) {
      if (const auto next = lesson_.most_telling(readings_))
        take(*next);
      else
        put_line("  no reading would tell more: name the fault (faults lists them)");
    } else if (words[0] == "name") {
      return lesson_.named(line.substr(line.find("name") + 4).substr(words.size() > 1 ? 1 : 0));
    } else if (words[0] == "give" || words[0] == "quit") {
      gave_up = true;
    } else if (words[0] == "table") {
      table();
    } else if (words[0] == "faults") {
      faults();
    } else if (words[0] == "help" || words[0] == "?") {
      put_line(commands);
    } else {
      take(place_of(words));
    }
    return std::nullopt;
  }

  /// "L1-H1 off" or "L1 H1 off", case as it comes.
  Place place_of(const std::vector<std::string>& words) const {
    const Profile& profile = lesson_.profile();
    const auto same = [](const std::string& a, const std::string& b) {
      return a.size() == b.size() && std::equal(a.begin(), a.end(), b.begin(), [](char x, char y) {
               return std::tolower(static_cast<unsigned char>(x)) == std::tolower(static_cast<unsigned char>(y));
             });
    };
    for (const Place& place : lesson_.places()) {
      const std::string& a = place.pair.first();
      const std::string& b = place.pair.second();
      const bool joined = words.size() == 2 && (same(words[0], a + "-" + b) || same(words[0], b + "-" + a));
      const bool apart = words.size() == 3 && ((same(words[0], a) && same(words[1], b)) || (same(words[0], b) && same(words[1], a)));
      if ((joined || apart) && same(words.back(), place.position)) return place;
    }
    if (words.size() < 2 || words.size() > 3)
      throw Error(ErrorKind::usage, "\"" + terminal_safe(words[0]) + "\" is not understood", {}, "help lists what is");
    if (std::none_of(profile.positions.begin(), profile.positions.end(),
                     [&](const Position& p) { return same(p.id, words.back()); })) {
      std::vector<std::string> known;
      for (const Position& position : profile.positions) known.push_back(position.id);
      throw Error(ErrorKind::usage, "no position is called \"" + terminal_safe(words.back()) + "\"", {},
                  suggestion(words.back(), known));
    }
    throw Error(ErrorKind::usage, "there is no such pair of terminals", {},
                "terminals: " + fmt::format("{}", fmt::join(profile.nodes(), ", ")));
  }

  void take(const Place& place) {
    const Indication indication = bench_.take({Probes::on_pair, place.pair, place.position, Quantity::resistance});
    LessonReading reading{place, std::nullopt, 0.0};
    if (indication.state == ReadingState::finite) {
      reading.ohm = std::max(0.0, indication.value - leads_.correction_ohm());
      reading.U_ohm = uncertainty_of(meter_, Quantity::resistance, indication.value, indication.resolution, &leads_).U;
    }
    readings_.push_back(reading);
    indications_.push_back(indication);
    put_line(row(readings_.size() - 1, options_.level == "easy"));
  }

  std::string shown(std::size_t i) const {
    return readings_[i].ohm ? human_value(*readings_[i].ohm, Quantity::resistance, indications_[i].resolution) : "open";
  }

  std::string row(std::size_t i, bool with_good) const {
    const Place& place = readings_[i].place;
    std::string text = fmt::format("  {:>2}  {:<8} {:<10} {:<12}", i + 1, place.pair.text(), place.position, shown(i));
    if (with_good)
      text += (lesson_.contradicts(readings_[i], 0) ? "NOT as it should be: " : "as it should be: ") + lesson_.prediction(0, place);
    while (!text.empty() && text.back() == ' ') text.pop_back();
    return text;
  }

  void table() const {
    for (std::size_t i = 0; i < readings_.size(); ++i) put_line(row(i, options_.level == "easy"));
    if (readings_.empty()) put_line("  nothing read yet");
  }

  void faults() const {
    std::size_t doubles = 0;
    for (std::size_t i = 0; i < lesson_.cases().size(); ++i) {
      const LessonCase& one = lesson_.cases()[i];
      if (one.most.size() > 1)
        ++doubles;
      else
        put_line(fmt::format("  {:>2}  {:<24} {}", i + 1, one.name, one.words));
    }
    if (doubles > 0)
      put_line(fmt::format("  and {} pairs of those that stick, are open or shorted: name them as A + B", doubles));
  }

  int explain(std::optional<std::size_t> answer) {
    const auto& cases = lesson_.cases();
    const bool exact = answer == hidden_;
    const bool same = answer && !exact && lesson_.same_readings(*answer, hidden_);
    put_line("");
    if (!answer)
      put_line("You gave up.");
    else if (exact)
      put_line("RIGHT.");
    else if (same)
      put_line("RIGHT as far as anyone can tell: no reading tells " + cases[*answer].name + " from what was hidden.");
    else
      put_line("NOT SO: you named " + cases[*answer].name + " (" + cases[*answer].words + ").");
    std::vector<std::string> values;
    for (const Fault& fault : lesson_.faults_of(hidden_, seed_)) values.push_back(to_string(fault));
    put_line(fmt::format("Hidden was {}: {}.", values.empty() ? "none" : fmt::format("{}", fmt::join(values, " + ")),
                         cases[hidden_].words));
    if (answer && !exact && !same) why_not(*answer);
    what_told();
    shortest();
    why_others_fell();
    keep(answer, exact || same);
    return !answer ? 3 : exact || same ? 0 : 1;
  }

  void why_not(std::size_t answer) const {
    const auto against = lesson_.against(answer, readings_);
    if (!against.empty())
      put_line(fmt::format("Your own reading {} speaks against it: {} at {} read {}; with {} it would read {}.", against[0] + 1,
                           readings_[against[0]].place.pair.text(), readings_[against[0]].place.position, shown(against[0]),
                           lesson_.cases()[answer].name, lesson_.prediction(answer, readings_[against[0]].place)));
    else
      put_line("Your readings allowed it; more readings would have told the two apart.");
  }

  void what_told() const {
    const auto told = lesson_.against(0, readings_);
    put_line("\nThe readings that told it:");
    for (const std::size_t i : told) put_line(row(i, true));
    if (told.empty())
      put_line(hidden_ == 0 ? "  none: every reading was as it should be" : "  none of yours: a good part would have read the same");
  }

  void shortest() const {
    const auto way = lesson_.shortest_way(hidden_);
    put_line(fmt::format("\nThe shortest way there ({} {}; you took {}):", way.size(), way.size() == 1 ? "reading" : "readings",
                         readings_.size()));
    for (const Place& place : way)
      put_line(fmt::format("      {:<8} {:<10} {:<18} a good part: {}", place.pair.text(), place.position,
                           lesson_.prediction(hidden_, place), lesson_.prediction(0, place)));
  }

  void why_others_fell() const {
    put_line("\nWhy the others fell:");
    std::vector<std::string> standing;
    std::vector<std::string> alike;
    std::size_t more = 0;
    std::size_t shown_lines = 0;
    for (std::size_t i = 0; i < lesson_.cases().size(); ++i) {
      if (i == hidden_) continue;
      const LessonCase& one = lesson_.cases()[i];
      const auto against = lesson_.against(i, readings_);
      if (against.empty()) {
        (lesson_.same_readings(i, hidden_) ? alike : standing).push_back(one.name);
      } else if (one.most.size() > 1 || shown_lines >= 24) {
        ++more;
      } else {
        ++shown_lines;
        const std::size_t r = against[0];
        put_line(fmt::format("  {:<24} reading {}: {} at {} would read {}, not {}", one.name, r + 1,
                             readings_[r].place.pair.text(), readings_[r].place.position,
                             lesson_.prediction(i, readings_[r].place), shown(r)));
      }
    }
    if (more > 0) put_line(fmt::format("  and {} more, each against a reading of yours", more));
    if (!alike.empty()) put_line("Nothing tells from what was hidden: " + listed(alike) + ".");
    if (!standing.empty()) put_line("Not ruled out by your readings: " + listed(standing) + ".");
  }

  static std::string listed(std::vector<std::string> names) {
    const std::size_t all = names.size();
    if (all > 8) {
      names.resize(8);
      names.push_back(fmt::format("{} more", all - 8));
    }
    return joined_with_and(names);
  }

  /// Kept apart from real records, in the same form, and marked in every place that is shown.
  void keep(std::optional<std::size_t> answer, bool right) {
    Store store{practice_store(options_)};
    const Profile& profile = lesson_.profile();
    RecordHeader header;
    header.kind = "practice";
    header.started = SystemClock{}.now().wall;
    header.tool_version = SWITCHWRIGHT_VERSION;
    header.operator_name = options_.learner;
    header.part = "PRACTICE, not a real part";
    header.serial = fmt::format("practice {} {}", options_.level, seed_);
    header.profile_id = profile.id;
    header.profile_title = profile.title;
    header.profile_values = profile.values;
    header.profile_text = profile.source_text;
    header.meter_id = meter_.id;
    header.meter_title = meter_.title;
    header.meter_text = meter_.source_text;
    header.port = "simulator";
    header.hands = "simulator";
    header.rule = to_string(DecisionRule::guarded);
    header.simulated = true;
    const std::string id = store.begin(header);

    Batch batch;
    std::vector<Measured> measured;
    const Wall now = SystemClock{}.now().wall;
    for (std::size_t i = 0; i < readings_.size(); ++i) {
      const Place& place = readings_[i].place;
      const int step = static_cast<int>(i) + 1;
      batch.steps.push_back({step, to_string(StepKind::measure), place.pair.first(), place.pair.second(), place.position,
                             "practice: reading chosen by the learner", now});
      batch.indications.push_back({step, 1, indications_[i], true});
      measured.push_back({place.position, place.pair, indications_[i], step, true});
    }
    batch.leads_before = leads_.before;
    batch.events.push_back({now, "practice", fmt::format("hidden: {}; named: {}; {}; {} readings", lesson_.cases()[hidden_].name,
                                                         answer ? lesson_.cases()[*answer].name : "nothing",
                                                         !answer ? "gave up" : right ? "right" : "wrong", readings_.size())});
    Verdict verdict = judge_all(profile, expectations(profile), measured, {}, meter_, leads_, {});
    verdict.headline = "Practice on a simulated switch, not a result. " + verdict.headline;
    verdict.remarks.insert(verdict.remarks.begin(), "Practice: simulated readings; no part was tested.");
    batch.verdict = verdict;
    batch.ended = now;
    store.append(id, batch);
    put_line(fmt::format("\nKept as practice {} in {}", id, store.path().string()));
  }

  const Lesson& lesson_;
  const MeterDefinition& meter_;
  PracticeOptions options_;
  std::uint64_t seed_;
  std::size_t hidden_;
  PracticeBench bench_;
  Leads leads_;
  std::vector<LessonReading> readings_;
  std::vector<Indication> indications_;
};

}  // namespace

int run(const PracticeOptions& options) {
  const std::uint64_t seed = options.seed ? *options.seed : std::random_device{}() % 1'000'000;
  std::string id = options.profile;
  if (id.empty()) {
    const auto ids = list_profiles(profile_places());
    if (ids.empty()) throw Error(ErrorKind::usage, "there is no profile", "", "give one with --profile");
    id = ids[std::mt19937_64{seed}() % ids.size()];
  }
  const MeterDefinition meter = load_meter_definition(options.meter, meter_places());
  const Lesson lesson{load_profile(id, profile_places()), meter,
                      options.level == "hard" ? LessonLevel::hard : LessonLevel::easy};
  return Exercise{lesson, meter, options, seed}.run();
}

}  // namespace switchwright::cli
