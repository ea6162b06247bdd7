#include "page/guided_choice.hpp"

#include <fmt/format.h>

#include "switchwright/bench/stated_range.hpp"
#include "switchwright/meter/own.hpp"
#include "switchwright/meter/typed.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright::page {

namespace {

DropTask drop_task(const Json& command, const Profile& profile) {
  const std::string current = text_of(command, "current");
  if (current.empty()) throw Refusal("Which current does the supply give? Write it like 1A@1%.");
  DropTask task{parse_current(current), drop_position(profile, text_of(command, "position")),
                command.value("reversed", false)};
  if (task.current.amps > profile.rating.current_a)
    throw Refusal(
        fmt::format("{:g} A is more than the part's rating of {:g} A.", task.current.amps, profile.rating.current_a));
  return task;
}

/// What an unfinished record was begun with; only the port may be another one now.
GuidedChoice resumed(const WorkPlace& place, const Json& command, const std::string& id) {
  const Store store{place.settings.store};
  GuidedChoice choice;
  choice.earlier = store.load(id);
  const RecordHeader& header = choice.earlier->header;
  if (choice.earlier->verdict) throw Refusal("Record " + header.id + " is finished; begin a new one.");
  if (header.kind != RecordKind::qualify && header.kind != RecordKind::qualify_powered)
    throw Refusal("A record of this kind is gone on with in a terminal.");
  if (header.simulated != (place.demo != nullptr))
    throw Refusal("A simulated part and a real one are not the same part.");
  choice.kind = to_string(header.kind);
  choice.part = header.part;
  choice.serial = header.serial;
  choice.operator_name = header.operator_name;
  choice.plan = header.plan;
  choice.range = header.stated_range;
  choice.profile = parse_profile(header.profile_text, header.profile_id);
  choice.profile.id = header.profile_id;
  choice.meter = parse_meter_definition(header.meter_text, header.meter_id);
  choice.meter.id = header.meter_id;
  choice.port = text_of(command, "port");
  if (choice.port.empty()) choice.port = header.port;
  if (place.demo) choice.port = place.demo->port();
  return choice;
}

/// What other instruments said, one text for each requirement of the profile. @throws Error, Refusal.
void read_stated(const Json& command, GuidedChoice& choice) {
  const auto all = command.find("stated");
  if (all == command.end() || !all->is_object()) return;
  for (const auto& [id, text] : all->items()) {
    if (!text.is_string()) throw Refusal("What was stated for " + id + " is no text.");
    if (const std::string said = text_of(*all, id.c_str()); !said.empty())
      choice.stated.push_back(parse_stated(id + "=" + said, choice.profile));
  }
}

/// The next unit of a lot: part, profile and meter are the lot's.
GuidedChoice lot_unit_choice(const WorkPlace& place, const Json& command) {
  GuidedChoice choice;
  Store store{place.settings.store};
  const std::string lot_id = text_of(command, "lot");
  if (lot_id.empty()) throw Refusal("Which lot?");
  note_finished(store, lot_id);
  const Record lot = store.load(lot_id);
  choice.lot = next_lot_unit(lot, text_of(command, "serial"), place.demo != nullptr);
  if (!choice.lot->open_record.empty()) {
    GuidedChoice open = resumed(place, command, choice.lot->open_record);
    open.lot = choice.lot;
    return open;
  }
  choice.kind = "qualify";
  choice.part = lot.header.part;
  choice.serial = choice.lot->row.serial;
  choice.operator_name = text_of(command, "operator");
  if (choice.operator_name.empty()) throw Refusal("Who does the work? The record names the operator.");
  choice.lot->row.operator_name = choice.operator_name;
  choice.plan = choice.lot->row.plan;
  choice.own = text_of(command, "own");
  choice.range = text_of(command, "range");
  choice.by_itself = place.demo != nullptr && command.value("by_itself", false);
  choice.profile = parse_profile(lot.header.profile_text, lot.header.profile_id);
  choice.profile.id = lot.header.profile_id;
  choice.meter = place.demo ? place.demo->meter() : parse_meter_definition(lot.header.meter_text, lot.header.meter_id);
  if (!place.demo) choice.meter.id = lot.header.meter_id;
  choice.port = place.demo ? place.demo->port() : text_of(command, "port");
  if (choice.port.empty()) throw Refusal("Which port is the meter at?");
  if (!choice.range.empty()) (void)stated_range_remark(choice.range, choice.meter);
  read_stated(command, choice);
  return choice;
}

}  // namespace

GuidedChoice guided_choice(const WorkPlace& place, const Json& command) {
  if (const std::string id = text_of(command, "resume"); !id.empty()) return resumed(place, command, id);
  if (text_of(command, "work") == "lot-unit") return lot_unit_choice(place, command);
  GuidedChoice choice;
  choice.purpose = command;
  choice.kind = text_of(command, "work");
  choice.part = text_of(command, "part");
  choice.serial = text_of(command, "serial");
  choice.operator_name = text_of(command, "operator");
  choice.plan = text_of(command, "plan");
  choice.own = text_of(command, "own");
  choice.range = text_of(command, "range");
  choice.live_moves = command.value("live_moves", false);
  choice.by_itself = place.demo != nullptr && command.value("by_itself", false);
  if (choice.plan != "" && choice.plan != "full" && choice.plan != "short" && choice.plan != "adaptive")
    throw Refusal("There is no such plan.");
  if (place.demo) {
    choice.profile = place.demo->profile();
    choice.meter = place.demo->meter();
    choice.port = place.demo->port();
  } else {
    choice.profile = load_profile(text_of(command, "profile"), place.settings.profiles);
    const std::string meter = text_of(command, "meter");
    choice.meter = is_typed(meter) ? typed_definition(meter, place.settings.meters)
                                   : load_meter_definition(meter, place.settings.meters);
    choice.port = is_typed(meter) ? std::string{typed_word} : text_of(command, "port");
    if (choice.port.empty()) throw Refusal("Which port is the meter at?");
  }
  read_stated(command, choice);
  if (choice.operator_name.empty()) throw Refusal("Who does the work? The record names the operator.");
  if (!choice.range.empty()) (void)stated_range_remark(choice.range, choice.meter);  // refused before anything is begun
  if ((choice.kind == "qualify-powered" || choice.kind == "powered") && !choice.profile.powered)
    throw Refusal("The profile " + choice.profile.id + " says nothing about power.");
  if (choice.kind == "powered") {
    const Store store{place.settings.store};
    choice.cold = cold_proof(store, text_of(command, "cold"), {choice.profile, choice.serial, place.demo != nullptr},
                             place.clock.now().wall);
  }
  if (choice.kind == "drop") {
    if (!choice.meter.finest(Quantity::voltage_dc))
      throw Refusal("The definition " + choice.meter.id + " has no accuracy for DC volts; use another meter.");
    choice.drop = drop_task(command, choice.profile);
  }
  return choice;
}

}  // namespace switchwright::page
