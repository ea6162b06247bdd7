// Hands of a simulated bench, reached over its local socket. Each request gets one answer; a bench that goes
// away or talks nonsense fails every open request with a sentence instead of leaving the session waiting for
// ever.
#include <boost/asio/buffer.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/write.hpp>
#include <deque>
#include <map>
#include <nlohmann/json.hpp>

#include "core/loop_io.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/hands/hands.hpp"

namespace switchwright {

namespace {

namespace asio = boost::asio;
using asio::local::stream_protocol;
using boost::system::error_code;
using nlohmann::json;

constexpr std::size_t longest_line = 16 * 1024;
constexpr std::size_t longest_socket_path = 107;
/// A slow meter gives a reading every few seconds; past this the bench hangs.
constexpr std::chrono::seconds longest_wait{60};
const char* const start_again = "start \"switchwright simulate\" again and give the socket it prints";

const char* probes_word(Probes probes) {
  switch (probes) {
    case Probes::off: return "off";
    case Probes::shorted: return "shorted";
    case Probes::on_pair: return "pair";
    case Probes::on_known_source: return "known-source";
  }
  return "off";
}

std::string line_of(int id, const Arrangement& arrangement) {
  json message{{"id", id}, {"probes", probes_word(arrangement.probes)}, {"dial", name_of(arrangement.dial)}};
  if (arrangement.probes == Probes::on_pair) message["pair"] = {arrangement.pair.first(), arrangement.pair.second()};
  if (!arrangement.position.empty()) message["position"] = arrangement.position;
  if (arrangement.power) message["power"] = *arrangement.power ? "on" : "off";
  if (arrangement.current) {
    message["current"] = name_of(*arrangement.current);
    message["amps"] = arrangement.current_a;
  }
  return message.dump(-1, ' ', true, json::error_handler_t::replace) + "\n";
}

struct Link : std::enable_shared_from_this<Link> {
  struct Request {
    std::function<void()> done;
    std::function<void(std::string)> labelled;  ///< instead of done, of a unit
    std::function<void(std::string)> failed;
    Loop::Timer too_late;
  };

  explicit Link(Loop& the_loop) : loop(the_loop), socket(io_context_of(the_loop)) {}

  void arrange(const Arrangement& arrangement, std::function<void()> done, std::function<void(std::string)> failed) {
    const int id = ++last_id;
    ask(id, line_of(id, arrangement), {std::move(done), {}, std::move(failed), {}});
  }

  void take_unit(int number, std::function<void(std::string)> done, std::function<void(std::string)> failed) {
    const int id = ++last_id;
    ask(id, json{{"id", id}, {"unit", number}}.dump() + "\n", {{}, std::move(done), std::move(failed), {}});
  }

  void ask(int id, std::string line, Request asked) {
    if (!broken.empty()) return loop.post([failed = std::move(asked.failed), why = broken]() { failed(why); });
    Request& request = open[id];
    request = std::move(asked);
    request.too_late = loop.after(longest_wait, [weak = weak_from_this()] {
      if (const auto self = weak.lock())
        self->give_up(std::string{"the simulated bench has not answered for 60 s; "} + start_again);
    });
    waiting.push_back(std::move(line));
    if (waiting.size() == 1) write();
  }

  void write() {
    asio::async_write(socket, asio::buffer(waiting.front()),
                      [self = shared_from_this()](const error_code& error, std::size_t) {
                        if (error) return;  // the pending read meets the same end and says so
                        self->waiting.pop_front();
                        if (!self->waiting.empty()) self->write();
                      });
  }

  void listen() {
    asio::async_read_until(socket, asio::dynamic_buffer(received, longest_line), '\n',
                           [self = shared_from_this()](const error_code& error, std::size_t n) {
                             if (error == asio::error::operation_aborted) return;
                             if (error)
                               return self->give_up(std::string{"the simulated bench is gone; "} + start_again);
                             const std::string line = self->received.substr(0, n);
                             self->received.erase(0, n);
                             self->take(line);
                             if (self->broken.empty()) self->listen();
                           });
  }

  void take(const std::string& line) {
    const json answer = json::parse(line, nullptr, false);
    if (!answer.is_object() || !answer.contains("done") || !answer["done"].is_boolean())
      return give_up(std::string{"the simulated bench sent something that is not an answer; "} + start_again);
    const auto id = answer.find("id");
    if (id == answer.end() || !id->is_number_integer()) return;
    const auto found = open.find(id->get<int>());
    if (found == open.end()) return;
    const Request request = std::move(open.extract(found).mapped());
    const auto shows = answer.find("supply_shows_a");
    supply_shows_a = shows != answer.end() && shows->is_number() ? std::optional{shows->get<double>()} : std::nullopt;
    if (answer["done"].get<bool>()) {
      if (!request.labelled) return request.done();
      const auto label = answer.find("label");
      return request.labelled(label != answer.end() && label->is_string() ? label->get<std::string>() : std::string{});
    }
    const auto reason = answer.find("reason");
    request.failed(reason != answer.end() && reason->is_string()
                       ? terminal_safe(reason->get<std::string>())
                       : std::string{"the simulated bench could not do it and gave no reason"});
  }

  /// Fails everything open and everything to come.
  void give_up(std::string why) {
    broken = std::move(why);
    error_code ignored;
    socket.close(ignored);
    while (!open.empty()) {  // a callback may put the hands away, which empties the list
      const Request request = std::move(open.extract(open.begin()).mapped());
      request.failed(broken);
    }
  }

  /// The hands are put away: nobody is called any more.
  void close() {
    broken = "the hands were put away";
    open.clear();
    error_code ignored;
    socket.close(ignored);
  }

  Loop& loop;
  stream_protocol::socket socket;
  int last_id = 0;
  std::map<int, Request> open;
  std::deque<std::string> waiting;
  std::string received;
  std::optional<double> supply_shows_a;
  std::string broken;  ///< why no further request can be made; empty while all is well
};

class SimulatorHands final : public Hands {
 public:
  SimulatorHands(Loop& loop, const std::string& path) : link_(std::make_shared<Link>(loop)) {
    error_code error;
    if (path.empty() || path.size() > longest_socket_path)
      error = asio::error::invalid_argument;
    else
      link_->socket.connect(stream_protocol::endpoint{path}, error);
    if (error)
      throw Error(ErrorKind::meter, "the simulated bench cannot be reached: " + error.message(),
                  "sim:" + terminal_safe(path), start_again);
    link_->listen();
  }
  ~SimulatorHands() override { link_->close(); }

  void arrange(const Arrangement& arrangement, std::function<void()> done,
               std::function<void(std::string)> failed) override {
    link_->arrange(arrangement, std::move(done), std::move(failed));
  }
  void take_unit(int number, std::function<void(std::string)> done, std::function<void(std::string)> failed) override {
    link_->take_unit(number, std::move(done), std::move(failed));
  }
  bool states_contact() const override { return true; }
  bool confirms_itself() const override { return true; }
  std::optional<double> supply_shows_a() const override { return link_->supply_shows_a; }
  std::string name() const override { return "simulator"; }

 private:
  std::shared_ptr<Link> link_;
};

}  // namespace

std::unique_ptr<Hands> simulator_hands(Loop& loop, const std::string& socket_path) {
  return std::make_unique<SimulatorHands>(loop, socket_path);
}

}  // namespace switchwright
