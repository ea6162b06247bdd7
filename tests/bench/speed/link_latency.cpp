// How long from the last byte of a frame on a pseudo-terminal to the reading callback, and what share of one
// core the links take while meters stream (while they wait: link_waiting.cpp). A child process plays the
// meters, so that their work is not counted. Not a test: it prints figures. Build with `cmake --build
// build/release --target link_latency`.
#include <fcntl.h>
#include <fmt/format.h>
#include <pty.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <chrono>
#include <string>
#include <vector>

#include "meter/link/link_meter.hpp"

using namespace switchwright;
using Clk = std::chrono::steady_clock;

namespace {

constexpr double readings_per_s = 10.0;

std::int64_t now_ns() { return Clk::now().time_since_epoch().count(); }

/// A line holds the moment at which it was written, in nanoseconds of the monotonic clock.
class StampDecoder final : public Decoder {
 public:
  explicit StampDecoder(std::vector<double>& latencies_us) : latencies_us_(latencies_us) {}
  void feed(std::string_view bytes, Instant at, std::vector<Reading>& out) override {
    for (const char c : bytes) {
      if (c != '\n') {
        line_ += c;
        continue;
      }
      std::int64_t sent = 0;
      std::from_chars(line_.data(), line_.data() + line_.size(), sent);
      Reading reading;
      reading.value = static_cast<double>(sent);
      sent_.push_back(sent);
      reading.at = at;
      out.push_back(reading);
      ++counts_.accepted;
      line_.clear();
    }
  }
  void reset() override { line_.clear(); }
  void reading_called() {
    // Who opens a line in its middle reads the end of a stamp, hours ago.
    const double latency_us = static_cast<double>(now_ns() - sent_.back()) / 1000.0;
    if (latency_us < 10e6) latencies_us_.push_back(latency_us);
    sent_.clear();
  }

 private:
  std::string line_;
  std::vector<std::int64_t> sent_;
  std::vector<double>& latencies_us_;
};

struct Cable {
  int master = -1;
  int slave = -1;
  std::string path;
};

Cable make_cable() {
  Cable cable;
  char name[128];
  if (openpty(&cable.master, &cable.slave, name, nullptr, nullptr) != 0) throw std::runtime_error("openpty");
  termios raw{};
  tcgetattr(cable.slave, &raw);
  cfmakeraw(&raw);
  tcsetattr(cable.slave, TCSANOW, &raw);
  cable.path = name;
  return cable;
}

/// The child: every meter sends at its rate, spread over the interval.
[[noreturn]] void play_meters(const std::vector<Cable>& cables, double seconds) {
  const auto gap =
      std::chrono::nanoseconds{static_cast<std::int64_t>(1e9 / readings_per_s / static_cast<double>(cables.size()))};
  auto due = Clk::now() + std::chrono::milliseconds{300};
  const auto end = due + std::chrono::nanoseconds{static_cast<std::int64_t>(seconds * 1e9)};
  for (std::size_t i = 0; due < end; due += gap, ++i) {
    const timespec at{due.time_since_epoch().count() / 1'000'000'000, due.time_since_epoch().count() % 1'000'000'000};
    clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &at, nullptr);
    const std::string line = std::to_string(now_ns()) + "\n";
    (void)!write(cables[i % cables.size()].master, line.data(), line.size());
  }
  _exit(0);
}

double cpu_s() {
  rusage use{};
  getrusage(RUSAGE_SELF, &use);
  const auto s = [](const timeval& t) { return static_cast<double>(t.tv_sec) + static_cast<double>(t.tv_usec) * 1e-6; };
  return s(use.ru_utime) + s(use.ru_stime);
}

void measure(std::size_t meters, double seconds) {
  std::vector<Cable> cables;
  for (std::size_t i = 0; i < meters; ++i) cables.push_back(make_cable());
  std::vector<double> latencies_us;
  latencies_us.reserve(100'000);
  Loop loop;
  const SystemClock clock;
  std::vector<std::unique_ptr<Meter>> open;
  for (const Cable& cable : cables) {
    MeterDefinition definition;
    definition.id = "stamp";
    auto decoder = std::make_unique<StampDecoder>(latencies_us);
    StampDecoder* const stamps = decoder.get();
    MeterCallbacks callbacks;
    callbacks.reading = [stamps](const Reading&) { stamps->reading_called(); };
    open.push_back(open_link_meter(loop, clock, definition, cable.path, std::move(decoder), std::move(callbacks)));
  }
  const pid_t child = fork();
  if (child == 0) play_meters(cables, seconds);
  const double cpu_before = cpu_s();
  const auto before = Clk::now();
  const auto end =
      loop.after(std::chrono::nanoseconds{static_cast<std::int64_t>((seconds + 0.5) * 1e9)}, [&] { loop.stop(); });
  loop.run();
  const double wall_s = std::chrono::duration<double>(Clk::now() - before).count();
  const double share = 100.0 * (cpu_s() - cpu_before) / wall_s;
  open.clear();
  if (child > 0) waitpid(child, nullptr, 0);
  for (const Cable& cable : cables) close(cable.slave), close(cable.master);
  std::sort(latencies_us.begin(), latencies_us.end());
  const auto at = [&](double q) {
    return latencies_us[std::min(latencies_us.size() - 1,
                                 static_cast<std::size_t>(q * static_cast<double>(latencies_us.size())))];
  };
  fmt::print("{:3} meter{} {:26} CPU {:6.3f} % of one core", meters, meters == 1 ? " " : "s",
             fmt::format("at {:g} readings/s each", readings_per_s), share);
  if (latencies_us.empty())
    fmt::print("\n");
  else
    fmt::print("   last byte to callback: median {:.0f} us, p99 {:.0f} us, worst {:.0f} us ({} readings)\n", at(0.5),
               at(0.99), latencies_us.back(), latencies_us.size());
}

}  // namespace

int main(int argc, char** argv) {
  double seconds = 10.0;
  if (argc > 1) seconds = std::max(1.0, std::strtod(argv[1], nullptr));
#ifndef NDEBUG
  fmt::print("WARNING: optimisation is off, the figures say little\n");
#endif
  measure(1, seconds);
  measure(64, seconds);
}
