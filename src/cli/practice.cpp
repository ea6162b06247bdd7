// Training on a switch with a fault that nobody is told. The simulator runs in this process and is reached
// like any other bench: readings through its pseudo-terminal, hands through its socket.
#include <filesystem>
#include <random>

#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/practice_bench.hpp"
#include "cli/view/practice_view.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/train/practice_record.hpp"

namespace switchwright::cli {

namespace {

std::filesystem::path practice_store(const PracticeOptions& options) {
  return options.store.empty() ? default_store_path().parent_path() / "practice.sqlite"
                               : std::filesystem::path{options.store};
}

/// The profile asked for, or one drawn by the seed.
std::string profile_id(const PracticeOptions& options, std::uint64_t seed) {
  if (!options.profile.empty()) return options.profile;
  const auto ids = list_profiles(profile_places());
  if (ids.empty()) throw Error(ErrorKind::usage, "there is no profile", "", "give one with --profile");
  return ids[std::mt19937_64{seed}() % ids.size()];
}

class Practice {
 public:
  Practice(const Lesson& lesson, const PracticeOptions& options, std::uint64_t seed)
      : exercise_(lesson, seed),
        record_(practice_store(options), exercise_, options.level, options.learner, SWITCHWRIGHT_VERSION),
        bench_(exercise_.hidden_part(), lesson.meter(), exercise_.hidden_faults(), seed),
        view_(exercise_, options.level == "easy", options.led) {}

  int run() {
    view_.introduce();
    Leads leads;
    leads.before = bench_.take({Probes::shorted, {}, "", Quantity::resistance});
    exercise_.set_leads(leads);
    std::optional<std::size_t> answer;
    bool gave_up = false;
    while (!answer && !gave_up) {
      const std::string line = view_.ask();
      try {
        answer = obey(line, gave_up);
      } catch (const Error& error) {
        if (error.kind() != ErrorKind::usage) throw;
        view_.say(error.what_happened() + (error.what_next().empty() ? "" : "; " + error.what_next()));
      }
    }
    const Judgement judgement = exercise_.judged(answer);
    view_.explain(judgement);
    record_.conclude(exercise_, judgement);
    put_line("\nKept as practice " + record_.id() + " in " + record_.path().string());
    return !answer ? 3 : judgement.right() ? 0 : 1;
  }

 private:
  std::optional<std::size_t> obey(const std::string& line, bool& gave_up) {
    const std::string first = line.substr(0, line.find(' '));
    if (line.empty()) {
      if (const auto next = exercise_.next())
        take(next->place);
      else
        view_.nothing_tells_more();
    } else if (first == "name") {
      return exercise_.lesson().named(line.size() > 5 ? line.substr(5) : "");
    } else if (first == "give" || first == "quit") {
      gave_up = true;
    } else if (first == "table") {
      view_.show_table();
    } else if (first == "faults") {
      view_.show_faults();
    } else if (first == "help" || first == "?") {
      view_.show_help();
    } else {
      take(exercise_.lesson().place_named(line));
    }
    return std::nullopt;
  }

  void take(const Place& place) {
    exercise_.add(place, bench_.take({Probes::on_pair, place.pair, place.position, Quantity::resistance}));
    record_.keep_reading(exercise_);
    view_.show_reading();
  }

  Exercise exercise_;
  PracticeRecord record_;
  PracticeBench bench_;
  PracticeView view_;
};

}  // namespace

int run(const PracticeOptions& options) {
  const std::uint64_t seed = options.seed ? *options.seed : std::random_device{}() % 1'000'000;
  const MeterDefinition meter = load_meter_definition(options.meter, meter_places());
  const Lesson lesson{load_profile(profile_id(options, seed), profile_places()), meter,
                      options.level == "hard" ? LessonLevel::hard : LessonLevel::easy,
                      load_knowledge(profile_places())};
  return Practice{lesson, options, seed}.run();
}

}  // namespace switchwright::cli
