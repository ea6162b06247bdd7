// The tables of a bag that no report shows: every reading as it came, every cycle of a trace. RFC 4180 as in csv.cpp.
#pragma once

#include "switchwright/report/exporter.hpp"

namespace switchwright {

/// One row per reading, with the step it was taken in.
void every_reading_csv(const Record& record, const DocumentSink& sink);
/// One row per complete cycle of each channel, in the order in which they ended.
void cycles_csv(const Record& record, const DocumentSink& sink);

}  // namespace switchwright
