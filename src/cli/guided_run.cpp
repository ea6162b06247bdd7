#include "cli/guided_run.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "cli/choose/claim.hpp"
#include "cli/choose/places.hpp"
#include "cli/output.hpp"
#include "cli/run_session.hpp"
#include "cli/view/operator_keys.hpp"
#include "switchwright/bench/running_session.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/meter.hpp"
#include "switchwright/meter/typed.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright::cli {

namespace {
constexpr std::string_view simulator_prefix = "sim:";
}

bool are_simulated(const std::string& hands) { return hands.starts_with(simulator_prefix); }

std::unique_ptr<Hands> make_hands(Loop& loop, const std::string& who) {
  if (who == "person") return person_hands(loop);
  if (are_simulated(who)) return simulator_hands(loop, who.substr(simulator_prefix.size()));
  throw Error(ErrorKind::usage, "\"" + who + "\" are no hands", "--hands",
              "use person or sim:SOCKET; qualify also takes scanner:FILE.toml");
}

GuidedEnd run_guided(Store& store, GuidedWork work) {
  Loop loop;
  const SystemClock clock;
  EventStream events;
  QualifySession* session_ptr = nullptr;
  MeterCallbacks callbacks;
  callbacks.reading = [&](const Reading& reading) {
    if (session_ptr) session_ptr->on_reading(reading);
  };
  callbacks.link = [&](const LinkChange& change) {
    if (session_ptr) session_ptr->on_link(change);
  };
  const auto meter = open_meter(loop, clock, work.meter, work.port, callbacks);
  const auto hands = make_hands(loop, work.hands);
  // What a session refuses to begin with (a current that cannot decide) leaves no empty record.
  QualifySession{work.profile, work.meter, work.settings, work.header, clock, *hands, [](Quantity) {}, events};
  if (!work.earlier) {
    work.header.id = store.begin(work.header);
    Batch setup;
    setup.results.push_back(work.setup);
    store.append(work.header.id, setup);
    if (work.begun) work.begun(work.header.id);
  }
  QualifySession session{work.profile,
                         work.meter,
                         work.settings,
                         work.header,
                         clock,
                         *hands,
                         [&](Quantity quantity) { meter->select(quantity); },
                         events};
  session_ptr = &session;
  const auto view = work.view(session);
  std::function<void(char)> key;
  if (work.hands == "person") key = work.keys_to_view ? [&](char c) { view->key(c); } : line_keys(session);
  run_session({loop, store, events, *meter, session, *view, work.header.id, key, work.earlier});
  return {work.header.id, session.verdict(), session.completed(), session.stopped_kind(), session.stopped_text()};
}

std::vector<RecordSummary> resumable(const Store& store, const std::function<bool(RecordKind)>& wanted) {
  auto records = store.unfinished();
  std::erase_if(records,
                [&](const RecordSummary& record) { return !wanted(record.kind) || store.is_taken(record.id); });
  return records;
}

Record take_up(Store& store, const std::string& id, const std::function<bool(RecordKind)>& wanted) {
  std::string named = id;
  if (id == "latest") {
    const auto choices = resumable(store, wanted);
    if (choices.empty())
      throw Error(ErrorKind::usage, "no record of this kind is unfinished, but for what others are writing just now",
                  store.path().string(), "start a new one without --resume");
    named = choices.front().id;
  } else {
    named = store.load(id).header.id;  // its beginning may do
  }
  store.take_up(named);
  return store.load(named);  // as it stands now that nobody else can write it
}

Record unfinished_record(Store& store, const std::string& id, RecordKind kind) {
  Record record = take_up(store, id, [&](RecordKind other) { return other == kind; });
  if (record.header.kind != kind)
    throw Error(
        ErrorKind::usage,
        "record " + record.header.id + " is of kind " + to_string(record.header.kind) + ", not " + to_string(kind),
        "--resume", "list them with: switchwright records");
  return record;
}

Profile profile_in(const Record& record) {
  Profile profile = parse_profile(record.header.profile_text, record.header.profile_id);
  profile.id = record.header.profile_id;
  return profile;
}

MeterDefinition meter_in(const Record& record) {
  MeterDefinition meter = parse_meter_definition(record.header.meter_text, record.header.meter_id);
  meter.id = record.header.meter_id;
  return meter;
}

void require_as_begun(const RecordHeader& begun, const std::string& option, const std::string& stated,
                      const std::string& at_the_beginning) {
  if (stated.empty() || stated == at_the_beginning) return;
  throw Error(
      ErrorKind::usage,
      fmt::format("record {} was begun with {}, and all of it is judged by one: \"{}\" is another", begun.id,
                  at_the_beginning.empty() ? "nothing stated here" : "\"" + terminal_safe(at_the_beginning) + "\"",
                  terminal_safe(stated)),
      option, "leave " + option + " away to go on, or begin anew without --resume");
}

Profile profile_to_go_on_with(const Record& record, const std::string& named) {
  // Of a part that stays wired the record's profile is the library's with what it is wired to behind it.
  if (!named.empty() && !record.header.profile_text.starts_with(load_profile(named, profile_places()).source_text))
    throw Error(ErrorKind::usage,
                fmt::format("record {} was begun with the profile {} as it read then, and {} reads otherwise",
                            record.header.id, terminal_safe(record.header.profile_id), terminal_safe(named)),
                "--profile",
                "leave --profile away to go on by the profile in the record, or begin anew without --resume");
  return profile_in(record);
}

MeterDefinition meter_to_go_on_with(const Record& record, const std::string& named) {
  const auto text_of = [](const std::string& id) {
    return (is_typed(id) ? typed_definition(id, meter_places()) : load_meter_definition(id, meter_places()))
        .source_text;
  };
  if (!named.empty() &&
      (is_typed(named) != is_typed(record.header.meter_id) || text_of(named) != record.header.meter_text))
    throw Error(
        ErrorKind::usage,
        fmt::format("record {} was begun with the meter definition {} as it read then, and {} reads otherwise: one "
                    "record holds one meter's readings",
                    record.header.id, terminal_safe(record.header.meter_id), terminal_safe(named)),
        "--meter", "leave --meter away to go on with the same meter, or begin anew without --resume");
  return meter_in(record);
}

RecordHeader header_for(RecordKind kind, const Profile& profile, const MeterDefinition& meter, const std::string& port,
                        const std::string& hands) {
  const bool simulated = are_simulated(hands);
  RecordHeader header = header_of(kind, profile, meter, port, simulated ? "simulator" : "person", simulated);
  stamp_zone(header);
  return header;
}

void require_de_energised(const std::vector<std::string>& acknowledged, const std::string& hands,
                          const std::string& when) {
  if (!acknowledged.empty() || (hands == "person" && interactive())) return;
  throw Error(ErrorKind::usage, "the acknowledgement that the part is de-energised is missing", "",
              "give --acknowledge de-energised when " + when);
}

}  // namespace switchwright::cli
