// What is said to a meter: start commands, who it is, its error queue, orders, goodbye. Never more than one
// request is in flight; a whole answer is read before the next command; a query that failed answers nothing, so
// silence is followed by a look into the meter's error queue (IEEE 488.2, SCPI-1999 volume 1).
#include <fmt/format.h>

#include <boost/asio/post.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <cerrno>
#include <cstdlib>
#include <utility>

#include "meter/link/dialogue_text.hpp"
#include "meter/link/link_session.hpp"
#include "meter/link/write_some.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/log.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace asio = boost::asio;
using std::chrono::milliseconds;
using std::chrono::steady_clock;

namespace {

constexpr double identity_timeout_s = 1.5;
constexpr double error_timeout_s = 1.5;
constexpr int most_errors = 20;
/// What a meter has gathered before this program came must be out of the way, or it is taken for an answer to
/// a command.
constexpr int most_old_errors = 100;
constexpr milliseconds write_timeout{2000};
constexpr milliseconds command_pause{30};
constexpr std::chrono::hours for_ever{24 * 365};

using Condition = std::function<bool()>;
const Condition never = [] { return false; };
const std::function<bool(const std::string&)> is_error_entry = [](const std::string& text) {
  return error_entry(text).has_value();
};
const std::function<bool(const std::string&)> is_identity = &looks_like_identity;

steady_clock::time_point in(double seconds) {
  return steady_clock::now() + std::chrono::duration_cast<steady_clock::duration>(from_seconds(seconds));
}

}  // namespace

bool LinkSession::talks() const {
  return definition_.poll || !definition_.start_commands.empty() || !definition_.functions.empty() || is_scpi();
}

asio::awaitable<bool> LinkSession::wait_for(Self self, Line line, std::function<bool()> condition,
                                            SteadyTime deadline) {
  while (!self->over(*line)) {
    if (condition()) co_return true;
    if (steady_clock::now() >= deadline) co_return false;
    boost::system::error_code woken;
    line->wake.expires_at(deadline);
    co_await line->wake.async_wait(asio::redirect_error(asio::use_awaitable, woken));
  }
  co_return false;
}

asio::awaitable<bool> LinkSession::say(Self self, Line line, std::string bytes) {
  const std::string encoded = self->endpoint_->encode(bytes);
  return send(self, line, encoded);
}

asio::awaitable<bool> LinkSession::send(Self self, Line line, std::string bytes) {
  log(LogLevel::debug, [&] { return self->endpoint_->name() + ": sent " + log_bytes(bytes); });
  const SteadyTime deadline = steady_clock::now() + write_timeout;
  std::size_t sent = 0;
  while (sent < bytes.size()) {
    if (self->over(*line)) co_return false;
    const ssize_t count = write_some(line->stream.native_handle(), std::string_view{bytes}.substr(sent));
    if (count > 0) {
      sent += static_cast<std::size_t>(count);
      continue;
    }
    if (count < 0 && errno != EAGAIN && errno != EINTR) {
      line->end_reason = system_error_text(errno);
      line->stream.cancel();
      co_return false;
    }
    if (steady_clock::now() >= deadline) co_return false;
    const SteadyTime soon = steady_clock::now() + milliseconds{10};
    (void)co_await wait_for(self, line, never, soon);
  }
  co_return true;
}

asio::awaitable<std::optional<std::string>> LinkSession::ask(Self self, Line line, std::string question, Fits fits,
                                                             double timeout_s) {
  line->lines.clear();
  line->partial_line.clear();
  line->listener = Connection::Listener::dialogue;
  const std::string message = question + self->line_end_;
  const bool said = co_await say(self, line, message);
  if (!said) {
    line->listener = Connection::Listener::nobody;
    co_return std::nullopt;
  }
  const SteadyTime deadline = in(timeout_s);
  co_return co_await await_answer(self, line, question, fits, deadline);
}

asio::awaitable<std::optional<std::string>> LinkSession::await_answer(Self self, Line line, std::string question,
                                                                      Fits fits, SteadyTime deadline) {
  line->listener = Connection::Listener::dialogue;
  std::optional<std::string> answer;
  const Condition line_came = [c = line.get()] { return !c->lines.empty(); };
  while (!answer) {
    const bool came = co_await wait_for(self, line, line_came, deadline);
    if (!came) break;
    const std::string text{without_prompt(line->lines.front())};
    line->lines.pop_front();
    if (text.empty() || text == question) continue;  // echoed
    if (fits(text)) {
      answer = text;
      self->bytes_since_valid_ = 0;
    } else
      ++self->stray_lines_;
  }
  line->listener = Connection::Listener::nobody;
  co_return answer;
}

