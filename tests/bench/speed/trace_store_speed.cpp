// How long does a kept trace take to write and to read again, and in how much memory?
//   trace_store_speed make STORE HOURS HZ CHANNELS    writes an invented trace, a batch a second, as the
//   recorder does trace_store_speed read STORE                      loads the newest record and analyses it:
//   seconds and peak memory
// Put the store on a memory file system for `make`: each batch is synced to the disk. The report of the real
// binary is timed with: /usr/bin/time -v switchwright report latest --format html --store STORE -o FILE
#include <fmt/format.h>
#include <sys/resource.h>

#include <chrono>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <sstream>
#include <string>

#include "switchwright/analysis/trace_analysis.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/record/store.hpp"

using namespace switchwright;

namespace {

double peak_mib() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024.0;
}

void make(const std::string& path, double hours, int hz, int channels) {
  Store store{path};
  RecordHeader header;
  header.kind = RecordKind::trace;
  header.part = "invented";
  header.serial = "speed";
  header.profile_id = "regulator-shunt-240";
  std::ifstream profile{std::string{SOURCE_DIR} + "/profiles/regulator-shunt-240.toml"};
  header.profile_text = (std::ostringstream{} << profile.rdbuf()).str();
  header.rule = "guarded";
  header.simulated = true;
  const std::string id = store.begin(header);
  Batch first;
  first.trace = TraceSetup{"medium", "", 240.0, "", {}, {}};
  const char* names[] = {"load", "line", "pilot"};
  for (int c = 1; c <= channels; ++c)
    first.channels.push_back({c, c <= 3 ? names[c - 1] : fmt::format("extra-{}", c), "voltage-ac", "invented", "", "",
                              "", "", "", c <= 3 ? names[c - 1] : "other"});
  store.append(id, first);
  const auto seconds = static_cast<long>(hours * 3600.0);
  std::uint64_t random = 1;
  for (long second = 0; second < seconds; ++second) {
    Batch batch;
    for (int i = 0; i < hz; ++i)
      for (int c = 1; c <= channels; ++c) {
        random = random * 6364136223846793005ULL + 1442695040888963407ULL;
        const double t_s = static_cast<double>(second) + (i + 0.1 * c / channels) / hz;
        const bool on = c == 2 || c == 3 || std::fmod(t_s + 3.0 * c, 40.0) < 15.0;
        const double value =
            on ? 239.0 + static_cast<double>(random >> 60) / 10.0 : static_cast<double>(random >> 62) / 10.0;
        batch.samples.push_back(
            {c, t_s, ReadingState::finite, value, 0.1, std::string(14, static_cast<char>('0' + c % 10))});
      }
    store.append(id, batch);
  }
  Batch last;
  last.ended = Wall{};
  store.append(id, last);
}

}  // namespace

int main(int argc, char** argv) try {
  const std::string what = argc > 2 ? argv[1] : "";
  const auto from = std::chrono::steady_clock::now();
  const auto seconds = [&] { return std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count(); };
  if (what == "make" && argc > 5) {
    make(argv[2], std::atof(argv[3]), std::atoi(argv[4]), std::atoi(argv[5]));
    fmt::print("written in {:.1f} s\n", seconds());
  } else if (what == "read") {
    const Store store{argv[2]};
    const Record record = store.load(store.list().front().id, true);
    const double loaded_s = seconds();
    const TraceAnalysis analysis = analyze_trace(record);
    std::uint64_t samples = 0;
    for (const TraceChannelAnalysis& channel : analysis.channels) samples += channel.summary.samples;
    fmt::print("{} batches loaded in {:.2f} s; {} samples, {} cycles of {} analysed in {:.2f} s; peak {:.1f} MiB\n",
               record.batches, loaded_s, samples, analysis.channels.front().summary.complete_cycles,
               analysis.channels.front().name, seconds() - loaded_s, peak_mib());
  } else {
    fmt::print(stderr, "usage: trace_store_speed make STORE HOURS HZ CHANNELS | read STORE\n");
    return 2;
  }
  return 0;
} catch (const Error& error) {
  fmt::print(stderr, "{}\n", error.what());
  return 2;
}
