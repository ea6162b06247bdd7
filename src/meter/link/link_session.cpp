#include "meter/link/link_session.hpp"

#include <fmt/format.h>

#include <array>
#include <boost/asio/buffer.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "core/loop_io.hpp"
#include "meter/link/link_meter.hpp"
#include "meter/link/raw_endpoint.hpp"
#include "meter/link/serial_port.hpp"
#include "meter/link/write_some.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/log.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace asio = boost::asio;
using std::chrono::duration_cast;
using std::chrono::milliseconds;
using std::chrono::steady_clock;

namespace {

constexpr milliseconds first_retry{100};
constexpr std::size_t longest_line = 4096;
constexpr std::size_t longest_quoted = 80;

/// What a callback throws leaves Loop::run().
void pass_on(std::exception_ptr error) {
  if (error) std::rethrow_exception(error);
}

std::string reason_of(const boost::system::error_code& error) {
  return error == asio::error::eof ? "the other side closed it" : system_error_text(error.value());
}

/// Commands end as the definition's request ends; a line feed when there is none.
std::string line_end_of(const MeterDefinition& definition) {
  const std::string request = definition.poll ? definition.poll->request : "";
  if (request.ends_with("\r\n")) return "\r\n";
  return request.ends_with('\r') ? "\r" : "\n";
}

}  // namespace

LinkSession::LinkSession(Loop& loop, const Clock& clock, const MeterDefinition& definition,
                         std::unique_ptr<Endpoint> endpoint, std::unique_ptr<Decoder> decoder, MeterCallbacks callbacks)
    : context_(io_context_of(loop)),
      clock_(clock),
      definition_(definition),
      endpoint_(std::move(endpoint)),
      decoder_(std::move(decoder)),
      callbacks_(std::move(callbacks)),
      line_end_(line_end_of(definition)),
      retry_(context_) {}

void LinkSession::start() {
  first_ = endpoint_->open();
  log(LogLevel::info, [this] {
    return fmt::format("{}: opened for {} ({}{})", endpoint_->name(), definition_.id, line_words(definition_.link),
                       definition_.poll ? ", asked for each reading" : ", the meter sends by itself");
  });
  asio::co_spawn(context_, run(shared_from_this()), pass_on);
}

void LinkSession::select(Quantity quantity) {
  if (stopped_ || !definition_.selects(quantity)) return;
  selected_ = quantity;
  selection_pending_ = true;
  if (!line_) return;
  line_->readings_stale = true;
  line_->wake.cancel();
}

void LinkSession::order(std::vector<std::string> commands, std::function<void(std::string)> done) {
  if (stopped_) return;
  orders_.push_back({std::move(commands), std::move(done)});
  if (!line_) return;
  line_->readings_stale = true;
  line_->wake.cancel();
}

void LinkSession::stop() {
  if (stopped_) return;
  stopped_ = true;
  retry_.cancel();
  endpoint_->cancel();
  if (first_) endpoint_->hang_up(std::move(first_));
  if (!line_ || line_->closed) return;
  const Line line = line_;
  say_goodbye(*line);
  line->closed = true;
  line->wake.cancel();
  line->silence.cancel();
  endpoint_->hang_up(Descriptor{line->stream.release()});
}

