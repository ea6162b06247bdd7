// What the commands beside qualify show of a session where no person is led: plain lines.
#pragma once

#include <memory>

#include "cli/view/views.hpp"

namespace switchwright::cli {

/// Learning: one line per pair with what was read at each position, without any judgement.
std::unique_ptr<View> make_learn_lines();
/// The millivolt drop: one sentence per contact.
std::unique_ptr<View> make_drop_lines();

}  // namespace switchwright::cli
