// A check whose reference program is missing counts as skipped, and ctest shows it so: never as passed, and never when something
// failed.
#pragma once

#include <string>

namespace test {

/// Says why, and marks this run as one that left something out; the caller returns.
void skip(const std::string& why);

/// @param package the Debian package that has the program
bool is_missing(const std::string& program, const std::string& package);

}  // namespace test
