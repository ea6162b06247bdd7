// One live link, from the first open to stop(): reads, decodes, watches for silence, notices the loss, looks
// for the device again. What is said to the meter is in link_dialogue.cpp, how a function is set and proven in
// link_function.cpp, how readings are asked for in link_poll.cpp.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/steady_timer.hpp>
#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "meter/link/endpoint.hpp"
#include "switchwright/meter/meter.hpp"

namespace switchwright {

/// One opening of the port; a new one after each loss, so that nothing waits on the wrong descriptor.
struct Connection {
  Connection(boost::asio::io_context& context, int fd) : stream(context, fd), wake(context), silence(context) {}

  enum class Listener {
    nobody,  ///< what arrives belongs to nothing that was asked: dropped
    decoder,
    dialogue,  ///< whole lines, for answers that are not readings
  };

  boost::asio::posix::stream_descriptor stream;
  boost::asio::steady_timer wake;  ///< the dialogue sleeps on it and is woken by what arrives
  boost::asio::steady_timer silence;
  bool closed = false;
  std::string end_reason;  ///< why it was given up, when it was not the read that failed

  Listener listener = Listener::decoder;
  std::string partial_line;
  std::deque<std::string> lines;
  bool answered = false;        ///< a reading came since the last request
  bool rejected = false;        ///< a frame was rejected since the last request
  bool ends_in_cr = false;      ///< the latest byte is a carriage return: a line feed may follow or not
  bool has_error_queue = true;  ///< SYST:ERR? is answered
  bool readings_stale = false;  ///< the request was sent before the latest select(): its answer is dropped
  std::string since_request;    ///< what has come since the last request, its beginning

  // What is known of a SCPI meter on this opening of the line.
  bool introduced = false;          ///< it has answered *IDN? or SYST:ERR?, or is known to answer neither
  bool in_step = true;              ///< it owes no answer to an earlier request
  bool errors_may_wait = false;     ///< it was asked for a reading since its error queue was last seen empty
  bool errors_answered = false;     ///< its error queue has been read
  bool errors_without_end = false;  ///< its error queue never empties: it is not read to its end again
  enum class AsksBack { unknown, yes, no };
  AsksBack asks_back = AsksBack::unknown;  ///< it says on which function it stands
  std::string function_query;              ///< the query that it answers so
  std::optional<Quantity> stands_on;       ///< it has said so, or has answered a query that names it
  std::optional<Quantity> doubted;         ///< could not be configured: the function's own query may be refused too
  std::optional<Quantity> asked_again;     ///< by its own query, after one that gave nothing
  int asked_in_vain = 0;                   ///< for its function, without an error
  int went_elsewhere = 0;  ///< readings in a row after which it stood on another function than it was set to
};

/// Thread rule: lives on the loop's thread. Shared by its coroutines: it outlives the Meter that it serves
/// until they end.
class LinkSession : public std::enable_shared_from_this<LinkSession> {
 public:
  LinkSession(Loop& loop, const Clock& clock, const MeterDefinition& definition, std::unique_ptr<Endpoint> endpoint,
              std::unique_ptr<Decoder> decoder, MeterCallbacks callbacks);

  /// Opens the port now (@throws Error) and starts to work when the loop runs.
  void start();
  void select(Quantity quantity);
  void order(std::vector<std::string> commands, std::function<void(std::string)> done);
  void stop();
  const FrameCounts& counts() const { return decoder_->counts(); }
  const std::string& identity() const { return identity_; }

 private:
  using Self = std::shared_ptr<LinkSession>;
  using Line = std::shared_ptr<Connection>;
  template <typename T = void>
  using awaitable = boost::asio::awaitable<T>;
  using SteadyTime = std::chrono::steady_clock::time_point;

  // link_session.cpp
  static awaitable<> run(Self self);
  static awaitable<std::string> read_until_lost(Self self, Line line);
  static awaitable<Descriptor> look_again(Self self);
  void received(Connection& line, std::string_view bytes);
  void decode(Connection& line, std::string_view bytes, Instant at);
  void collect_lines(Connection& line, std::string_view bytes);
  void watch(const Line& line);
  void tell_silence(Connection& line, std::string nothing_came);
  void tell(LinkState state, std::string detail);
  void tell_again(std::string detail);
  std::string what_arrived() const;
  std::string rejection_words() const;