asio::awaitable<void> LinkSession::run(Self self) {
  Descriptor fd = std::move(self->first_);
  std::string opened = self->endpoint_->name() + " is open";
  while (!self->stopped_) {
    const Line line = std::make_shared<Connection>(self->context_, fd.release());
    self->line_ = line;
    self->tell(LinkState::open, opened);
    if (self->stopped_) co_return;
    const milliseconds settle = self->endpoint_->settle_time();
    if (settle.count() > 0) {
      boost::system::error_code ignored;
      line->silence.expires_after(settle);
      co_await line->silence.async_wait(asio::redirect_error(asio::use_awaitable, ignored));
      if (self->stopped_) co_return;
    }
    self->endpoint_->discard_input(line->stream.native_handle());
    self->decoder_->reset();
    self->last_valid_ = steady_clock::now();
    self->bytes_since_valid_ = 0;
    self->rejected_at_valid_ = self->decoder_->counts().rejected_total();
    const std::string greeting = self->endpoint_->greeting();
    if (!greeting.empty()) (void)co_await send(self, line, greeting);
    if (!self->definition_.poll) self->watch(line);
    if (self->talks()) asio::co_spawn(self->context_, talk(self, line), pass_on);

    const std::string reason = co_await read_until_lost(self, line);
    if (self->stopped_) co_return;
    line->closed = true;
    line->wake.cancel();
    line->silence.cancel();
    self->endpoint_->hang_up(Descriptor{line->stream.release()});
    self->line_.reset();
    self->held_.clear();
    const SteadyTime lost_at = steady_clock::now();
    self->tell(LinkState::lost,
               fmt::format("the link to {} is lost ({}): {}; the tool looks for it and goes on by itself",
                           self->endpoint_->name(), reason, self->endpoint_->loss_advice()));
    if (self->stopped_) co_return;
    fd = co_await look_again(self);
    const double gap_s = std::chrono::duration<double>(steady_clock::now() - lost_at).count();
    opened = fmt::format("{} is open again after {:.1f} s", self->endpoint_->name(), gap_s);
  }
}

asio::awaitable<std::string> LinkSession::read_until_lost(Self self, Line line) {
  std::array<char, 1024> buffer;
  int false_alarms = 0;
  for (;;) {
    boost::system::error_code error;
    const std::size_t count =
        co_await line->stream.async_read_some(asio::buffer(buffer), asio::redirect_error(asio::use_awaitable, error));
    if (self->stopped_) co_return std::string{};
    if (!line->end_reason.empty()) co_return line->end_reason;
    if (!error) {
      false_alarms = 0;
      self->received(*line, std::string_view{buffer.data(), count});
      if (self->stopped_) co_return std::string{};
      if (!line->end_reason.empty()) co_return line->end_reason;
      continue;
    }
    // Reading again at once, again and again, would burn a whole core.
    if (++false_alarms > 3 || !self->endpoint_->still_there(line->stream.native_handle())) co_return reason_of(error);
    boost::system::error_code ignored;
    self->retry_.expires_after(milliseconds{50});
    co_await self->retry_.async_wait(asio::redirect_error(asio::use_awaitable, ignored));
    if (self->stopped_) co_return std::string{};
  }
}

asio::awaitable<Descriptor> LinkSession::look_again(Self self) {
  milliseconds delay = first_retry;
  std::string told;
  std::string before;
  while (!self->stopped_) {
    boost::system::error_code ignored;
    self->retry_.expires_after(delay);
    co_await self->retry_.async_wait(asio::redirect_error(asio::use_awaitable, ignored));
    if (self->stopped_) break;
    std::string problem;
    try {
      Descriptor fd = co_await self->endpoint_->reopen();
      co_return std::move(fd);
    } catch (const Error& error) {
      problem = error.what();
    }
    // The first answer is "not there" by nature; a port that is there but stays out of reach deserves a word.
    // Once is not enough: a new device belongs to nobody until the system has set its rights.
    if (told.empty()) told = problem;
    if (problem == before && problem != told && !self->stopped_) {
      told = problem;
      self->tell(LinkState::lost, problem);
    }
    before = problem;
    delay = std::min(self->endpoint_->slowest_retry(), delay * 3 / 2);
  }
  co_return Descriptor{};
}

