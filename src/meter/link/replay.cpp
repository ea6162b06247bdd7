// Plays a capture: the bytes, the silences and the times are those of the capture, so that a trace read
// from it comes out the same at any pace.
#include "meter/link/replay.hpp"

#include <fmt/format.h>

#include <optional>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/capture.hpp"

namespace switchwright {

namespace {

class Replay final : public Meter {
 public:
  Replay(Loop& loop, const Clock& clock, const MeterDefinition& definition, std::string file,
         std::unique_ptr<Decoder> decoder, MeterCallbacks callbacks, bool fast)
      : play_(std::make_shared<Play>(loop, definition, std::move(file), std::move(decoder), std::move(callbacks),
                                     clock.now(), fast)) {
    loop.post([play = play_] {
      play->tell(LinkState::open, "playing " + play->file, 0.0);
      go_on(play);
    });
  }
  ~Replay() override { stop(); }
  Replay(const Replay&) = delete;
  Replay& operator=(const Replay&) = delete;

  void select(Quantity) override {}
  void stop() override {
    play_->stopped = true;
    play_->timer.cancel();
  }
  const FrameCounts& counts() const override { return play_->decoder->counts(); }
  std::string identity() const override { return {}; }

 private:
  /// Shared with what is queued in the loop: a callback may end the meter.
  struct Play {
    Play(Loop& the_loop, const MeterDefinition& the_definition, std::string the_file,
         std::unique_ptr<Decoder> the_decoder, MeterCallbacks the_callbacks, Instant the_start, bool at_once)
        : loop(the_loop),
          definition(the_definition),
          file(std::move(the_file)),
          decoder(std::move(the_decoder)),
          callbacks(std::move(the_callbacks)),
          start(the_start),
          fast(at_once),
          capture(load_capture(file)) {}

    Instant at(double seconds) const {
      const auto since = from_seconds(seconds);
      return {start.monotonic + std::chrono::duration_cast<Monotonic::duration>(since),
              start.wall + std::chrono::duration_cast<Wall::duration>(since)};
    }
    void tell(LinkState new_state, std::string detail, double seconds) {
      state = new_state;
      if (!stopped && callbacks.link) callbacks.link({new_state, std::move(detail), at(seconds), false});
    }
    /// When the watchdog would have barked before `limit_s`; nothing when it has or would not.
    std::optional<double> silence_before(double limit_s) const {
      const double barks_s = last_valid_s + definition.link.silent_after_s;
      if (state == LinkState::silent || barks_s >= limit_s) return std::nullopt;
      return barks_s;
    }
    void play_line(const CaptureLine& line) {
      const Instant when = at(line.at_s);
      if (callbacks.bytes) callbacks.bytes(line.bytes, when);
      if (stopped) return;
      std::string bytes = line.bytes;
      if (definition.link.data_bits == 7)
        for (char& c : bytes) c = static_cast<char>(c & 0x7F);
      std::vector<Reading> readings;
      decoder->feed(bytes, when, readings);
      if (readings.empty()) return;
      last_valid_s = line.at_s;
      if (state != LinkState::alive) tell(LinkState::alive, "valid frames in the capture", line.at_s);
      for (const Reading& reading : readings)
        if (!stopped && callbacks.reading) callbacks.reading(reading);
    }
    void end() {
      const double end_s = capture.lines.empty() ? 0.0 : capture.lines.back().at_s;
      const FrameCounts& counts = decoder->counts();
      std::string detail = fmt::format("the capture {} is at its end: {} valid frames, {} rejected", file,
                                       counts.accepted, counts.rejected_total());
      if (counts.accepted == 0 && !capture.meter.empty() && capture.meter != definition.id)
        detail +=
            fmt::format("; it was made with meter definition {}, not {}", terminal_safe(capture.meter), definition.id);
      tell(LinkState::ended, detail, end_s);
    }

    Loop& loop;
    const MeterDefinition definition;
    const std::string file;
    std::unique_ptr<Decoder> decoder;
    MeterCallbacks callbacks;
    const Instant start;
    const Monotonic began = std::chrono::steady_clock::now();  ///< pace is kept against the machine's clock
    const bool fast;
    const Capture capture;
    std::size_t next = 0;
    double last_valid_s = 0.0;
    LinkState state = LinkState::open;
    bool stopped = false;
    Loop::Timer timer;
  };

  /// Arranges for the next thing in the capture: a silence, a line, or the end.
  static void go_on(const std::shared_ptr<Play>& play) {
    if (play->stopped) return;
    if (play->next == play->capture.lines.size()) return play->end();
    const CaptureLine& line = play->capture.lines[play->next];
    const std::optional<double> silence_s = play->silence_before(line.at_s);
    if (silence_s) {
      later(play, *silence_s, [play, silence_s] {
        play->tell(LinkState::silent, "no valid frame in this part of the capture", *silence_s);
      });
      return;
    }
    later(play, line.at_s, [play, &line] {
      ++play->next;
      play->play_line(line);
    });
  }

  static void later(const std::shared_ptr<Play>& play, double at_s, std::function<void()> task) {
    auto step = [play, task = std::move(task)] {
      if (play->stopped) return;
      task();
      go_on(play);
    };
    if (play->fast) return play->loop.post(std::move(step));
    const auto due = play->began + from_seconds(at_s) - std::chrono::steady_clock::now();
    play->timer = play->loop.after(std::max(std::chrono::nanoseconds{0}, due), std::move(step));
  }

  std::shared_ptr<Play> play_;
};

}  // namespace

std::unique_ptr<Meter> open_replay(Loop& loop, const Clock& clock, const MeterDefinition& definition,
                                   const std::string& port, std::unique_ptr<Decoder> decoder, MeterCallbacks callbacks,
                                   MeterOptions options) {
  constexpr std::string_view scheme = "replay:";
  return std::make_unique<Replay>(loop, clock, definition, port.substr(scheme.size()), std::move(decoder),
                                  std::move(callbacks), options.replay_fast);
}

}  // namespace switchwright
