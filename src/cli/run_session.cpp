#include "cli/run_session.hpp"

#include "cli/view/keyboard.hpp"
#include "cli/output.hpp"
#include "switchwright/core/interrupt.hpp"
#include "switchwright/bench/recorder.hpp"

namespace switchwright::cli {

void run_session(const SessionRun& run) {
  const EndsWithReader for_reader;
  QualifySession& session = run.session;
  Recorder recorder{run.store, run.record_id, run.events};
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
  run.events.subscribe([&](const Event&, Instant) {
    if (session.ended()) run.loop.post([&] { run.loop.stop(); });
  });

  std::optional<Keyboard> keyboard;
  const auto key = [&](char c) { shown([&] { run.key(c); }); };
  if (run.key) keyboard.emplace(run.loop, key, [&] { session.stop(); });
  const Interrupt interrupt{run.loop, [&] { session.stop(); }};
  Loop::Timer tick;
  std::function<void()> ticking = [&] {
    session.on_tick();
    shown([&] { run.view.tick(); });
    recorder.tick(SystemClock{}.now());
    if (recorder.lost()) session.stop();
    tick = run.loop.after(std::chrono::milliseconds{100}, ticking);
  };
  ticking();

  if (run.earlier) session.resume(*run.earlier);
  run.loop.post([&] {
    for (const LinkChange& change : run.link_so_far) session.on_link(change);
    session.start();
  });
  try {
    run.loop.run();
  } catch (...) {
    recorder.close();  // whatever went wrong, what was measured is kept
    throw;
  }
  keyboard.reset();
  run.meter.stop();
  recorder.close();
}

}  // namespace switchwright::cli
