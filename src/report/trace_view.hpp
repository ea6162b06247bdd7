// What a report says about a trace, apart from what it says about every record.
#pragma once

#include <string>
#include <vector>

#include "report/view.hpp"
#include "switchwright/analysis/trace_analysis.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright {

bool is_trace(const Record& record);
/// Position, setting, supply, load, ambient, one line per channel.
std::vector<NamedFact> trace_facts(const Record& record);
std::vector<std::string> trace_cautions();

/// The sections between the verdict and "How it was measured", as plain text.
std::string trace_text(const Record& record);
/// The samples, in a shape that `analyze` reads: seconds, then a column per channel.
void trace_csv(const Record& record, const DocumentSink& sink);

}  // namespace switchwright
