// Learning a part: the guided session of a qualification with a profile that has nothing in it, then the smallest network
// that explains what was read, written as a profile for review.
#include "switchwright/verify/learn.hpp"

#include <fmt/format.h>

#include <filesystem>

#include "cli/choices.hpp"
#include "cli/keyboard.hpp"
#include "cli/options.hpp"
#include "cli/output.hpp"
#include "switchwright/bench/interrupt.hpp"
#include "switchwright/bench/session.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/meter.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright::cli {

namespace {

std::unique_ptr<Hands> make_hands(Loop& loop, const std::string& who) {
  if (who == "person") return person_hands(loop);
  if (who.starts_with("sim:")) return simulator_hands(loop, who.substr(4));
  throw Error(ErrorKind::usage, "\"" + who + "\" are no hands", "--hands", "use person or sim:SOCKET");
}

/// What is asked for and what was read, without any judgement: there is nothing to judge by yet.
class LearnView {
 public:
  LearnView(QualifySession& session, bool person) : session_(session), person_(person) {}

  void on(const Event& event) {
    if (const auto* shown = std::get_if<StepShown>(&event)) show(*shown);
    if (const auto* settled = std::get_if<Settled>(&event); settled && person_)
      put_line(fmt::format("      settled: {}   {}", words(settled->indication),
                           settled->needs_contact_statement ? "open everywhere: c if both probes touch bare metal, p to place again"
                                                            : "Enter keeps it, r reads again"));
    if (std::get_if<Unsettled>(&event) && person_) put_line("      moved again");
    if (const auto* kept = std::get_if<Kept>(&event)) keep(*kept);
    if (const auto* note = std::get_if<Note>(&event)) put_line("      note: " + terminal_safe(note->text));
    if (const auto* link = std::get_if<LinkChanged>(&event))
      if (link->change.state != LinkState::open && link->change.state != LinkState::alive)
        put_line("      link: " + terminal_safe(link->change.detail));
  }

  void key(char c) {
    const Step* step = session_.current();
    if (!step) return;
    if (step->kind == StepKind::acknowledge) {
      if (c == 'y') session_.acknowledge(operator_name, "key at the terminal");
      return;
    }
    switch (c) {
      case '\n':
      case '\r':
      case ' ': session_.confirm(); break;
      case 'c': session_.state_contact(); break;
      case 'r': session_.redo(); break;
      case 'p': session_.reseat(); break;
      case 'b': session_.back(); break;
      case 'q': session_.stop(); break;
      default: break;
    }
  }

  std::string operator_name;

 private:
  static std::string words(const Indication& indication) {
    return indication.state == ReadingState::finite
               ? human_value(indication.value, indication.quantity, indication.resolution)
               : "open";
  }

  void show(const StepShown& shown) {
    if (!person_) return;
    put_line(fmt::format("{:>3}/{}  {}{}", shown.step.number, shown.of, shown.step.instruction,
                         shown.step.kind == StepKind::acknowledge ? "\n         y if that is so, Ctrl-C if not" : ""));
  }

  void keep(const Kept& kept) {
    if (person_) return;
    if (kept.step.kind != StepKind::measure) return;
    if (row_.empty()) row_ = fmt::format("  {:<10}", kept.step.arrangement.pair.text());
    row_ += fmt::format("  {} {:<12}", kept.step.arrangement.position, words(kept.indication));
    if (!kept.step.last_of_placement) return;
    put_line(row_.substr(0, row_.find_last_not_of(' ') + 1));
    row_.clear();
  }