asio::awaitable<void> LinkSession::talk(Self self, Line line) {
  // A number without a unit means nothing until the tool has set the function itself.
  if (self->is_scpi() && !self->selected_ && !self->definition_.functions.empty())
    self->selected_ = self->definition_.functions.front().quantity;
  self->selection_pending_ = self->selected_.has_value();
  co_await introduce(self, line);
  SteadyTime next_request = steady_clock::now();
  const Condition something_waits = [session = self.get()] {
    return session->selection_pending_ || !session->orders_.empty();
  };
  while (!self->over(*line)) {
    if (!self->orders_.empty()) {
      co_await obey_order(self, line);
      continue;
    }
    if (!line->in_step) {
      const bool owes_nothing = co_await get_in_step(self, line);
      if (!owes_nothing) continue;
    }
    if (self->selection_pending_) {
      co_await apply_selection(self, line);
      continue;
    }
    const bool polls = self->definition_.poll.has_value() && !self->refused_;
    const SteadyTime deadline = polls ? next_request : steady_clock::now() + for_ever;
    const bool waits = co_await wait_for(self, line, something_waits, deadline);
    if (waits || !polls || self->over(*line)) continue;
    next_request = in(self->definition_.poll->every_s);
    co_await poll_once(self, line);
    // Whoever has enough with this reading stops the loop: not a request more.
    co_await asio::post(self->context_, asio::use_awaitable);
  }
}

asio::awaitable<void> LinkSession::introduce(Self self, Line line) {
  if (self->is_scpi() || self->definition_.poll) line->listener = Connection::Listener::nobody;
  for (const std::string& command : self->definition_.start_commands) {
    const std::string message = command + self->line_end_;
    const bool said = co_await say(self, line, message);
    if (!said) co_return;
    const SteadyTime soon = steady_clock::now() + command_pause;
    (void)co_await wait_for(self, line, never, soon);
  }
  if (self->is_scpi()) co_await ask_who_it_is(self, line);
}

asio::awaitable<void> LinkSession::ask_who_it_is(Self self, Line line) {
  const std::string identity_query = "*IDN?";
  const std::optional<std::string> identity = co_await ask(self, line, identity_query, is_identity, identity_timeout_s);
  if (self->over(*line)) co_return;
  if (identity) self->identity_ = terminal_safe(*identity).substr(0, 200);
  const std::string occasion = "starting";
  const Drained drained = co_await drain_errors(self, line, occasion, Complain::but_undefined_headers);
  if (self->over(*line)) co_return;
  line->introduced = identity || drained.answers > 0;
  if (line->introduced) co_return;
  // Some meters know neither and measure all the same; whether one is there shows when a reading is asked for.
  const std::string nothing_came = "no answer from " + self->endpoint_->name() + " to *IDN? and SYST:ERR?";
  if (!self->definition_.poll)
    self->tell_silence(*line, nothing_came);
  else
    self->tell_again(nothing_came + "; a reading is asked for all the same");
}