  // link_dialogue.cpp
  static awaitable<> talk(Self self, Line line);
  static awaitable<bool> wait_for(Self self, Line line, std::function<bool()> condition, SteadyTime deadline);
  /// @returns false when the link ended or does not take bytes.
  static awaitable<bool> send(Self self, Line line, std::string bytes);
  /// The same for bytes that are meant for the meter and not for the link.
  static awaitable<bool> say(Self self, Line line, std::string bytes);
  using Fits = std::function<bool(const std::string&)>;
  /// Sends a query and waits for the first line that fits; nothing when none comes in time.
  static awaitable<std::optional<std::string>> ask(Self self, Line line, std::string question, Fits fits,
                                                   double timeout_s);
  static awaitable<std::optional<std::string>> await_answer(Self self, Line line, std::string question, Fits fits,
                                                            SteadyTime deadline);
  static awaitable<> introduce(Self self, Line line);
  static awaitable<> ask_who_it_is(Self self, Line line);
  static awaitable<> obey_order(Self self, Line line);
  /// Which entries of the error queue the user is told.
  enum class Complain { about_all, but_undefined_headers, of_a_measurement, not_at_all };
  struct Drained {
    int answers = 0;       ///< of the error queue
    int stray_lines = 0;   ///< that came meanwhile (late readings)
    std::string errors;    ///< in words; empty: none
    bool refused = false;  ///< the meter did not do what it was told
  };
  static awaitable<Drained> drain_errors(Self self, Line line, std::string after, Complain complain);
  std::string complaint(Complain complain, const std::string& after, const std::string& errors) const;
  static awaitable<bool> get_in_step(Self self, Line line);

  // link_function.cpp
  static awaitable<> apply_selection(Self self, Line line);
  static awaitable<> set_function(Self self, Line line, FunctionCommands function);
  static awaitable<std::optional<std::string>> function_now(Self self, Line line);
  static awaitable<bool> is_reading_of(Self self, Line line, FunctionCommands function, bool own_request);
  void refuse(Connection& line, const FunctionCommands& function, const std::string& why);
  bool asks_by_itself(Quantity quantity) const;
  std::string what_selects(const FunctionCommands& function) const;
  std::string does_not_say() const;

  // link_poll.cpp
  static awaitable<> poll_once(Self self, Line line);
  static awaitable<> wait_for_reading(Self self, Line line, SteadyTime deadline);
  static awaitable<> wait_in_doubt(Self self, Line line, SteadyTime deadline);
  static awaitable<bool> unanswered(Self self, Line line, std::string request, std::optional<Quantity> selected);
  bool try_the_other_way(const std::string& request, Quantity quantity, const Drained& drained);
  void deliver(const Connection& line);
  void tell_strange_words(const Connection& line, const std::string& request);
  std::string request() const;
  void say_goodbye(Connection& line);
  bool talks() const;
  bool is_scpi() const { return definition_.decoder.kind == "scpi"; }
  bool over(const Connection& line) const { return stopped_ || line.closed || !line.end_reason.empty(); }

  boost::asio::io_context& context_;
  const Clock& clock_;
  const MeterDefinition definition_;
  std::unique_ptr<Endpoint> endpoint_;
  std::unique_ptr<Decoder> decoder_;
  MeterCallbacks callbacks_;
  std::string line_end_;

  bool stopped_ = false;
  Line line_;
  boost::asio::steady_timer retry_;
  Descriptor first_;  ///< opened by start(), handed over when the loop runs

  LinkState state_ = LinkState::open;
  SteadyTime last_valid_;  ///< or since when one is waited for
  std::uint64_t bytes_since_valid_ = 0;
  std::uint64_t rejected_at_valid_ = 0;
  bool silence_had_bytes_ = false;
  bool answers_late_ = false;
  std::vector<Reading> readings_;  ///< kept to spare an allocation per frame
  std::vector<Reading> held_;      ///< SCPI: answers that are not yet known to be of the function asked for

  std::optional<Quantity> selected_;
  bool selection_pending_ = false;
  /// What became of a function's own request (SCPI: MEAS:RES?); not listed: not tried yet.
  enum class OwnRequest { answers, refused, unanswered };
  std::map<Quantity, OwnRequest> own_request_;
  bool refused_ = false;  ///< the selected function cannot be set: nothing is asked for until the next select()
  bool other_way_told_ = false;
  std::string strange_told_;
  struct Order {
    std::vector<std::string> commands;
    std::function<void(std::string)> done;
  };
  std::deque<Order> orders_;
  std::string identity_;
  std::string errors_told_;
  int stray_lines_ = 0;    ///< lines that answered nothing that was asked
  int error_answers_ = 0;  ///< answers from the error queue
};

}  // namespace switchwright
