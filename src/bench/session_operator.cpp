// What the operator tells a session: acknowledged, answered, confirmed, stated, again, back, skipped, stopped.
#include <fmt/format.h>

#include "bench/procedure.hpp"
#include "switchwright/analysis/measured.hpp"
#include "switchwright/bench/session.hpp"

namespace switchwright {

void QualifySession::acknowledge(const std::string& who, const std::string& how) {
  if (!current() || procedure().wants(steps_[index_]) != Procedure::Wants::acknowledgement) return;
  const Step& step = steps_[index_];
  procedure().acknowledged(step, who);
  emit(Acknowledged{{clock_.now().wall, step.acknowledges, who, how, step.instruction}});
  next();
}

void QualifySession::answer(std::optional<bool> yes, const std::string& note_text) {
  if (!current() || procedure().wants(steps_[index_]) != Procedure::Wants::answer) return;
  const Step& step = steps_[index_];
  emit(Answered{step.number, procedure().answered(step, yes, note_text)});
  next();
}

void QualifySession::confirm() {
  if (!current()) return;
  const Step& step = steps_[index_];
  if (procedure().wants(step) != Procedure::Wants::reading) {
    note("answer-needed", "This step needs an answer, not just a confirmation.");
    return;
  }
  if (!pending_) {
    note("not-settled",
         last_trouble_.empty() ? "The reading has not settled yet: hold still and wait for the beep." : last_trouble_);
    return;
  }
  if (procedure().needs_contact_statement(step, *pending_)) {
    note("contact-needed", procedure().contact_words(step));
    return;
  }
  keep(false);
}

void QualifySession::state_contact() {
  if (!current()) return;
  if (!procedure().contact_can_be_stated(steps_[index_])) return confirm();
  if (!pending_) {
    confirm();
    return;
  }
  keep(true);
}

void QualifySession::redo() {
  if (current()) show(index_);
}

void QualifySession::reseat() {
  if (!current()) return;
  std::size_t first = index_;
  while (first > 0 && procedure().same_placement(steps_[first - 1], steps_[index_])) --first;
  const int given_up = placement_of(steps_[index_]);
  procedure().forget_placement(steps_[index_]);
  emit(Note{reseated_event, fmt::format("a probe slipped: started again at step {}", steps_[first].number), given_up});
  go_to(first);
}

void QualifySession::back() {
  if (!current()) return;
  if (index_ == 0 || procedure().wants(steps_[index_ - 1]) == Procedure::Wants::acknowledgement) {
    note("first-step", "This is the first step.");
    return;
  }
  show(index_ - 1);
}

void QualifySession::skip(const std::string& reason) {
  if (!current()) return;
  const Step step = steps_[index_];
  if (const std::string why = procedure().cannot_skip(step); !why.empty()) {
    note("cannot-skip", why);
    return;
  }
  if (reason.empty()) {
    note("reason-needed", "A skipped step needs a reason; it stands in the report.");
    return;
  }
  procedure().skipped(step);
  emit(Skipped{step, reason});
  next();
}

void QualifySession::stop() {
  if (!ended()) end("operator", "Stopped by the operator. What was measured is kept; the record can be resumed.");
}

}  // namespace switchwright