asio::awaitable<LinkSession::Drained> LinkSession::drain_errors(Self self, Line line, std::string after,
                                                                Complain complain) {
  Drained drained;
  const int stray_before = self->stray_lines_;
  const bool old = complain == Complain::but_undefined_headers;
  const int at_most = line->errors_without_end ? 2 : old ? most_old_errors : most_errors;
  const std::string error_query = "SYST:ERR?";
  std::vector<std::string> errors;
  int i = 0;
  for (; line->has_error_queue && i < at_most; ++i) {
    const std::optional<std::string> answer = co_await ask(self, line, error_query, is_error_entry, error_timeout_s);
    if (self->over(*line)) co_return drained;
    if (!answer) {
      // Who names itself but keeps no error queue need not be asked again.
      if (i == 0 && !line->errors_answered && !self->identity_.empty() && self->stray_lines_ == stray_before)
        line->has_error_queue = false;
      break;
    }
    ++drained.answers;
    line->errors_answered = true;
    const std::optional<ErrorEntry> entry = error_entry(*answer);
    if (entry->code == 0) {
      line->errors_may_wait = false;
      break;
    }
    drained.refused |= is_refusal(entry->code);
    if (complain == Complain::but_undefined_headers && entry->code == undefined_header) continue;
    errors.push_back(fmt::format("{} {}", entry->code, terminal_safe(entry->text)));
  }
  drained.stray_lines = self->stray_lines_ - stray_before;
  if (i == at_most) {
    errors.resize(std::min<std::size_t>(errors.size(), 3));
    errors.push_back("more without end");
    line->errors_without_end = true;
  }
  drained.errors = joined_with_and(errors);
  if (complain == Complain::not_at_all) co_return drained;
  const std::string told = errors.empty() ? "" : after + drained.errors;
  if (!errors.empty() && told != self->errors_told_) self->tell_again(self->complaint(complain, after, drained.errors));
  self->errors_told_ = told;
  co_return drained;
}

std::string LinkSession::complaint(Complain complain, const std::string& after, const std::string& errors) const {
  if (complain == Complain::of_a_measurement) return "the meter reports of its measurement: " + errors;
  if (complain != Complain::about_all) return "the meter's error queue held this from before: " + errors;
  return fmt::format(
      "the meter reports an error after {}: {}; compare the commands in definition {} with the meter's manual", after,
      errors, definition_.id);
}

/// After a request without an answer the meter may still owe one, and would give it to the next request. It
/// answers in order: what answers this owes nothing any more. Who answers neither is waited for until nothing
/// can come.
asio::awaitable<bool> LinkSession::get_in_step(Self self, Line line) {
  const double timeout_s = self->definition_.poll ? self->definition_.poll->timeout_s : error_timeout_s;
  if (!line->introduced) {
    line->listener = Connection::Listener::nobody;
    const SteadyTime deadline = in(timeout_s);
    (void)co_await wait_for(self, line, never, deadline);
    line->in_step = true;
    co_return !self->over(*line);
  }
  const bool named = !self->identity_.empty();
  const std::string query = named ? "*IDN?" : "SYST:ERR?";
  const Fits fits = named ? is_identity : is_error_entry;
  const std::optional<std::string> answer = co_await ask(self, line, query, fits, timeout_s);
  if (self->over(*line)) co_return false;
  line->in_step = answer.has_value();
  if (!answer) {
    const double waited_s = std::chrono::duration<double>(steady_clock::now() - self->last_valid_).count();
    if (waited_s >= self->definition_.link.silent_after_s)
      self->tell_silence(*line, "no answer from " + self->endpoint_->name() + " to " + query);
  }
  co_return line->in_step;
}

asio::awaitable<void> LinkSession::obey_order(Self self, Line line) {
  line->listener = Connection::Listener::nobody;
  // What a measurement has left in the error queue is not the order's doing.
  const std::string measuring = "measuring";
  if (line->errors_may_wait) (void)co_await drain_errors(self, line, measuring, Complain::of_a_measurement);
  if (self->over(*line) || self->orders_.empty()) co_return;
  const std::vector<std::string> commands = self->orders_.front().commands;
  for (const std::string& command : commands) {
    const std::string message = command + self->line_end_;
    const bool said = co_await say(self, line, message);
    if (!said) co_return;  // the link is lost or stuck: the order stays
  }
  Drained drained;
  if (self->is_scpi()) {
    const std::string what = commands.empty() ? "an order" : commands.front();
    drained = co_await drain_errors(self, line, what, Complain::not_at_all);
    if (self->over(*line)) co_return;
    if (line->has_error_queue && drained.answers == 0)
      drained.errors = "no answer from " + self->endpoint_->name() + " after " + what;
  }
  if (self->orders_.empty()) co_return;
  const Order order = std::move(self->orders_.front());
  self->orders_.pop_front();
  line->readings_stale = self->selection_pending_ || !self->orders_.empty();
  order.done(drained.errors);
}

void LinkSession::say_goodbye(Connection& line) {
  std::string all;
  for (const std::string& command : definition_.stop_commands) all += command + line_end_;
  if (!all.empty()) write_some(line.stream.native_handle(), endpoint_->encode(all));
}

}  // namespace switchwright
