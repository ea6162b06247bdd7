#include "cli/choose/trace_channels.hpp"

#include <fmt/format.h>

#include <map>
#include <optional>
#include <set>

#include "cli/choose/own_meter.hpp"
#include "cli/choose/places.hpp"
#include "cli/output.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

ChosenChannel parse_channel(const std::string& text) {
  const auto equals = text.find('=');
  const auto at = text.find('@', equals == std::string::npos ? 0 : equals);
  if (equals == std::string::npos || at == std::string::npos || equals == 0 || at == equals + 1 ||
      at + 1 == text.size())
    throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is not a channel", "--channel",
                "write it like load=scpi@/dev/ttyUSB0: a name, the meter definition, the port");
  return {text.substr(0, equals),
          load_meter_definition(text.substr(equals + 1, at - equals - 1), meter_places()),
          text.substr(at + 1),
          {},
          {},
          {},
          ChannelRole::other,
          {},
          {}};
}

std::vector<ChosenChannel> wanted(const TraceOptions& options, Choices& choices) {
  std::vector<ChosenChannel> channels;
  for (const std::string& text : options.channels) channels.push_back(parse_channel(text));
  if (channels.empty()) {
    if (!interactive())
      throw Error(ErrorKind::usage, "no channel is given", "", "give at least one with --channel load=METER@PORT");
    channels.push_back({"load", choices.meter(""), choices.port(""), {}, {}, {}, ChannelRole::load, {}, {}});
  }
  std::set<std::string> names, ports;
  for (const ChosenChannel& channel : channels) {
    if (!names.insert(channel.name).second)
      throw Error(ErrorKind::usage, "two channels are called \"" + terminal_safe(channel.name) + "\"", "--channel",
                  "give each a name of its own");
    if (!channel.port.starts_with("replay:") && !ports.insert(channel.port).second)
      throw Error(ErrorKind::usage, "two channels use the port " + terminal_safe(channel.port), "--channel",
                  "each meter needs a port of its own");
  }
  return channels;
}

/// "load=bench-3" for each channel; the name may be left out where there is only one.
std::map<std::string, std::string> per_channel(const std::vector<std::string>& given, const char* option,
                                               const std::vector<ChosenChannel>& channels) {
  std::map<std::string, std::string> values;
  std::vector<std::string> names;
  for (const ChosenChannel& channel : channels) names.push_back(channel.name);
  for (const std::string& text : given) {
    const auto equals = text.find('=');
    const std::string name = equals == std::string::npos ? names.front() : text.substr(0, equals);
    if (equals == std::string::npos && names.size() > 1)
      throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" does not say which channel it is for", option,
                  "write " + names.front() + "=" + terminal_safe(text));
    if (std::find(names.begin(), names.end(), name) == names.end())
      throw Error(ErrorKind::usage, "no channel is called \"" + terminal_safe(name) + "\"", option,
                  suggestion(name, names));
    if (!values.emplace(name, equals == std::string::npos ? text : text.substr(equals + 1)).second)
      throw Error(ErrorKind::usage, "channel " + terminal_safe(name) + " is told twice", option, "give it once");
  }
  return values;
}

std::string found(const std::map<std::string, std::string>& values, const std::string& name) {
  const auto value = values.find(name);
  return value == values.end() ? std::string{} : value->second;
}

void calibrate(ChosenChannel& channel, const std::optional<OwnMeter>& own, Wall now) {
  channel.own = own;
  if (own) {
    channel.meter = with_corrections(channel.meter, *own);
    channel.serial = own->serial;
    channel.calibrated = calibration_words(*own, now);
  }
  const OwnMeter meter = own ? *own : OwnMeter{"", channel.meter.id, channel.serial, "", "", "", {}};
  for (const std::string& remark : calibration_remarks(meter, now))
    channel.remarks.push_back("Channel " + channel.name + ": " + remark);
}

}  // namespace

