// The option table in other forms: completions for three shells and the manual page. Nothing here knows a command by
// name; a command that is added to the table is completed and described by itself.
#pragma once

#include <CLI/App.hpp>
#include <string>

namespace switchwright::cli {

/// @param form bash, zsh, fish or man
std::string in_other_form(const CLI::App& app, const std::string& form);

}  // namespace switchwright::cli
