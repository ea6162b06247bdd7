// What a report says of the guided work beside qualification: each contact's millivolt drop, the profile that
// was learned. Both come from the results that the record keeps.
#pragma once

#include <optional>
#include <string>

#include "report/medium.hpp"
#include "report/view.hpp"

namespace switchwright {

bool is_drop(const Record& record);
bool is_learning(const Record& record);
/// "(1 +/- 0.01) A at high, reversed too", or nothing when the record does not say.
std::string drop_current_text(const Record& record);
/// One sentence of what was learned; nothing while nothing is.
std::optional<std::string> learned_headline(const Record& record);

/// The sections of a report; empty for records of other kinds, and while there is nothing to say.
std::string guided_as_text(const View& view);
std::string guided_as_html(const View& view, Medium medium);

}  // namespace switchwright