void LinkSession::received(Connection& line, std::string_view bytes) {
  const Instant at = clock_.now();
  std::string reply;
  std::string arrived = endpoint_->receive(bytes, reply);
  if (!reply.empty()) write_some(line.stream.native_handle(), reply);
  if (std::string complaint = endpoint_->complaint(); !complaint.empty()) tell_again(std::move(complaint));
  if (stopped_ || arrived.empty()) return;
  log(LogLevel::debug, [&] { return fmt::format("{}: received {}", endpoint_->name(), log_bytes(arrived)); });
  if (callbacks_.bytes) callbacks_.bytes(arrived, at);
  if (stopped_) return;
  if (drops_eighth_bit(definition_))
    for (char& c : arrived) c = static_cast<char>(c & 0x7F);
  bytes_since_valid_ += arrived.size();
  switch (line.listener) {
    case Connection::Listener::nobody: break;
    case Connection::Listener::dialogue: collect_lines(line, arrived); break;
    case Connection::Listener::decoder: decode(line, arrived, at); break;
  }
}

void LinkSession::decode(Connection& line, std::string_view bytes, Instant at) {
  const std::uint64_t rejected_before = decoder_->counts().rejected_total();
  readings_.clear();
  if (line.since_request.size() < longest_quoted)
    line.since_request.append(bytes.substr(0, longest_quoted - line.since_request.size()));
  decoder_->feed(bytes, at, readings_);
  if (const auto rejected = decoder_->counts().rejected_total(); rejected != rejected_before) {
    line.rejected = true;
    log(LogLevel::debug, [&] {
      return fmt::format("{}: {} frames rejected so far ({})", endpoint_->name(), rejected, rejection_words());
    });
  }
  if (!readings_.empty()) {
    line.answered = true;
    last_valid_ = steady_clock::now();
    bytes_since_valid_ = 0;
    answers_late_ = false;
    rejected_at_valid_ = decoder_->counts().rejected_total();
    if (state_ != LinkState::alive) tell(LinkState::alive, "valid frames arrive from " + endpoint_->name());
    const bool to_be_proven = is_scpi() && definition_.poll;
    if (to_be_proven) held_.insert(held_.end(), readings_.begin(), readings_.end());
    for (const Reading& reading : readings_) {
      if (to_be_proven) break;
      // select() inside a callback makes the rest of the batch stale too.
      if (stopped_ || (definition_.poll && line.readings_stale)) break;
      if (callbacks_.reading) callbacks_.reading(reading);
    }
  }
  line.ends_in_cr = bytes.ends_with('\r');
  if (!stopped_ && (line.answered || line.rejected || line.ends_in_cr)) line.wake.cancel();
}

void LinkSession::collect_lines(Connection& line, std::string_view bytes) {
  for (const char c : bytes) {
    if (c != '\n' && c != '\r') {
      if (line.partial_line.size() < longest_line) line.partial_line += c;
      continue;
    }
    if (!line.partial_line.empty()) line.lines.push_back(std::move(line.partial_line));
    line.partial_line.clear();
  }
  if (!line.lines.empty()) line.wake.cancel();
}

void LinkSession::watch(const Line& line) {
  const auto limit = duration_cast<steady_clock::duration>(from_seconds(definition_.link.silent_after_s));
  const SteadyTime now = steady_clock::now();
  line->silence.expires_at(now - last_valid_ < limit ? last_valid_ + limit : now + limit);
  line->silence.async_wait([self = shared_from_this(), line, limit](const boost::system::error_code& error) {
    if (error || self->over(*line)) return;
    if (steady_clock::now() - self->last_valid_ >= limit)
      self->tell_silence(*line, fmt::format("nothing received from {} for {:g} s", self->endpoint_->name(),
                                            self->definition_.link.silent_after_s));
    if (!self->over(*line)) self->watch(line);
  });
}

void LinkSession::tell_silence(Connection& line, std::string nothing_came) {
  if (endpoint_->gone(line.stream.native_handle())) {
    line.end_reason = "the device is gone";
    line.stream.cancel();
    return;
  }
  const bool had_bytes = bytes_since_valid_ > 0 || answers_late_;
  if (state_ == LinkState::silent && had_bytes == silence_had_bytes_) return;
  silence_had_bytes_ = had_bytes;
  tell(LinkState::silent, had_bytes ? what_arrived() : nothing_came + ": " + endpoint_->silence_advice());
}

