// Puts the simulated bench together: a switch under a meter on a line, moved by hands on a socket. The meter
// gives a reading at its own pace, whether or not anybody listens.
#include "switchwright/sim/simulator.hpp"

#include <cmath>
#include <stdexcept>

#include "sim/bench.hpp"
#include "sim/encoder.hpp"
#include "sim/hands_message.hpp"
#include "sim/hands_socket.hpp"
#include "sim/meter_model.hpp"
#include "sim/wire.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

using namespace switchwright::sim;

/// Readings until what the hands changed is what the meter shows: one that was under way, one wholly new.
constexpr int readings_after_change = 2;
constexpr int readings_unchanged = 1;

double period_s_of(const MeterDefinition& meter, const SimulatorSettings& settings) {
  const double rate_hz = settings.rate_hz.value_or(meter.update_rate_hz);
  if (!(rate_hz >= 0.01 && rate_hz <= 10000.0))
    throw Error(ErrorKind::usage,
                "a rate of " + std::to_string(rate_hz) + " readings per second is not possible",
                "simulated meter", "give a rate from 0.01 to 10000");
  return 1.0 / rate_hz;
}

}  // namespace

struct Simulator::Impl {
  Impl(Loop& the_loop, const Clock& the_clock, Profile profile, MeterDefinition definition,
       const SimulatorSettings& settings)
      : loop(the_loop),
        clock(the_clock),
        period(from_seconds(period_s_of(definition, settings))),
        bench(std::move(profile), settings),
        meter(definition, settings.seed),
        encoder(make_encoder(definition)),
        wire(make_wire(settings.link)),
        hands(loop, [this](const std::string& line, Answer answer) { obey(line, std::move(answer)); }),
        due(std::chrono::steady_clock::now()) {
    wait_for_next_reading();
  }

  std::unique_ptr<Wire> make_wire(const std::string& link) {
    const auto received = [this](std::string_view bytes) {
      if (const std::string answer = encoder->asked(bytes); !answer.empty()) wire->send(answer);
    };
    if (link == "pty") return pty_wire(loop, received);
    if (link == "tcp") return tcp_wire(loop, received, [this] { encoder->reset(); });
    throw Error(ErrorKind::usage, "no link is called \"" + link + "\"", "simulated meter",
                suggestion(link, {"pty", "tcp"}));
  }

  void wait_for_next_reading() {
    due += std::chrono::duration_cast<std::chrono::steady_clock::duration>(period);
    const auto now = std::chrono::steady_clock::now();
    if (due < now) due = now;  // after a pause of the machine the meter goes on, it does not catch up
    next_reading = loop.after(due - now, [this] { give_reading(); });
  }

  void give_reading() {
    wait_for_next_reading();
    const Quantity quantity = encoder->function().value_or(bench.arrangement().dial);
    const double value = ideal_value(bench.at_probes(), quantity);
    const bool moved = std::exchange(moving, false);
    // A turned dial blanks the display for one conversion; moved probes give something in between.
    if (moved && quantity != display.quantity && !encoder->function()) {
      display = Display{.quantity = quantity, .state = ReadingState::not_a_number};
    } else {
      const bool between =
          moved && quantity == display.quantity && display.state != ReadingState::not_a_number;
      display = between ? meter.convert_between(display, value) : meter.convert(quantity, value);
      if (const std::string bytes = encoder->shown(display); !bytes.empty()) wire->send(bytes);
    }
    acknowledge();
  }

  void obey(const std::string& line, Answer answer) {
    const HandsRequest request = read_hands_request(line, bench.profile());
    if (!request.message) return answer(refused_line(request.id, request.reason));
    if (const auto dial = request.message->dial; dial && !encoder->function() && !meter.measures(*dial))
      return answer(
          refused_line(request.id, "this meter's dial has no \"" + std::string{name_of(*dial)} + "\""));
    try {
      const bool changed = bench.obey(*request.message);
      moving = moving || changed;
      waiting.push_back(
          {request.id, changed || moving ? readings_after_change : readings_unchanged, std::move(answer)});
    } catch (const std::invalid_argument& refusal) {
      answer(refused_line(request.id, refusal.what()));
    }
  }

  /// Answers the hands whose change has become a reading.
  void acknowledge() {
    for (Waiting& one : waiting)
      if (--one.readings == 0) one.answer(done_line(one.id));
    std::erase_if(waiting, [](const Waiting& one) { return one.readings <= 0; });
  }

  struct Waiting {
    std::string id;
    int readings;
    Answer answer;
  };

  Loop& loop;
  const Clock& clock;
  std::chrono::nanoseconds period;
  Bench bench;
  MeterModel meter;
  std::unique_ptr<Encoder> encoder;
  std::unique_ptr<Wire> wire;
  HandsSocket hands;
  Display display{.state = ReadingState::not_a_number};
  bool moving = false;  ///< something moved since the last reading
  std::vector<Waiting> waiting;
  std::chrono::steady_clock::time_point due;
  Loop::Timer next_reading;
};

Simulator::Simulator(Loop& loop, const Clock& clock, Profile profile, MeterDefinition meter,
                     SimulatorSettings settings)
    : impl_(std::make_unique<Impl>(loop, clock, std::move(profile), std::move(meter), settings)) {}

Simulator::~Simulator() = default;

const std::string& Simulator::port() const {
  return impl_->wire->port();
}
const std::string& Simulator::hands_socket() const {
  return impl_->hands.path();
}

}  // namespace switchwright
