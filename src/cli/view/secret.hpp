// A word that is typed without being shown.
#pragma once

#include <string>

namespace switchwright::cli {

/// @throws Error(interrupted) at the end of input.
std::string ask_secret(const std::string& prompt);

}  // namespace switchwright::cli
