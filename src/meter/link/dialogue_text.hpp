// Small readings of what meters answer besides readings.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "switchwright/meter/definition.hpp"

namespace switchwright {

constexpr int undefined_header = -113;  ///< SCPI-1999 volume 2, 21.8.4

/// The meter did not do what it was told: -100 to -199 it did not understand it, -200 to -299 it could not
/// carry it out (SCPI-1999 volume 2, 21.8.9 and 21.8.10). -230 to -239 are about the data of a measurement.
constexpr bool is_refusal(int code) { return code <= -100 && code >= -299 && !(code <= -230 && code >= -239); }

struct ErrorEntry {
  int code = 0;
  std::string text;
};
/// `-113,"Undefined header;FOO:BAR?"`, `+0,"No error"`, unquoted text, or the bare number 0; nothing for
/// anything else (a late reading, say).
std::optional<ErrorEntry> error_entry(std::string_view line);

/// Anything that is not a plain number: a late reading is not taken for a name.
bool looks_like_identity(const std::string& line);

/// A word such as `"VOLT:AC"` in answer to FUNC? or CONF?: no number, no entry of the error queue.
bool looks_like_function(const std::string& line);

/// The function that an answer to FUNC? or CONF? names, in short upper-case keywords: `"VOLTage:AC 1,0.001"`
/// is VOLT:AC, `'sens:volt:dc'` is VOLT (SCPI-1999 volume 2: DC is the default node). Of a meter with a second
/// display the first function named is the one whose number comes first.
std::string function_name(std::string_view answer);

/// The answer names this function, by what the definition says or by SCPI-1999.
bool names(std::string_view answer, const FunctionCommands& function);

/// Without blanks around it and without the prompts before it ("3> ", "=> => ", "SCPI> "): a meter sends one
/// after each command, and they gather in front of the next answer.
std::string_view without_prompt(std::string_view line);

/// "READ?" for "READ?\r\n"; other bytes as \xNN.
std::string printable(std::string_view bytes);

}  // namespace switchwright
