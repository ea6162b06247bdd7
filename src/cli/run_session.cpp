#include "cli/run_session.hpp"

#include "cli/output.hpp"
#include "cli/view/keyboard.hpp"
#include "switchwright/bench/running_session.hpp"
#include "switchwright/core/interrupt.hpp"

namespace switchwright::cli {

void run_session(const SessionRun& run) {
  const EndsWithReader for_reader;
  QualifySession& session = run.session;
  RunningSession running{run.loop, run.store, run.events, session, run.record_id};
  bool reader_gone = false;
  const auto shown = [&](const std::function<void()>& show) {
    if (reader_gone) return;
    try {
      show();
    } catch (const ClosedPipe&) {
      reader_gone = true;  // nobody reads, but what is measured is still kept
      run.loop.post([&] { session.stop(); });
    }
  };
  run.events.subscribe([&](const Event& event, Instant at) { shown([&] { run.view.on(event, at); }); });

  std::optional<Keyboard> keyboard;
  const auto key = [&](char c) { shown([&] { run.key(c); }); };
  if (run.key) keyboard.emplace(run.loop, key, [&] { session.stop(); });
  const Interrupt interrupt{run.loop, [&] { session.stop(); }};
  running.start(
      run.earlier, run.link_so_far, [&] { shown([&] { run.view.tick(); }); }, [&] { run.loop.stop(); });
  try {
    run.loop.run();
  } catch (...) {
    running.close();  // whatever went wrong, what was measured is kept
    throw;
  }
  keyboard.reset();
  run.meter.stop();
  running.close();
}

}  // namespace switchwright::cli