  QualifySession& session_;
  bool person_;
  std::string row_;
};

std::vector<LearnReading> readings_of(const Verdict& verdict) {
  std::string missing;
  for (const Expectation& left_out : verdict.not_measured) missing += " " + left_out.pair.text() + " at " + left_out.position;
  for (const Finding& finding : verdict.findings)
    if (finding.witness == Witness::missing) missing += " " + finding.expected.pair.text() + " at " + finding.expected.position;
  if (!missing.empty())
    throw Error(ErrorKind::usage, "not everything was measured, or an open reading has no witness:" + missing, {},
                "measure the part again, and state contact where the tool asks for it");
  std::vector<LearnReading> readings;
  for (const Finding& finding : verdict.findings)
    readings.push_back({finding.expected.position, finding.expected.pair, finding.corrected, finding.U.value_or(0.0)});
  return readings;
}

LearnSubject subject_of(const LearnOptions& options, const MeterDefinition& meter) {
  LearnSubject subject;
  subject.title = options.title.empty() ? "A part, learned from its readings" : options.title;
  subject.knob = options.knob;
  subject.terminals = options.terminals;
  subject.exposed_metal = options.metal;
  subject.positions = options.positions;
  subject.beyond_ohm = meter.top_of_range(Quantity::resistance).value_or(1e7);
  subject.voltage_v = options.voltage_v;
  subject.current_a = options.current_a;
  // A profile that could not be written later is refused now, with the parser's own words.
  Learned anything;
  for (std::size_t i = 1; i < subject.terminals.size(); ++i)
    anything.contacts.push_back(
        {"c" + std::to_string(i), {subject.terminals[i - 1], subject.terminals[i]}, {subject.positions.front()}, {}});
  parse_profile(learned_toml(subject, {}, anything, "today", ""), options.output);
  return subject;
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

}  // namespace

int run(const LearnOptions& options) {
  if (!options.output.ends_with(".toml"))
    throw Error(ErrorKind::usage, "\"" + terminal_safe(options.output) + "\" does not end in .toml", "--output",
                "name it like my-part.toml");
  if (std::filesystem::exists(options.output))
    throw Error(ErrorKind::usage, terminal_safe(options.output) + " exists already", "--output", "choose another name");
  const bool person = options.hands == "person";
  if (options.acknowledge.empty() && (!person || !interactive()))
    throw Error(ErrorKind::usage, "resistance work needs the acknowledgement that the part is de-energised", "",
                "give --acknowledge de-energised when it is");
  if (options.terminals.size() < 2)
    throw Error(ErrorKind::usage, "one terminal makes no pair", "--terminals", "write them like L1,L2,H1");
  Choices choices;
  const MeterDefinition definition = choices.meter(options.meter);
  const std::string port = choices.port(options.port);
  const LearnSubject subject = subject_of(options, definition);
  const Profile provisional = provisional_profile(subject);

  Loop loop;
  const SystemClock clock;
  const auto hands = make_hands(loop, options.hands);
  EventStream events;
  QualifySession* session_ptr = nullptr;
  MeterCallbacks callbacks;
  callbacks.reading = [&](const Reading& reading) {
    if (session_ptr) session_ptr->on_reading(reading);
  };
  callbacks.link = [&](const LinkChange& change) {
    if (session_ptr) session_ptr->on_link(change);
  };
  const auto meter = open_meter(loop, clock, definition, port, callbacks);
  SessionSettings settings;
  settings.settle.for_s = parse_time(options.settle);
  settings.patience_s = parse_time(options.patience);
  if (!options.acknowledge.empty()) settings.acknowledged_by = options.operator_name;
  RecordHeader header;
  header.kind = "learn";
  QualifySession session{provisional, definition, settings, header, clock, *hands,
                         [&](Quantity quantity) { meter->select(quantity); }, events};
  session_ptr = &session;
  LearnView view{session, person};
  view.operator_name = options.operator_name;
  events.subscribe([&](const Event& event, Instant) { view.on(event); });
  events.subscribe([&](const Event&, Instant) {
    if (session.ended()) loop.post([&] { loop.stop(); });
  });
  std::optional<Keyboard> keyboard;
  if (person) keyboard.emplace(loop, [&](char c) { view.key(c); }, [&] { session.stop(); });
  const Interrupt interrupt{loop, [&] { session.stop(); }};
  Loop::Timer tick;
  std::function<void()> ticking = [&] {
    session.on_tick();
    tick = loop.after(std::chrono::milliseconds{100}, ticking);
  };
  ticking();
  put_line("Learning a known-good part: every pair of terminals at every position. What is wrong with this part becomes the rule.");
  loop.post([&] { session.start(); });
  loop.run();
  keyboard.reset();
  meter->stop();
  if (session.stopped_kind() == "operator") throw Error(ErrorKind::interrupted, "stopped; nothing was written");
  if (!session.stopped_kind().empty()) throw Error(ErrorKind::meter, session.stopped_text(), port, "nothing was written");

  const auto readings = readings_of(*session.verdict());
  const Learned learned = learn(subject, readings);
  show(learned);
  const std::string by = "meter definition " + definition.id +
                         (options.operator_name.empty() ? "" : " by " + options.operator_name) +
                         (person ? "" : ", on the SIMULATOR: not a real part");
  const std::string toml =
      learned_toml(subject, readings, learned, iso8601(clock.now().wall).substr(0, 10), by);
  auto doubtful = learned.unexplained;
  if (doubtful.empty()) doubtful = outside_of(parse_profile(toml, options.output), readings, subject.beyond_ohm);
  if (!doubtful.empty()) {
    put_line("\nNo network of contacts and resistors gives these readings; nothing was written:");
    for (const LearnReading& reading : doubtful)
      put_line(fmt::format("  {} at {}: {}", reading.pair.text(), reading.position, reading.ohm ? human_ohm(*reading.ohm) : "open"));
    put_line("Measure these again: a probe or the knob may have been elsewhere.");
    return 3;
  }
  write_file_durably(options.output, toml);
  put_line("\nWritten to " + options.output + ". Read it, correct it, then see: switchwright profiles " + options.output);
  return 0;
}

}  // namespace switchwright::cli
