// Cycle timing in words: the same for `analyze`, for the end of a trace and for the report of a record.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "switchwright/cycle/analyze_file.hpp"
#include "switchwright/judge/cycling.hpp"
#include "switchwright/judge/event_log.hpp"

namespace switchwright {

// Plain lines for people, each with its line end. Text from outside is made safe for a terminal.
/// @param unit of the channel's values; may be empty.
std::string summary_text(const std::string& channel, const std::string& unit, const CycleSummary& summary);
std::string judgement_text(const CyclingJudgement& judgement, const std::optional<Life>& life = std::nullopt);
/// How often the contact has switched, and the share of what its maker declares, in one sentence.
std::string life_words(const Life& life);
/// What U is, in one sentence.
std::string coverage_words();
/// "12.42 s +/- 0.15 s": both rounded to two significant figures of U (JCGM 100 7.2.6).
std::string with_uncertainty(double value, const std::optional<double>& U, const std::string& unit);

}  // namespace switchwright
