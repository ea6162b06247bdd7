// Which meters a trace is recorded with: the channels as written, each with its entry of the calibration
// ledger.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "cli/choose/choices.hpp"
#include "cli/options/options.hpp"
#include "switchwright/judge/channel_role.hpp"
#include "switchwright/meter/definition.hpp"
#include "switchwright/meter/own.hpp"
#include "switchwright/record/record.hpp"

namespace switchwright::cli {

struct ChosenChannel {
  std::string name;
  MeterDefinition meter;  ///< with the corrections of this one meter
  std::string port;
  std::string serial;
  std::string calibrated;            ///< for the record; empty: unknown
  std::vector<std::string> remarks;  ///< what every reader must know about its calibration
  ChannelRole role = ChannelRole::other;
  std::optional<OwnMeter> own;  ///< its entry in the ledger
  MeterDefinition plain;        ///< without the corrections
};

/// Each meter that has said who it is (*IDN?) is looked up in the ledger, as qualify does: its corrections are applied, and
/// another meter than the one that was named is said. @param identities one for each channel; empty: it did not say
void recognise(std::vector<ChosenChannel>& channels, const std::vector<std::string>& identities, Wall now);

/// Reads --channel, --role, --own and --meter-serial; in a terminal asks for what is left open. @throws Error(usage).
std::vector<ChosenChannel> chosen_channels(const TraceOptions& options, const Profile& profile, Choices& choices,
                                           Wall now);
/// NAME=ROLE as it was given, for those names that exist. @throws Error(usage), with near names.
std::map<std::string, ChannelRole> stated_roles(const std::vector<std::string>& given,
                                                const std::vector<std::string>& names);
/// As the record keeps them, numbered from 1.
std::vector<TraceChannel> channel_rows(const std::vector<ChosenChannel>& channels);

}  // namespace switchwright::cli
