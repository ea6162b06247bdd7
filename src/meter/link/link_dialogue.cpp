// What is said to a meter: start commands, who it is, function selection, requests for readings, goodbye.
// Never more than one request is in flight; a whole answer is read before the next command; a query that
// failed answers nothing, so silence is followed by a look into the meter's error queue (IEEE 488.2,
// SCPI-1999 volume 1).
#include <fmt/format.h>

#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <cerrno>
#include <cstdlib>
#include <utility>

#include "meter/link/dialogue_text.hpp"
#include "meter/link/link_session.hpp"
#include "meter/link/write_some.hpp"
#include "switchwright/core/error.hpp"
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
/// A meter that ends its lines with CR alone sends no LF after it for this long.
constexpr milliseconds line_feed_follows{40};
constexpr milliseconds write_timeout{2000};
constexpr milliseconds command_pause{30};
/// After a rejected frame the answer proper may still follow (an echo, noise from switching the cable).
constexpr milliseconds grace_after_rejection{250};
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
  return definition_.poll || !definition_.start_commands.empty() || !definition_.functions.empty() ||
         is_scpi();
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

asio::awaitable<std::optional<std::string>> LinkSession::ask(Self self, Line line, std::string question,
                                                             std::function<bool(const std::string&)> fits,
                                                             double timeout_s) {
  line->lines.clear();
  line->partial_line.clear();
  line->listener = Connection::Listener::dialogue;
  std::optional<std::string> answer;
  const std::string message = question + self->line_end_;
  const bool said = co_await say(self, line, message);
  const SteadyTime deadline = in(timeout_s);
  const Condition line_came = [c = line.get()] { return !c->lines.empty(); };
  while (said && !answer) {
    const bool came = co_await wait_for(self, line, line_came, deadline);
    if (!came) break;
    const std::string text = without_prompt(line->lines.front());
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
    if (self->selection_pending_) {
      co_await apply_selection(self, line);
      continue;
    }
    const bool polls = self->definition_.poll.has_value();
    const SteadyTime deadline = polls ? next_request : steady_clock::now() + for_ever;
    const bool waits = co_await wait_for(self, line, something_waits, deadline);
    if (waits || !polls || self->over(*line)) continue;
    next_request = in(self->definition_.poll->every_s);
    co_await poll_once(self, line);
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
  if (!self->is_scpi()) co_return;
  const std::string identity_query = "*IDN?";
  const std::optional<std::string> identity =
      co_await ask(self, line, identity_query, is_identity, identity_timeout_s);
  if (self->over(*line)) co_return;
  if (identity) self->identity_ = terminal_safe(*identity).substr(0, 200);
  const std::string occasion = "starting";
  const int before = self->error_answers_;
  (void)co_await drain_errors(self, line, occasion, Complain::but_undefined_headers, most_old_errors);
  // A reading may take its time, but a meter that is there answers one of these two at once.
  if (!self->over(*line) && !identity && self->error_answers_ == before)
    self->tell_silence(*line, "no answer from " + self->endpoint_->name() + " to *IDN? and SYST:ERR?");
}

asio::awaitable<LinkSession::Drained> LinkSession::drain_errors(Self self, Line line, std::string after,
                                                                Complain complain, int at_most) {
  Drained drained;
  const int stray_before = self->stray_lines_;
  const bool old = at_most == most_old_errors;
  const std::string error_query = "SYST:ERR?";
  std::vector<std::string> errors;
  int i = 0;
  for (; line->has_error_queue && i < at_most; ++i) {
    const std::optional<std::string> answer =
        co_await ask(self, line, error_query, is_error_entry, error_timeout_s);
    if (self->over(*line)) co_return drained;
    if (!answer) {
      // Who names itself but keeps no error queue need not be asked again.
      if (i == 0 && !self->identity_.empty() && self->stray_lines_ == stray_before)
        line->has_error_queue = false;
      break;
    }
    ++self->error_answers_;
    ++drained.answers;
    const std::optional<ErrorEntry> entry = error_entry(*answer);
    if (entry->code == 0) break;
    drained.command_error |= is_command_error(entry->code);
    if (complain == Complain::but_undefined_headers && entry->code == undefined_header) continue;
    errors.push_back(fmt::format("{} {}", entry->code, terminal_safe(entry->text)));
  }
  drained.stray_lines = self->stray_lines_ - stray_before;
  if (i == at_most) {
    errors.resize(std::min<std::size_t>(errors.size(), 3));
    errors.push_back("more without end");
  }
  drained.errors = joined_with_and(errors);
  if (complain == Complain::not_at_all) co_return drained;
  const std::string told = errors.empty() ? "" : after + drained.errors;
  if (!errors.empty() && told != self->errors_told_)
    self->tell_again(
        old ? fmt::format("the meter's error queue held this from before: {}", drained.errors)
            : fmt::format(
                  "the meter reports an error after {}: {}; compare the commands in definition {} with "
                  "the meter's manual",
                  after, drained.errors, self->definition_.id));
  self->errors_told_ = told;
  co_return drained;
}

bool LinkSession::asks_by_itself(Quantity quantity) const {
  const FunctionCommands* function = definition_.function_for(quantity);
  if (!function || function->request.empty()) return false;
  const auto tried = own_request_.find(quantity);
  return tried == own_request_.end() || tried->second == OwnRequest::answers;
}

asio::awaitable<void> LinkSession::apply_selection(Self self, Line line) {
  const Quantity quantity = *self->selected_;
  self->selection_pending_ = false;
  const bool streams = !self->definition_.poll && !self->is_scpi();
  const FunctionCommands* function = self->definition_.function_for(quantity);
  if (function && !self->asks_by_itself(quantity)) {
    if (!streams) line->listener = Connection::Listener::nobody;
    for (const std::string& command : function->send) {
      const std::string message = command + self->line_end_;
      const bool said = co_await say(self, line, message);
      if (!said) co_return;
    }
    if (self->is_scpi()) {
      const std::string what = "selecting " + std::string{name_of(quantity)};
      (void)co_await drain_errors(self, line, what, Complain::about_all, most_errors);
    }
  }
  // Another select() in the meantime: its commands come first.
  if (self->over(*line) || self->selection_pending_) co_return;
  self->decoder_->selected(quantity);
  self->decoder_->reset();
  line->readings_stale = false;
  line->listener = self->definition_.poll ? Connection::Listener::nobody : Connection::Listener::decoder;
}

asio::awaitable<void> LinkSession::obey_order(Self self, Line line) {
  line->listener = Connection::Listener::nobody;
  const std::vector<std::string> commands = self->orders_.front().commands;
  for (const std::string& command : commands) {
    const std::string message = command + self->line_end_;
    const bool said = co_await say(self, line, message);
    if (!said) co_return;  // the link is lost or stuck: the order stays
  }
  Drained drained;
  if (self->is_scpi()) {
    const std::string what = commands.empty() ? "an order" : commands.front();
    drained = co_await drain_errors(self, line, what, Complain::not_at_all, most_errors);
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

std::string LinkSession::request() const {
  if (!selected_ || !asks_by_itself(*selected_)) return definition_.poll->request;
  return definition_.function_for(*selected_)->request + line_end_;
}

asio::awaitable<void> LinkSession::wait_for_reading(Self self, Line line, SteadyTime deadline) {
  const bool may_end_in_cr = self->is_scpi();
  const Condition answered = [c = line.get()] { return c->answered; };
  const Condition anything = [c = line.get(), may_end_in_cr] {
    return c->answered || c->rejected || (may_end_in_cr && c->ends_in_cr);
  };
  const Condition goes_on = [c = line.get()] { return c->answered || c->rejected || !c->ends_in_cr; };
  while (!line->answered && !line->rejected) {
    const bool came = co_await wait_for(self, line, anything, deadline);
    if (!came) co_return;
    if (line->answered || line->rejected) break;
    // Some meters end their lines with CR alone.
    const SteadyTime soon = std::min(deadline, steady_clock::now() + line_feed_follows);
    const bool more = co_await wait_for(self, line, goes_on, soon);
    if (self->over(*line)) co_return;
    if (!more) self->decode(*line, "\n", self->clock_.now());
    if (self->over(*line)) co_return;
  }
  if (line->answered) co_return;
  const SteadyTime grace = std::min(deadline, steady_clock::now() + grace_after_rejection);
  (void)co_await wait_for(self, line, answered, grace);
}

asio::awaitable<void> LinkSession::poll_once(Self self, Line line) {
  const PollSettings& poll = *self->definition_.poll;
  const std::string request = self->request();
  const std::optional<Quantity> selected = self->selected_;
  self->decoder_->reset();
  line->answered = false;
  line->rejected = false;
  line->ends_in_cr = false;
  line->listener = Connection::Listener::decoder;
  const bool said = co_await say(self, line, request);
  const SteadyTime deadline = in(poll.timeout_s);
  if (said) co_await wait_for_reading(self, line, deadline);
  line->listener = Connection::Listener::nobody;
  if (self->over(*line)) co_return;
  if (line->answered) {
    if (selected && request != poll.request) self->own_request_[*selected] = OwnRequest::answers;
    co_return;
  }
  self->endpoint_->discard_input(line->stream.native_handle());
  self->decoder_->reset();
  if (self->is_scpi()) {
    const bool another_try = co_await unanswered(self, line, request, selected);
    if (self->over(*line) || another_try) co_return;
  }
  const double waited_s = std::chrono::duration<double>(steady_clock::now() - self->last_valid_).count();
  if (waited_s >= self->definition_.link.silent_after_s)
    self->tell_silence(*line, said ? fmt::format("no answer from {} to {} within {:g} s",
                                                 self->endpoint_->name(), printable(request), poll.timeout_s)
                                   : fmt::format("{} does not take commands", self->endpoint_->name()));
}

/// A failed query answers nothing: the error queue says why, and there may be another way to ask, which is
/// then tried.
asio::awaitable<bool> LinkSession::unanswered(Self self, Line line, std::string request,
                                              std::optional<Quantity> selected) {
  const std::string what = printable(request);
  const FunctionCommands* function = selected ? self->definition_.function_for(*selected) : nullptr;
  const bool own = function && request != self->definition_.poll->request;
  const bool other_way = own && !function->send.empty();
  const Complain complain = other_way ? Complain::not_at_all : Complain::about_all;
  const Drained drained = co_await drain_errors(self, line, what, complain, most_errors);
  if (self->over(*line)) co_return false;
  if (drained.stray_lines > 0) self->answers_late_ = true;
  if (other_way && self->try_the_other_way(what, *selected, drained)) co_return true;
  if (other_way && !drained.errors.empty())
    self->tell_again(fmt::format("the meter reports an error after {}: {}", what, drained.errors));
  if (!function || own) co_return false;
  // Who lost power stands on another function, and its numbers do not say which: configure before the next
  // request. And who was asked this way only because the other gave nothing is asked the other way again.
  const auto tried = self->own_request_.find(*selected);
  if (tried != self->own_request_.end() && tried->second == OwnRequest::unanswered)
    self->own_request_.erase(tried);
  self->selection_pending_ = true;
  co_return false;
}

/// Configures with the function's commands and asks with the request of [poll] from now on.
bool LinkSession::try_the_other_way(const std::string& request, Quantity quantity, const Drained& drained) {
  if (drained.command_error) {
    own_request_[quantity] = OwnRequest::refused;
    selection_pending_ = true;
    return true;
  }
  // One that has answered before is off or busy; one that is late would be late the other way too.
  if (own_request_.contains(quantity) || drained.stray_lines > 0) return false;
  if (drained.answers == 0 && identity_.empty()) return false;  // nobody is there
  own_request_[quantity] = OwnRequest::unanswered;
  selection_pending_ = true;
  if (std::exchange(other_way_told_, true)) return true;
  tell_again(
      fmt::format("no answer to {} within {:g} s{}: the meter is configured and asked with {} instead",
                  request, definition_.poll->timeout_s,
                  drained.errors.empty() ? " and no error of the meter's" : " (" + drained.errors + ")",
                  printable(definition_.poll->request)));
  return true;
}

void LinkSession::say_goodbye(Connection& line) {
  std::string all;
  for (const std::string& command : definition_.stop_commands) all += command + line_end_;
  if (!all.empty()) write_some(line.stream.native_handle(), endpoint_->encode(all));
}

}  // namespace switchwright