std::map<std::string, ChannelRole> stated_roles(const std::vector<std::string>& given,
                                                const std::vector<std::string>& names) {
  std::map<std::string, ChannelRole> roles;
  for (const std::string& text : given) {
    const auto equals = text.rfind('=');
    const std::string name = text.substr(0, equals);
    const auto role = equals == std::string::npos ? std::nullopt : role_named(text.substr(equals + 1));
    if (!role)
      throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" states no role", "--role",
                  "write NAME=ROLE, the role one of " + joined_with_and(role_words()));
    if (std::find(names.begin(), names.end(), name) == names.end())
      throw Error(ErrorKind::usage, "no channel is called \"" + terminal_safe(name) + "\"", "--role",
                  suggestion(name, names));
    if (!roles.emplace(name, *role).second)
      throw Error(ErrorKind::usage, "channel " + terminal_safe(name) + " is told twice", "--role", "give it once");
  }
  return roles;
}

std::vector<ChosenChannel> chosen_channels(const TraceOptions& options, const Profile& profile, Choices& choices,
                                           Wall now) {
  std::vector<ChosenChannel> channels = wanted(options, choices);
  std::vector<std::string> names;
  for (const ChosenChannel& channel : channels) names.push_back(channel.name);
  const auto roles = stated_roles(options.roles, names);
  for (ChosenChannel& channel : channels) {
    const auto stated = roles.find(channel.name);
    const auto role = stated != roles.end() ? std::optional{stated->second} : role_of_name(channel.name, profile);
    if (!role)
      throw Error(ErrorKind::usage,
                  "nothing says what the channel \"" + terminal_safe(channel.name) + "\" is connected to", "--channel",
                  "call it load, line or pilot, or state it: --role " + terminal_safe(channel.name) + "=load (" +
                      joined_with_and(role_words()) + ")");
    channel.role = *role;
  }
  const auto own_names = per_channel(options.own, "--own", channels);
  const auto serials = per_channel(options.meter_serial, "--meter-serial", channels);
  std::set<std::string> on_the_bench;
  for (ChosenChannel& channel : channels) {
    std::optional<OwnMeter> own;
    channel.serial = found(serials, channel.name);
    if (const std::string name = found(own_names, channel.name); !name.empty())
      own = own_meter(name);
    else
      own = own_meter_by_serial(channel.serial, channel.meter.id);
    if (!own && channel.serial.empty() && interactive() && !options.json && !options.simulated) {
      put_line("Channel " + terminal_safe(channel.name) + ":");
      own = ask_for_own_meter(choices, channel.meter.id);
    }
    if (own && own->definition != channel.meter.id)
      throw Error(ErrorKind::usage,
                  fmt::format("{} speaks {}, not {}", terminal_safe(own->name), own->definition, channel.meter.id),
                  "--own", fmt::format("write --channel {}={}@PORT", terminal_safe(channel.name), own->definition));
    if (own && !on_the_bench.insert(own->name).second)
      throw Error(ErrorKind::usage, "the meter " + terminal_safe(own->name) + " is named for two channels", "--own",
                  "one meter can only be at one place");
    channel.plain = channel.meter;
    calibrate(channel, own, now);
  }
  return channels;
}

void recognise(std::vector<ChosenChannel>& channels, const std::vector<std::string>& identities, Wall now) {
  const std::vector<OwnMeter> ledger = load_own_meters(own_meters_file());
  for (std::size_t i = 0; i < channels.size(); ++i) {
    ChosenChannel& channel = channels[i];
    if (identities[i].empty()) continue;
    const OwnMatch who = match_own_meter(ledger, channel.own, channel.serial, identities[i], channel.plain.id);
    if (who.own && !channel.own)
      say("channel " + terminal_safe(channel.name) + ": the meter is " + who.own->name +
          " of the ledger, by its serial number " + who.serial);
    channel.meter = channel.plain;
    channel.serial = who.serial;
    channel.calibrated.clear();
    channel.remarks.clear();
    calibrate(channel, who.own, now);
    for (const std::string& remark : who.remarks) channel.remarks.push_back("Channel " + channel.name + ": " + remark);
  }
}

std::vector<TraceChannel> channel_rows(const std::vector<ChosenChannel>& channels) {
  std::vector<TraceChannel> rows;
  for (const ChosenChannel& channel : channels)
    rows.push_back({static_cast<int>(rows.size()) + 1, channel.name, "", channel.meter.id, channel.meter.title,
                    channel.meter.source_text, channel.port, channel.serial, channel.calibrated,
                    to_string(channel.role)});
  return rows;
}

}  // namespace switchwright::cli
