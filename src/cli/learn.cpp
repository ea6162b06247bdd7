// Learning a part: a guided session with nothing to judge by, then the smallest network that explains what
// was read, written as a profile for review. The record holds every reading, so that the profile can be
// written again from it.
#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "cli/choose/choices.hpp"
#include "cli/choose/claim.hpp"
#include "cli/choose/places.hpp"
#include "cli/guided_run.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/plain_views.hpp"
#include "switchwright/bench/learning.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/core/words.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright::cli {

namespace {

void require_new_toml(const std::string& output) {
  if (!output.ends_with(".toml"))
    throw Error(ErrorKind::usage, "\"" + terminal_safe(output) + "\" does not end in .toml", "--output",
                "name it like my-part.toml");
  if (std::filesystem::exists(output))
    throw Error(ErrorKind::usage, terminal_safe(output) + " exists already", "--output", "choose another name");
}

LearnSubject subject_from(const LearnOptions& options, const MeterDefinition& meter) {
  if (options.terminals.size() + options.metal.size() < 2)
    throw Error(ErrorKind::usage, "one terminal makes no pair", "--terminals", "write them like L1,L2,H1");
  if (options.positions.empty())
    throw Error(ErrorKind::usage, "the positions are missing", "--positions",
                "write them in the order of the knob: off,low,high");
  LearnSubject subject;
  subject.title = options.title.empty() ? "A part, learned from its readings" : options.title;
  subject.knob = options.knob;
  subject.terminals = options.terminals;
  subject.exposed_metal = options.metal;
  subject.positions = options.positions;
  subject.beyond_ohm = meter.top_of_range(Quantity::resistance).value_or(1e7);
  subject.voltage_v = options.voltage_v;
  subject.current_a = options.current_a;
  return subject;
}

/// Names and numbers that no profile can have are refused before the work, in the parser's own words.
Profile provisional(const LearnSubject& subject) {
  Profile profile = parse_profile(provisional_toml(subject), "what-was-given.toml");
  profile.id = "learning";
  return profile;
}

/// The record with everything read: a new one, or one gone on with.
Record measured(Store& store, const LearnOptions& options, std::optional<Record> earlier) {
  Choices choices;
  MeterDefinition meter;
  LearnSubject subject;
  if (earlier) {
    meter = meter_to_go_on_with(*earlier, options.meter);
    subject = subject_of(*earlier);
  } else {
    meter = choices.meter(options.meter);
    subject = subject_from(options, meter);
  }
  const Profile profile = provisional(subject);
  require_de_energised(options.acknowledge, options.hands, "it is");
  const bool asked_before = earlier && !earlier->header.simulated;
  const std::string port = choices.port(options.port.empty() && asked_before ? earlier->header.port : options.port);

  SessionSettings settings;
  settings.measure_only = true;
  settings.settle.for_s = options.settle_s;
  settings.patience_s = options.patience_s;
  settings.cost = load_route_cost("person", profile_places());
  if (!options.acknowledge.empty()) settings.acknowledged_by = named_operator(options.operator_name);
  RecordHeader header = earlier ? earlier->header : header_for(RecordKind::learn, profile, meter, port, options.hands);
  if (!earlier) {
    header.part = subject.title;
    header.operator_name = options.hands == "person"
                               ? named_operator(choices.text("operator", "Operator", options.operator_name))
                               : options.operator_name;
    header.rule.clear();  // nothing is judged
  }
  const bool screen = options.hands == "person" && interactive();
  if (!screen)
    put_line(
        "Learning a known-good part: every pair of terminals at every position. What is wrong with this part "
        "becomes the rule.");
  const GuidedEnd end = run_guided(
      store,
      {profile, meter, port, options.hands, header, result_of(subject), settings, earlier,
       [&](QualifySession& session) { return screen ? make_person_view(session) : make_learn_lines(); }, screen});
  const std::string go_on =
      "switchwright profiles learn --resume " + end.record_id + " --output " + shell_word(options.output);
  if (end.stopped_kind == "operator")
    throw Error(ErrorKind::interrupted, "stopped; what was measured is kept", "", "go on with: " + go_on);
  if (!end.completed)
    throw Error(ErrorKind::meter, end.stopped_text, port, "what was measured is kept; go on with: " + go_on);
  return store.load(end.record_id);
}

void show(const Learned& learned) {
  put_line("\nThe smallest network found:");
  for (const Contact& contact : learned.contacts)
    put_line(fmt::format("  contact  {:<10} closed at {}", contact.between.text(), joined_with_and(contact.closed_at)));
  for (const Element& element : learned.elements)
    put_line(fmt::format("  element  {:<10} {}", element.between.text(), human_ohm(element.nominal_ohm)));
  if (learned.contacts.empty() && learned.elements.empty()) put_line("  nothing: every pair is open at every position");
  if (!learned.ambiguities.empty()) put_line("What the readings leave open:");
  for (const std::string& text : learned.ambiguities) put_line("  - " + text);
}

int refuse(const Record& record, const std::vector<LearnReading>& doubtful, const std::string& output) {
  put_line("\nNo network of contacts and resistors gives these readings; no profile was written:");
  for (const LearnReading& reading : doubtful)
    put_line(fmt::format("  {} at {}: {}", reading.pair.text(), reading.position,
                         reading.ohm ? human_ohm(*reading.ohm) : "open"));
  put_line("A probe or the knob may have been elsewhere. Measure these pairs again with:");
  put_line("  switchwright profiles learn --resume " + record.header.id + " --output " + shell_word(output));
  put_line("If they read the same again, another pair was wrong: learn the part anew.");
  return 3;
}

std::vector<Pair> pairs_of(const std::vector<LearnReading>& readings) {
  std::vector<Pair> pairs;
  for (const LearnReading& reading : readings) pairs.push_back(reading.pair);
  return pairs;
}

bool is_learned(const Record& record) { return last_of<LearnedPart>(record.results) != nullptr; }

void keep(Store& store, const Record& record, const LearnedProfile& learned) {
  if (is_learned(record)) return;
  Batch batch;
  batch.results.push_back(result_of(learned.part));
  batch.ended = SystemClock{}.now().wall;
  store.append(record.header.id, batch);
}

}  // namespace

int run(const LearnOptions& options) {
  require_new_toml(options.output);
  Store store{store_place(options.store)};
  std::optional<Record> earlier;
  if (!options.resume.empty()) earlier = unfinished_record(store, options.resume, RecordKind::learn);

  Record record;
  if (earlier && is_all_read(*earlier)) {
    record = *earlier;
    const auto doubtful = learn_from(record, options.output).doubtful;
    if (!doubtful.empty()) record = measured(store, options, without_pairs(record, pairs_of(doubtful)));
  } else {
    record = measured(store, options, earlier);
  }

  const LearnedProfile learned = learn_from(record, options.output);
  if (!learned.doubtful.empty()) return refuse(record, learned.doubtful, options.output);
  show(learned.part.learned);
  keep(store, record, learned);
  say("record " + record.header.id + " in " + store.path().string());
  write_file_durably(options.output, learned.part.profile);
  put_line("\nWritten to " + terminal_safe(options.output) + ". Read it, correct it, then see: switchwright profiles " +
           shell_word(options.output));
  if (!options.voltage_v || !options.current_a)
    put_line("It is unfinished: its rating is not stated. Write what is stamped on the part under [rating].");
  return 0;
}

}  // namespace switchwright::cli
