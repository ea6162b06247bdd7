// A guided session from begin to end for commands that are one: record, meter, hands, session, recorder, view
// and keys on one loop. The command says what is done; how a session runs is the same for all.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "cli/view/views.hpp"
#include "switchwright/bench/session.hpp"
#include "switchwright/core/loop.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright::cli {

struct GuidedWork {
  const Profile& profile;
  const MeterDefinition& meter;
  std::string port;
  std::string hands;    ///< "person" or sim:SOCKET
  RecordHeader header;  ///< of a new record, without id; of the earlier one when resumed
  WorkResult setup;     ///< a new record's first result, kind "setup"
  SessionSettings settings;
  std::optional<Record> earlier;
  std::function<std::unique_ptr<View>(QualifySession&)> view;
  bool keys_to_view = false;                           ///< the view turns keys into what the operator wants
  std::function<void(const std::string& id)> begun{};  ///< a new record was begun; nothing is measured yet
};

struct GuidedEnd {
  std::string record_id;
  std::optional<Verdict> verdict;
  bool completed = false;
  std::string stopped_kind;  ///< empty when it went through
  std::string stopped_text;
};

/// A person, or the simulator behind its socket. @throws Error(usage) for any other.
std::unique_ptr<Hands> make_hands(Loop& loop, const std::string& who);
/// The simulator's hands: nothing that is measured with them is of a real part.
bool are_simulated(const std::string& hands);

/// Whatever ends it, what was measured is in the store, or in a rescue file that the error names.
/// @throws Error(meter, usage) before anything is measured; Error(store) when the store does not take the
/// rest.
GuidedEnd run_guided(Store& store, GuidedWork work);

/// The unfinished records whose kind is wanted and that nobody is writing at this moment, newest first.
std::vector<RecordSummary> resumable(const Store& store, const std::function<bool(RecordKind)>& wanted);
/// The record that is named, or the newest resumable one for "latest", taken up to be written: nobody else can write it
/// from then on. @throws Error(usage), with what to do, when there is none; Error(store) when somebody else writes it, or
/// its chain does not hold.
Record take_up(Store& store, const std::string& id, const std::function<bool(RecordKind)>& wanted);
/// The same for one kind alone. @throws also Error(usage) when the record is of another kind.
Record unfinished_record(Store& store, const std::string& id, RecordKind kind);

/// The profile and the meter that a record was begun with, whatever the library holds by now.
Profile profile_in(const Record& record);
MeterDefinition meter_in(const Record& record);

/// The same for work that goes on: it is judged by what it was begun with. @param named by an option; empty: nothing.
/// @throws Error(usage) when what is named says something else today, or is another one.
Profile profile_to_go_on_with(const Record& record, const std::string& named);
MeterDefinition meter_to_go_on_with(const Record& record, const std::string& named);
/// @throws Error(usage) when an option states something else than the record was begun with.
void require_as_begun(const RecordHeader& begun, const std::string& option, const std::string& stated,
                      const std::string& at_the_beginning);

/// What a record begins with that is the same for every kind: meter, profile, port, hands, now.
RecordHeader header_for(RecordKind kind, const Profile& profile, const MeterDefinition& meter, const std::string& port,
                        const std::string& hands);

/// Hands other than a person, and a person without a terminal, cannot be asked. @throws Error(usage) naming
/// the option.
void require_de_energised(const std::vector<std::string>& acknowledged, const std::string& hands,
                          const std::string& when);

}  // namespace switchwright::cli
