// Sending what was measured to the shop's server when the work ends.
#pragma once

#include <string>

namespace switchwright::cli {

/// Sends what the remembered server lacks. A server that is not there is told and is no failure: the next time catches up.
void push_after_work(const std::string& store);

}  // namespace switchwright::cli
