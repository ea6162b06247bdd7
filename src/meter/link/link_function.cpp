// Which function a SCPI meter measures. Its numbers carry no unit, so a number is believed only when something the
// meter has answered shows what it is a number of: the function that it names when asked (FUNC?, CONF?), or, of a
// meter that does not say, the fact that it answers a query that names the function (MEAS:VOLT:AC?) and has no
// complaint. A meter that refuses a function, with an error or without, is said to be unable, and nothing that it
// goes on answering is taken.
#include <fmt/format.h>

#include "meter/link/dialogue_text.hpp"
#include "meter/link/link_session.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace asio = boost::asio;

namespace {

/// A query of a kind that the meter has answered before.
constexpr double function_timeout_s = 1.5;
/// A query that it may not know; who is slower than this still answers before its error queue does.
constexpr double first_function_timeout_s = 0.4;
/// Somebody at the meter's keys is set right so many times.
constexpr int most_times_elsewhere = 3;

const std::function<bool(const std::string&)> is_function = &looks_like_function;

}  // namespace

bool LinkSession::asks_by_itself(Quantity quantity) const {
  const FunctionCommands* function = definition_.function_for(quantity);
  if (!function || function->request.empty()) return false;
  const auto tried = own_request_.find(quantity);
  return tried == own_request_.end() || tried->second == OwnRequest::answers;
}

asio::awaitable<void> LinkSession::apply_selection(Self self, Line line) {
  const Quantity quantity = *self->selected_;
  self->selection_pending_ = false;
  self->refused_ = false;
  const bool streams = !self->definition_.poll && !self->is_scpi();
  const FunctionCommands* function = self->definition_.function_for(quantity);
  if (function && self->is_scpi()) {
    if (line->stands_on != quantity) co_await set_function(self, line, *function);
  } else if (function) {
    if (!streams) line->listener = Connection::Listener::nobody;
    for (const std::string& command : function->send) {
      const std::string message = command + self->line_end_;
      const bool said = co_await say(self, line, message);
      if (!said) co_return;
    }
  }
  // Another select() in the meantime: its commands come first.
  if (self->over(*line) || self->selection_pending_) co_return;
  self->decoder_->selected(quantity);
  self->decoder_->reset();
  line->readings_stale = false;
  line->listener =
      self->definition_.poll || self->refused_ ? Connection::Listener::nobody : Connection::Listener::decoder;
}

/// Sets the function and asks whether the meter has followed. A function with a request of its own is tried with
/// it before it is given up.
asio::awaitable<void> LinkSession::set_function(Self self, Line line, FunctionCommands function) {
  const bool own_request = self->asks_by_itself(function.quantity);
  const std::string measuring = "measuring";
  const std::string selecting = "selecting " + std::string{name_of(function.quantity)};
  line->stands_on.reset();
  line->doubted.reset();
  line->listener = Connection::Listener::nobody;
  // Whether anybody is there shows with the first reading only.
  if (!line->introduced && own_request) co_return;
  if (line->errors_may_wait) (void)co_await drain_errors(self, line, measuring, Complain::of_a_measurement);
  for (const std::string& command : function.send) {
    const std::string message = command + self->line_end_;
    const bool said = !self->over(*line) && co_await say(self, line, message);
    if (!said) co_return;
  }
  if (!line->introduced || self->over(*line)) co_return;
  Drained drained;
  if (!function.send.empty()) drained = co_await drain_errors(self, line, selecting, Complain::not_at_all);
  if (self->over(*line)) co_return;
  const std::optional<std::string> answer = co_await function_now(self, line);
  if (self->over(*line)) co_return;
  if (answer && names(*answer, function)) {
    line->stands_on = function.quantity;
    if (!drained.errors.empty()) self->tell_again(self->complaint(Complain::about_all, selecting, drained.errors));
    co_return;
  }
  if (own_request) {
    if (!function.send.empty() && (drained.refused || answer)) line->doubted = function.quantity;
    co_return;
  }
  // Who was asked this way only because one answer was lost is asked the function's own way once more.
  const auto tried = self->own_request_.find(function.quantity);
  const bool lost = tried != self->own_request_.end() && tried->second == OwnRequest::unanswered;
  if (lost && line->asked_again != function.quantity) {
    line->asked_again = line->doubted = function.quantity;
    self->own_request_.erase(tried);
    co_return;
  }
  const std::string after = "after " + self->what_selects(function);
  if (!drained.errors.empty())
    self->refuse(*line, function, fmt::format("{} it reports {}", after, drained.errors));
  else if (answer)
    self->refuse(*line, function, fmt::format("{} it says that it stands on {}", after, terminal_safe(*answer)));
  else if (line->asks_back == Connection::AsksBack::no)
    self->refuse(*line, function, self->does_not_say());
}

