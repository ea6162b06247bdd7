// Asking for readings: one request, its answer, and what is done when none comes. A failed query answers nothing
// (IEEE 488.2), so the error queue is looked into then; there may be another way to ask.
#include <fmt/format.h>

#include <utility>

#include "meter/link/dialogue_text.hpp"
#include "meter/link/link_session.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace asio = boost::asio;
using std::chrono::milliseconds;
using std::chrono::steady_clock;

namespace {

/// A meter that ends its lines with CR alone sends no LF after it for this long.
constexpr milliseconds line_feed_follows{40};
/// After a rejected frame the answer proper may still follow (an echo, noise from switching the cable).
constexpr milliseconds grace_after_rejection{250};
/// A query that will probably be refused gets this long before the error queue is asked.
constexpr milliseconds doubt_time{1000};
constexpr std::chrono::seconds error_timeout{2};

using Condition = std::function<bool()>;

}  // namespace

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

/// The meter could not be configured, so it may well refuse the query too, and then only its error queue says so.
/// One that is measuring after all gives the reading first.
asio::awaitable<void> LinkSession::wait_in_doubt(Self self, Line line, SteadyTime deadline) {
  const Quantity quantity = *std::exchange(line->doubted, std::nullopt);
  const SteadyTime soon = std::min(deadline, steady_clock::now() + doubt_time);
  co_await wait_for_reading(self, line, soon);
  if (self->over(*line) || line->answered || line->rejected) co_return;
  const Fits anything = [](const std::string&) { return true; };
  const Fits entry_only = [](const std::string& text) { return error_entry(text).has_value(); };
  const std::string error_query = "SYST:ERR?";
  const double left_s = std::chrono::duration<double>(deadline - steady_clock::now()).count();
  std::optional<std::string> text = co_await ask(self, line, error_query, anything, left_s);
  if (self->over(*line) || !text) co_return;
  if (!error_entry(*text)) {
    self->decode(*line, *text + "\n", self->clock_.now());
    const SteadyTime entry_by = steady_clock::now() + error_timeout;
    text = co_await await_answer(self, line, error_query, entry_only, entry_by);
    if (self->over(*line)) co_return;
  }
  const std::optional<ErrorEntry> entry = text ? error_entry(*text) : std::nullopt;
  if (!entry || !is_refusal(entry->code) || line->answered) co_return;
  self->own_request_[quantity] = OwnRequest::refused;
  self->selection_pending_ = true;
}

asio::awaitable<void> LinkSession::poll_once(Self self, Line line) {
  const PollSettings& poll = *self->definition_.poll;
  const std::string request = self->request();
  const std::optional<Quantity> selected = self->selected_;
  const FunctionCommands* function = selected ? self->definition_.function_for(*selected) : nullptr;
  const bool own_request = request != poll.request;
  self->decoder_->reset();
  self->held_.clear();
  line->answered = false;
  line->rejected = false;
  line->ends_in_cr = false;
  line->errors_may_wait = true;
  line->since_request.clear();
  line->listener = Connection::Listener::decoder;
  const bool said = co_await say(self, line, request);
  const SteadyTime deadline =
      steady_clock::now() + std::chrono::duration_cast<steady_clock::duration>(from_seconds(poll.timeout_s));
  const bool in_doubt = selected && line->doubted == selected;
  if (said && in_doubt)
    co_await wait_in_doubt(self, line, deadline);
  else if (said)
    co_await wait_for_reading(self, line, deadline);
  line->listener = Connection::Listener::nobody;
  if (self->over(*line)) co_return;
  if (line->answered) {
    if (selected && own_request) self->own_request_[*selected] = OwnRequest::answers;
    if (!self->is_scpi()) co_return;
    if (!line->introduced) {
      co_await ask_who_it_is(self, line);
      if (!line->introduced) line->has_error_queue = false;
      line->introduced = true;
    }
    bool believed = !self->over(*line);
    if (believed && function) believed = co_await is_reading_of(self, line, *function, own_request);
    if (believed) self->deliver(*line);
    co_return;
  }
  if (self->selection_pending_ && in_doubt) co_return;
  self->endpoint_->discard_input(line->stream.native_handle());
  self->decoder_->reset();
  if (line->rejected) self->tell_strange_words(*line, request);
  if (self->is_scpi()) {
    const bool another_try = co_await unanswered(self, line, request, selected);
    if (self->over(*line) || another_try) co_return;
  }
  const double waited_s = std::chrono::duration<double>(steady_clock::now() - self->last_valid_).count();
  if (waited_s >= self->definition_.link.silent_after_s)
    self->tell_silence(*line, said ? fmt::format("no answer from {} to {} within {:g} s", self->endpoint_->name(),
                                                 printable(request), poll.timeout_s)
                                   : fmt::format("{} does not take commands", self->endpoint_->name()));
}

