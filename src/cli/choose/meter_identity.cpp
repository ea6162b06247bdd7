#include "cli/choose/meter_identity.hpp"

#include <algorithm>

#include "switchwright/core/error.hpp"
#include "switchwright/core/interrupt.hpp"

namespace switchwright::cli {

namespace {

constexpr std::chrono::seconds patience{6};
constexpr std::chrono::milliseconds between_looks{10};

}  // namespace

std::string identity_of(Loop& loop, const Meter& meter, const MeterDefinition& definition,
                        const std::vector<LinkChange>& changes) {
  if (definition.decoder.kind != "scpi") return {};
  const auto give_up = std::chrono::steady_clock::now() + patience;
  const auto told = [](const LinkChange& change) { return change.state != LinkState::open || change.remark; };
  Loop::Timer timer;
  bool interrupted = false;
  std::function<void()> look = [&] {
    const bool answered = !meter.identity().empty() || std::any_of(changes.begin(), changes.end(), told);
    if (answered || std::chrono::steady_clock::now() >= give_up) return loop.stop();
    timer = loop.after(between_looks, look);
  };
  look();
  {
    const Interrupt interrupt{loop, [&] {
                                interrupted = true;
                                loop.stop();
                              }};
    loop.run();
  }
  if (interrupted) throw Error(ErrorKind::interrupted, "stopped by the operator before anything was measured");
  return meter.identity();
}

}  // namespace switchwright::cli