/// Why a meter that keeps its function to itself is not believed.
std::string LinkSession::does_not_say() const {
  std::string queries;
  for (const std::string& query : definition_.function_queries) queries += (queries.empty() ? "" : " nor ") + query;
  if (queries.empty()) return "nothing shows what it measures";
  return fmt::format("it answers neither {}, so nothing shows what it measures", queries);
}

/// The commands that set the function, for a person.
std::string LinkSession::what_selects(const FunctionCommands& function) const {
  std::vector<std::string> commands = function.send;
  if (commands.empty()) commands.push_back(function.request);
  return joined_with_and(commands);
}

/// The function that the meter says it stands on, as it says it; nothing when it does not say.
asio::awaitable<std::optional<std::string>> LinkSession::function_now(Self self, Line line) {
  using AsksBack = Connection::AsksBack;
  if (line->asks_back == AsksBack::no) co_return std::nullopt;
  if (line->asks_back == AsksBack::yes) {
    const std::string known = line->function_query;
    co_return co_await ask(self, line, known, is_function, function_timeout_s);
  }
  bool unknown = true;
  for (const std::string& listed : self->definition_.function_queries) {
    const std::string query = listed;
    std::optional<std::string> answer = co_await ask(self, line, query, is_function, first_function_timeout_s);
    if (self->over(*line)) co_return std::nullopt;
    if (!answer && line->has_error_queue) {
      const std::string error_query = "SYST:ERR?";
      const Fits entry_or_late_answer = [&answer](const std::string& text) {
        if (!looks_like_function(text)) return error_entry(text).has_value();
        answer = text;
        return false;
      };
      const std::optional<std::string> entry =
          co_await ask(self, line, error_query, entry_or_late_answer, function_timeout_s);
      if (self->over(*line)) co_return std::nullopt;
      if (!entry && !answer) co_return std::nullopt;  // it is gone, or busy: not the time to conclude
      const bool more = entry && error_entry(*entry)->code != 0;
      unknown &= more;
      if (more) (void)co_await drain_errors(self, line, query, Complain::not_at_all);
      if (self->over(*line)) co_return std::nullopt;
    }
    if (!answer) continue;
    line->asks_back = AsksBack::yes;
    line->function_query = query;
    co_return answer;
  }
  // Without an error the answer may have been lost: once more, with the next reading.
  if (unknown || ++line->asked_in_vain > 1) line->asks_back = AsksBack::no;
  co_return std::nullopt;
}

/// Whether the answer that just came was a reading of the function. If not, the function is set anew or given up.
asio::awaitable<bool> LinkSession::is_reading_of(Self self, Line line, FunctionCommands function, bool own_request) {
  const Quantity quantity = function.quantity;
  const std::optional<std::string> answer = co_await function_now(self, line);
  if (self->over(*line)) co_return false;
  if (answer && names(*answer, function)) {
    line->stands_on = quantity;
    line->went_elsewhere = 0;
    co_return true;
  }
  if (answer) {
    line->stands_on.reset();
    const std::string said = terminal_safe(*answer);
    if (++line->went_elsewhere >= most_times_elsewhere) {
      self->refuse(*line, function,
                   fmt::format("after {} it says that it stands on {}", self->what_selects(function), said));
    } else {
      self->selection_pending_ = true;
      self->tell_again(
          fmt::format("the meter stands on {} and not on {}: its reading is not taken, and it is "
                      "set once more",
                      said, dial_words(quantity)));
    }
    co_return false;
  }
  if (line->asks_back != Connection::AsksBack::no) co_return false;  // this time the answer was lost
  if (!own_request) {
    self->refuse(*line, function, self->does_not_say());
    co_return false;
  }
  if (line->stands_on == quantity) co_return true;
  const std::string query = function.request;
  const Drained drained = co_await drain_errors(self, line, query, Complain::not_at_all);
  if (self->over(*line)) co_return false;
  if (drained.refused) {
    self->own_request_[quantity] = OwnRequest::refused;
    self->selection_pending_ = true;
    co_return false;
  }
  line->stands_on = quantity;
  co_return true;
}

void LinkSession::refuse(Connection& line, const FunctionCommands& function, const std::string& why) {
  refused_ = true;
  line.stands_on.reset();
  line.listener = Connection::Listener::nobody;
  if (!callbacks_.link) return;
  LinkChange change{state_, {}, clock_.now(), true, function.quantity};
  change.detail = fmt::format(
      "the meter cannot be set to {}: {}; compare [[function]] and function_query of definition {} with the "
      "meter's manual, or use another meter",
      dial_words(function.quantity), why, definition_.id);
  callbacks_.link(change);
}

}  // namespace switchwright
