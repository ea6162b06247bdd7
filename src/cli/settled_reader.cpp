#include "cli/settled_reader.hpp"

#include <optional>

#include "cli/guided_run.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/interrupt.hpp"
#include "switchwright/judge/settle.hpp"
#include "switchwright/meter/meter.hpp"

namespace switchwright::cli {

namespace {

constexpr std::chrono::seconds patience{30};
// What piled up on the line while a person was asked arrives at once and does not count.
constexpr double person_drain_s = 0.3;
constexpr double hands_drain_s = 0.05;

}  // namespace

struct SettledReader::Impl {
  explicit Impl(Loop& the_loop) : loop(the_loop) {}

  void on_reading(const Reading& reading) {
    if (!settler || seconds_between(arranged_at, reading.at.monotonic) < drain_s) return;
    if (const std::string refused = refusal(reading, wanted); !refused.empty()) trouble = refused;
    if (const auto indication = settler->feed(reading)) {
      settled = indication;
      settler.reset();
      loop.stop();
    }
  }

  Loop& loop;
  SystemClock clock;
  SettleRule rule;
  double drain_s = person_drain_s;
  std::string port;
  std::unique_ptr<Hands> hands;
  std::unique_ptr<Meter> meter;
  std::optional<Settler> settler;
  std::optional<Indication> settled;
  Quantity wanted = Quantity::resistance;
  std::string trouble;
  bool interrupted = false;
  Monotonic arranged_at{};
};

SettledReader::SettledReader(Loop& loop, const MeterDefinition& meter, const std::string& port,
                             const std::string& hands, double settle_s)
    : impl_(std::make_unique<Impl>(loop)) {
  Impl& own = *impl_;
  own.rule.for_s = settle_s;
  own.port = port;
  own.hands = make_hands(own.loop, hands);
  if (own.hands->confirms_itself()) own.drain_s = hands_drain_s;
  MeterCallbacks callbacks;
  callbacks.reading = [&own](const Reading& reading) { own.on_reading(reading); };
  callbacks.link = [&own](const LinkChange& change) {
    if (change.state == LinkState::lost || change.state == LinkState::silent) own.trouble = change.detail;
    if (change.cannot_be_set && own.settler && *change.cannot_be_set == own.wanted) {
      own.trouble = change.detail;
      own.loop.stop();
    }
  };
  own.meter = open_meter(own.loop, own.clock, meter, port, callbacks);
}

SettledReader::~SettledReader() {
  if (impl_->meter) impl_->meter->stop();
}

bool SettledReader::person() const { return !impl_->hands->confirms_itself(); }

Indication SettledReader::take(const Arrangement& arrangement) {
  Impl& own = *impl_;
  own.settled.reset();
  own.settler.reset();
  own.trouble.clear();
  own.wanted = arrangement.dial;
  own.meter->select(arrangement.dial);
  const Interrupt interrupt{own.loop, [&own] {
                              own.interrupted = true;
                              own.loop.stop();
                            }};
  own.hands->arrange(
      arrangement,
      [&own] {
        own.settler.emplace(own.rule, own.wanted);
        own.arranged_at = own.clock.now().monotonic;
      },
      [&own](const std::string& reason) {
        own.trouble = reason;
        own.loop.stop();
      });
  const Loop::Timer too_late = own.loop.after(patience, [&own] { own.loop.stop(); });
  own.loop.run();
  if (own.interrupted) throw Error(ErrorKind::interrupted, "stopped; nothing was kept");
  if (!own.settled)
    throw Error(ErrorKind::meter, "no reading settled", own.port,
                own.trouble.empty() ? "check the meter, its cable and its dial" : own.trouble);
  return *own.settled;
}

}  // namespace switchwright::cli
