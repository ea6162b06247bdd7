// The calibration ledger as the commands use it.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "cli/choose/choices.hpp"
#include "switchwright/meter/own.hpp"

namespace switchwright::cli {

/// The entry of this name, else of this serial number. @throws Error(usage) with near names.
OwnMeter own_meter(const std::string& name_or_serial);
/// The one entry with this serial number and definition; nothing when there is none.
std::optional<OwnMeter> own_meter_by_serial(const std::string& serial, const std::string& definition);

/// Asks which meter of this definition is on the bench; nothing when the ledger has none or none is named.
std::optional<OwnMeter> ask_for_own_meter(Choices& choices, const std::string& definition);

}  // namespace switchwright::cli