std::string LinkSession::what_arrived() const {
  const auto& counts = decoder_->counts();
  const std::uint64_t rejected = counts.rejected_total() - rejected_at_valid_;
  if (answers_late_ && definition_.poll)
    return fmt::format("the meter answers, but later than {:g} s: raise [poll] timeout_s in the meter definition",
                       definition_.poll->timeout_s);
  std::string most;
  std::uint64_t most_count = 0;
  for (const auto& [why, count] : counts.rejected)
    if (count > most_count) most = why, most_count = count;
  const auto seen = counts.examples.find(most);
  const std::string example = seen == counts.examples.end() ? "" : ", like \"" + terminal_safe(seen->second) + "\"";
  return fmt::format(
      "{} bytes received from {} but no valid frame ({} rejected{}): the speed or the meter definition is "
      "wrong ({}, {}); "
      "`switchwright meters find --port {}` tries them all",
      bytes_since_valid_, endpoint_->name(), rejected, rejected > 0 ? ", mostly " + most + example : "", definition_.id,
      line_words(definition_.link), endpoint_->name());
}

/// "torn frame 3, checksum 1"
std::string LinkSession::rejection_words() const {
  std::string out;
  for (const auto& [why, count] : decoder_->counts().rejected)
    if (count > 0) out += fmt::format("{}{} {}", out.empty() ? "" : ", ", why, count);
  return out;
}

void LinkSession::tell(LinkState state, std::string detail) {
  state_ = state;
  log(LogLevel::info, [&] { return endpoint_->name() + ": " + detail; });
  if (callbacks_.link) callbacks_.link(LinkChange{state, std::move(detail), clock_.now(), false});
}

void LinkSession::tell_again(std::string detail) {
  if (callbacks_.link) callbacks_.link(LinkChange{state_, std::move(detail), clock_.now(), true});
}

namespace {

class LinkMeter final : public Meter {
 public:
  explicit LinkMeter(std::shared_ptr<LinkSession> session) : session_(std::move(session)) {}
  ~LinkMeter() override { session_->stop(); }
  LinkMeter(const LinkMeter&) = delete;
  LinkMeter& operator=(const LinkMeter&) = delete;
  void select(Quantity quantity) override { session_->select(quantity); }
  void order(std::vector<std::string> commands, std::function<void(std::string)> done) override {
    session_->order(std::move(commands), std::move(done));
  }
  void stop() override { session_->stop(); }
  const FrameCounts& counts() const override { return session_->counts(); }
  std::string identity() const override { return session_->identity(); }

 private:
  std::shared_ptr<LinkSession> session_;
};

}  // namespace

std::unique_ptr<Meter> open_link_meter(Loop& loop, const Clock& clock, const MeterDefinition& definition,
                                       const std::string& port, std::unique_ptr<Decoder> decoder,
                                       MeterCallbacks callbacks) {
  auto endpoint = is_raw_port(port) ? make_raw_endpoint(port, definition)
                                    : make_endpoint(io_context_of(loop), port, definition.link);
  return open_link_meter(loop, clock, definition, std::move(endpoint), std::move(decoder), std::move(callbacks));
}

std::unique_ptr<Meter> open_link_meter(Loop& loop, const Clock& clock, const MeterDefinition& definition,
                                       std::unique_ptr<Endpoint> endpoint, std::unique_ptr<Decoder> decoder,
                                       MeterCallbacks callbacks) {
  auto session = std::make_shared<LinkSession>(loop, clock, definition, std::move(endpoint), std::move(decoder),
                                               std::move(callbacks));
  session->start();
  return std::make_unique<LinkMeter>(std::move(session));
}

}  // namespace switchwright
