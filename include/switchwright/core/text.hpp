// Small text services that several rooms need: near names for typing mistakes, numbers with units for people,
// and escaping of text that came from outside.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "switchwright/core/quantity.hpp"

namespace switchwright {

/// The candidates within a typing mistake of `name` (restricted edit distance at most a third of its length,
/// at least 1, at most 3), nearest first.
std::vector<std::string> near_names(std::string_view name, const std::vector<std::string>& candidates);
/// "did you mean \"scpi\"?", or "known: a, b, c" when nothing is near and the list is short; may be empty.
std::string suggestion(std::string_view name, const std::vector<std::string>& candidates);

/// A value for people with an SI prefix and the given resolution kept: 14400 ohm, digit 10 -> "14.40 kohm".
/// A resolution of 0 prints four significant figures.
std::string human_value(double value, Quantity quantity, double resolution = 0.0);
/// As a person is told it: ohms after the leads are taken off that lie a few digits below nothing are nothing (the meter's
/// own zero). What lies further below stays as it is: that is no resistance.
double told_value(double value, Quantity quantity, double resolution);
/// A resistance for people: "0.3 ohm", "14.4 kohm", "1 Mohm"; infinity is "open".
std::string human_ohm(double ohm);
/// A duration for people: "0.35 s", "12.4 s", "15 min 20 s", "2 h 05 min".
std::string human_seconds(double seconds);

/// A clause as a sentence: a full stop at its end, unless it ends as a sentence already. Nothing stays nothing.
std::string full_stop(std::string clause);
/// Sentences one after the other, each with its full stop; empty ones leave no trace.
std::string sentences(const std::vector<std::string>& clauses);

/// Replaces control characters (C0, DEL, C1) so that text from outside cannot drive a terminal.
std::string terminal_safe(std::string_view text);

/// A name as somebody may type it another time: without blanks around it, one blank between words, ASCII letters small.
std::string name_key(std::string_view name);
/// The same serial number or tag: blanks and the case of letters do not part two.
bool same_tag(std::string_view a, std::string_view b);

/// "a", "a and b", "a, b and c".
std::string joined_with_and(const std::vector<std::string>& parts);

}  // namespace switchwright
