// The guided millivolt drop: a known direct current through one closed contact after another, the meter across it. The
// current is set by a person on a bench supply; the tool switches nothing.
#include "switchwright/verify/drop.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "cli/choices.hpp"
#include "cli/options.hpp"
#include "cli/output.hpp"
#include "cli/places.hpp"
#include "cli/settled_reader.hpp"
#include "switchwright/bench/event.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright::cli {

namespace {

using Json = nlohmann::ordered_json;

constexpr const char* safe_words =
    "The part is disconnected from the mains and from every appliance. The current comes from an isolated bench supply "
    "of at most 12 V with its current limit set, switched off while clips are moved; I am trained for this work. Local "
    "codes and licensed practice come first.";

struct Measurement {
  const Contact* contact;
  Indication forth;
  std::optional<Indication> back;
  Drop drop;
};

/// The position where most contacts conduct; the first of them.
std::string best_position(const Profile& profile, const std::string& wanted) {
  if (!wanted.empty()) {
    if (profile.position(wanted)) return wanted;
    std::vector<std::string> known;
    for (const Position& position : profile.positions) known.push_back(position.id);
    throw Error(ErrorKind::usage, "no position is called \"" + terminal_safe(wanted) + "\"", "--position",
                suggestion(wanted, known));
  }
  const auto closed = [&](const Position& position) {
    return std::count_if(profile.contacts.begin(), profile.contacts.end(),
                         [&](const Contact& c) { return c.conducts_at(position.id); });
  };
  return std::max_element(profile.positions.begin(), profile.positions.end(),
                          [&](const Position& a, const Position& b) { return closed(a) < closed(b); })
      ->id;
}

class Check {
 public:
  Check(const DropOptions& options, Profile profile, MeterDefinition meter, const std::string& port)
      : options_(options),
        profile_(std::move(profile)),
        meter_(std::move(meter)),
        current_(parse_current(options.current)),
        position_(best_position(profile_, options.position)),
        reader_(loop_, meter_, port, options.hands, parse_time(options.settle)),
        port_(port) {
    if (current_.amps > profile_.rating.current_a)
      throw Error(ErrorKind::usage, fmt::format("{:g} A is more than the part's rating of {:g} A", current_.amps,
                                                profile_.rating.current_a),
                  "--current", "use less");
  }

  int run() {
    introduce();
    for (const Contact& contact : profile_.contacts)
      if (contact.conducts_at(position_) && reachable(contact)) measure(contact);
    if (done_.empty())
      throw Error(ErrorKind::usage, "no contact of " + profile_.id + " is closed at " + position_ + " between two terminals",
                  "--position", "choose another");
    return conclude();
  }

 private:
  bool reachable(const Contact& contact) const {
    const auto nodes = profile_.nodes();
    return std::find(nodes.begin(), nodes.end(), contact.between.first()) != nodes.end() &&
           std::find(nodes.begin(), nodes.end(), contact.between.second()) != nodes.end();
  }

  void say_line(const std::string& line) const {
    if (!options_.json) put_line(line);
  }

  void introduce() {
    say_line(fmt::format("Millivolt drop of {} at {}, {:g} A +/- {:g} A, meter {}", profile_.id, position_, current_.amps,
                         current_.U_amps, meter_.id));
    say_line("  Current through the clips of the supply, the meter's probes on the tabs inside them: so no lead is in the reading.");
    if (!options_.acknowledge.empty()) return;
    put_line(safe_words);
    if (ask_line("Is that so? Type yes: ") != "yes") throw Error(ErrorKind::interrupted, "not acknowledged; nothing was measured");
  }

  Indication take(const Contact& contact, const std::string& how) {
    if (reader_.person()) {
      put_line(fmt::format("\n{} at {}. {} Current {:g} A between {} and {}; probes on the same two tabs; meter on DC millivolts.",
                           profile_.knob, position_, how, current_.amps, contact.between.first(), contact.between.second()));
      ask_line("  Enter when the current flows: ");
    }
    const Indication indication =
        reader_.take({Probes::on_pair, contact.between, position_, Quantity::voltage_dc});
    if (reader_.person()) put_line("  read " + human_value(indication.value, indication.quantity, indication.resolution));
    return indication;
  }

  void measure(const Contact& contact) {
    Measurement measured{&contact, take(contact, ""), std::nullopt, {}};
    if (options_.reversed) measured.back = take(contact, "Supply off, clips exchanged, supply on again.");
    const double limit = profile_.limits.sound_max_ohm;
    measured.drop = judge_drop(contact.id, measured.forth, measured.back, current_, limit, meter_);
    if (options_.json) {
      Json json{{"type", "drop"},
                {"contact", contact.id},
                {"position", position_},
                {"pair", {contact.between.first(), contact.between.second()}},
                {"drop_v", measured.drop.drop_v},
                {"current_a", current_.amps},
                {"ohm", measured.drop.ohm},
                {"U_ohm", measured.drop.U_ohm},
                {"limit_ohm", limit},
                {"spot_at_most_c", measured.drop.spot_c}};
      if (measured.drop.thermal_v) json["thermal_v"] = *measured.drop.thermal_v;
      json["outcome"] = to_string(measured.drop.outcome);
      json["text"] = measured.drop.sentence;
      put_line(json.dump());
    }
    say_line("  " + measured.drop.sentence);
    done_.push_back(std::move(measured));
  }

