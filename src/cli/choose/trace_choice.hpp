// What a trace is begun with: by options, remembered, or answered at the terminal; all of it before anything is opened.
#pragma once

#include <vector>

#include "cli/choose/trace_channels.hpp"
#include "cli/options/options.hpp"
#include "switchwright/bench/trace_session.hpp"

namespace switchwright::cli {

struct TraceChoice {
  TraceOptions options;  ///< as completed by answers
  Profile profile;
  std::vector<ChosenChannel> channels;
  TraceSetup setup;
  Claim claim;
  Acknowledgement acknowledgement;
};

/// @throws Error(usage) that names the option where nobody can be asked.
TraceChoice choose_trace(const TraceOptions& given);

}  // namespace switchwright::cli
