// Three views of the same events: a full screen for a person at the bench, lines for a log, JSON Lines for a program.
#pragma once

#include <memory>

#include "switchwright/bench/event.hpp"
#include "switchwright/bench/session.hpp"

namespace switchwright::cli {

class View {
 public:
  virtual ~View() = default;
  virtual void on(const Event& event, Instant at) = 0;
  virtual void key(char) {}
  /// A few times a second: the window may have another size.
  virtual void tick() {}
};

std::unique_ptr<View> make_json_view();
/// One line per placement.
std::unique_ptr<View> make_line_view();
/// One instruction at a time, large; turns keys into what the operator wants of the session.
std::unique_ptr<View> make_screen_view(QualifySession& session);

/// The same in plain lines.
std::unique_ptr<View> make_person_lines(QualifySession& session);
/// The screen where the terminal draws, else plain lines.
std::unique_ptr<View> make_person_view(QualifySession& session);

/// The end of a session in words, for both people's views.
std::string verdict_words(const VerdictReached& event, bool colour);

}  // namespace switchwright::cli