/// Gives on what is proven. One number was asked for: what comes behind it is of a second display.
void LinkSession::deliver(const Connection& line) {
  const std::vector<Reading> readings = std::exchange(held_, {});
  if (readings.empty() || stopped_ || line.readings_stale) return;
  if (callbacks_.reading) callbacks_.reading(readings.front());
}

/// What is neither a number nor a word of the definition, as it came.
void LinkSession::tell_strange_words(const Connection& line, const std::string& request) {
  std::string told = fmt::format(
      "the meter answers \"{}\" to {}: no number, and no word of definition {}; if it means over-range, enter it "
      "under [decoder.words]",
      printable(line.since_request), printable(request), definition_.id);
  if (!is_scpi() || std::exchange(strange_told_, told) == told) return;
  tell_again(std::move(told));
}

/// The error queue says why nothing came, and there may be another way to ask, which is then tried.
asio::awaitable<bool> LinkSession::unanswered(Self self, Line line, std::string request,
                                              std::optional<Quantity> selected) {
  const std::string what = printable(request);
  const FunctionCommands* function = selected ? self->definition_.function_for(*selected) : nullptr;
  const bool own = function && request != self->definition_.poll->request;
  const bool other_way = own && !function->send.empty();
  const Complain complain = own ? Complain::not_at_all : Complain::about_all;
  const Drained drained = co_await drain_errors(self, line, what, complain);
  if (self->over(*line)) co_return false;
  line->in_step = drained.answers > 0;
  line->stands_on.reset();
  if (drained.stray_lines > 0) self->answers_late_ = true;
  if (other_way && self->try_the_other_way(what, *selected, drained)) co_return true;
  if (own && !other_way && drained.refused) {
    self->refuse(*line, *function, fmt::format("after {} it reports {}", what, drained.errors));
    co_return true;
  }
  if (own && !drained.errors.empty())
    self->tell_again(fmt::format("the meter reports an error after {}: {}", what, drained.errors));
  if (!function || own) co_return false;
  // Who lost power stands on another function, and its numbers do not say which: configure before the next
  // request. And who was asked this way only because the other gave nothing is asked the other way again.
  const auto tried = self->own_request_.find(*selected);
  if (tried != self->own_request_.end() && tried->second == OwnRequest::unanswered) self->own_request_.erase(tried);
  self->selection_pending_ = true;
  co_return false;
}

/// Configures with the function's commands and asks with the request of [poll] from now on.
bool LinkSession::try_the_other_way(const std::string& request, Quantity quantity, const Drained& drained) {
  if (drained.refused) {
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
  tell_again(fmt::format("no answer to {} within {:g} s{}: the meter is configured and asked with {} instead", request,
                         definition_.poll->timeout_s,
                         drained.errors.empty() ? " and no error of the meter's" : " (" + drained.errors + ")",
                         printable(definition_.poll->request)));
  return true;
}

}  // namespace switchwright