  Finding finding_of(const Measurement& measured) const {
    Finding finding;
    finding.expected = expectation(profile_, position_, measured.contact->between);
    finding.indication = measured.forth;
    finding.indication.quantity = Quantity::resistance_4_wire;  // voltmeter and ammeter: no lead is in it
    finding.indication.value = measured.drop.ohm;
    finding.indication.resolution = measured.forth.resolution / current_.amps;
    finding.indication.beyond.reset();
    finding.corrected = measured.drop.ohm;
    finding.U = measured.drop.U_ohm;
    finding.outcome = measured.drop.outcome;
    finding.sound = measured.drop.outcome;
    if (measured.drop.outcome == Outcome::fail) {
      finding.kind = DeviationKind::high_resistance;
      finding.severity = Severity::major;
    }
    finding.sentence = measured.drop.sentence;
    return finding;
  }

  Verdict verdict() const {
    Verdict verdict;
    verdict.outcome = Outcome::pass;
    int sound = 0;
    for (const Measurement& measured : done_) {
      verdict.findings.push_back(finding_of(measured));
      sound += measured.drop.outcome == Outcome::pass;
      if (measured.drop.outcome == Outcome::fail)
        verdict.outcome = Outcome::fail;
      else if (measured.drop.outcome == Outcome::undecided && verdict.outcome == Outcome::pass)
        verdict.outcome = Outcome::undecided;
    }
    std::string word = to_string(verdict.outcome);
    word[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(word[0])));
    verdict.headline = fmt::format("{}: {} of {} contacts sound by their millivolt drop at {:g} A.", word, sound, done_.size(),
                                   current_.amps);
    verdict.remarks = {fmt::format("Only the millivolt drop of contacts closed at {} was measured, nothing else of the part.",
                                   position_),
                       fmt::format("Known current {:g} A, U = {:g} A (k = 2), as stated by the operator.", current_.amps,
                                   current_.U_amps),
                       options_.reversed ? "The current was reversed: thermal voltages are taken out (ASTM B539)."
                                         : "The current was not reversed: a thermal voltage would be in the drop."};
    return verdict;
  }

  int conclude() {
    const Verdict result = verdict();
    const std::string id = keep(result);
    if (options_.json)
      put_line(Json{{"type", "verdict"}, {"record", id}, {"verdict", to_string(result.outcome)}, {"text", result.headline}}.dump());
    say_line("\n" + result.headline);
    if (!options_.json) say("record " + id);
    return result.outcome == Outcome::pass ? 0 : result.outcome == Outcome::fail ? 1 : 3;
  }

  std::string keep(const Verdict& result) {
    Store store{store_place(options_.store)};
    const Wall now = SystemClock{}.now().wall;
    RecordHeader header;
    header.kind = "drop";
    header.started = now;
    header.tool_version = SWITCHWRIGHT_VERSION;
    header.operator_name = options_.operator_name;
    header.part = options_.part;
    header.serial = options_.serial;
    header.profile_id = profile_.id;
    header.profile_title = profile_.title;
    header.profile_values = profile_.values;
    header.profile_text = profile_.source_text;
    header.meter_id = meter_.id;
    header.meter_title = meter_.title;
    header.meter_text = meter_.source_text;
    header.port = port_;
    header.hands = reader_.person() ? "person" : "simulator";
    header.rule = to_string(DecisionRule::guarded);
    header.simulated = !reader_.person();
    const std::string id = store.begin(header);
    Batch batch;
    batch.acknowledgements.push_back({now, "de-energised", options_.operator_name,
                                      options_.acknowledge.empty() ? "typed at the terminal" : "option --acknowledge de-energised",
                                      safe_words});
    int step = 0;
    const auto add = [&](const Measurement& measured, const Indication& indication, const char* how) {
      ++step;
      batch.steps.push_back({step, "drop", measured.contact->between.first(), measured.contact->between.second(), position_,
                             fmt::format("{:g} A through {}{}", current_.amps, measured.contact->id, how), indication.from.wall});
      batch.indications.push_back({step, 1, indication, false});
    };
    for (const Measurement& measured : done_) {
      add(measured, measured.forth, "");
      if (measured.back) add(measured, *measured.back, ", reversed");
    }
    batch.verdict = result;
    batch.ended = SystemClock{}.now().wall;
    store.append(id, batch);
    return id;
  }

  const DropOptions& options_;
  Profile profile_;
  MeterDefinition meter_;
  KnownCurrent current_;
  std::string position_;
  Loop loop_;
  SettledReader reader_;
  std::string port_;
  std::vector<Measurement> done_;
};

}  // namespace

int run(const DropOptions& options) {
  if (options.acknowledge.empty() && (options.hands != "person" || !interactive()))
    throw Error(ErrorKind::usage, "the acknowledgement that the part is de-energised is missing", "",
                "give --acknowledge de-energised when it is disconnected and the supply is a current-limited low-voltage one");
  if (options.json && options.hands == "person")
    throw Error(ErrorKind::usage, "a person is led in words", "--json", "leave --json out, or use other hands");
  Choices choices;
  Profile profile = choices.profile(options.profile);
  MeterDefinition meter = choices.meter(options.meter);
  if (!meter.finest(Quantity::voltage_dc))
    throw Error(ErrorKind::usage, "the definition " + meter.id + " has no accuracy for DC volts", "--meter",
                "add its DC volts rows, or use another meter");
  const std::string port = choices.port(options.port);
  return Check{options, std::move(profile), std::move(meter), port}.run();
}

}  // namespace switchwright::cli
