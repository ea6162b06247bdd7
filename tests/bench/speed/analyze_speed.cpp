// How fast, and in how much memory, is a recorded series analysed?
//   analyze_speed make FILE N        writes N invented samples (a cycling load with noise)
//   analyze_speed file FILE          both passes over the file: seconds and peak memory
//   analyze_speed read FILE          one pass that only reads
//   analyze_speed memory N           N samples in memory, analysis only
// analyze_speed.sh runs them beside `wc -l` and a pandas read_csv.
#include <fmt/format.h>
#include <sys/resource.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>

#include "switchwright/core/error.hpp"
#include "switchwright/cycle/analyze_file.hpp"

using namespace switchwright;

namespace {

/// Invented: 8 s on, 12 s off, four samples a second, noise of one part in a hundred.
Sample invented(std::uint64_t i) {
  const double t_s = static_cast<double>(i) * 0.25;
  const bool on = std::fmod(t_s, 20.0) < 8.0;
  const std::uint64_t hash = i * 0x9E3779B97F4A7C15ull;
  const double noise = static_cast<double>(hash >> 40) / static_cast<double>(1u << 24) - 0.5;
  return {t_s, on ? 230.0 + 4.0 * noise : 0.3 + 0.3 * noise, SampleKind::finite};
}

void make(const char* path, std::uint64_t n) {
  std::FILE* file = std::fopen(path, "w");
  if (file == nullptr) throw Error(ErrorKind::usage, "the file cannot be written", path);
  std::fputs("time_s,load_v\n", file);
  fmt::memory_buffer text;
  for (std::uint64_t i = 0; i < n; ++i) {
    const Sample sample = invented(i);
    fmt::format_to(std::back_inserter(text), "{:.2f},{:.1f}\n", sample.t_s, sample.value);
    if (text.size() < 1u << 16 && i + 1 < n) continue;
    std::fwrite(text.data(), 1, text.size(), file);
    text.clear();
  }
  std::fclose(file);
}

double peak_mib() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024.0;
}

struct Count final : SampleSink {
  std::uint64_t n = 0;
  void take(std::size_t, std::span<const Sample> samples) override { n += samples.size(); }
};

}  // namespace

int main(int argc, char** argv) try {
  const std::string what = argc > 2 ? argv[1] : "";
  const auto from = std::chrono::steady_clock::now();
  const auto seconds = [&] { return std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count(); };
  if (what == "make" && argc > 3) {
    make(argv[2], std::strtoull(argv[3], nullptr, 10));
  } else if (what == "read") {
    SeriesFile file(argv[2]);
    Count count;
    file.read(count);
    fmt::print("read {} samples in {:.2f} s, peak {:.1f} MiB\n", count.n, seconds(), peak_mib());
  } else if (what == "file") {
    const FileResult result = analyze_file(argv[2]);
    const CycleSummary& s = result.channels.front().summary;
    fmt::print("analysed {} samples, {} cycles, duty {:.4f} in {:.2f} s, peak {:.1f} MiB\n", s.samples,
               s.complete_cycles, s.all.duty.mean.value_or(NAN), seconds(), peak_mib());
  } else if (what == "memory") {
    const std::uint64_t n = std::strtoull(argv[2], nullptr, 10);
    std::vector<Sample> samples;
    for (std::uint64_t i = 0; i < n; ++i) samples.push_back(invented(i));
    const double made_s = seconds();
    Survey survey;
    for (const Sample& sample : samples) survey.feed(sample);
    const double surveyed_s = seconds();
    Analyzer analyzer(survey.result(), {});
    for (const Sample& sample : samples) analyzer.feed(sample);
    const CycleSummary s = analyzer.finish();
    const double done_s = seconds();
    const auto count = static_cast<double>(n);
    fmt::print("{} cycles; survey {:.1f} million samples/s, edges {:.1f}, both {:.1f}\n", s.complete_cycles,
               count / (surveyed_s - made_s) / 1e6, count / (done_s - surveyed_s) / 1e6,
               count / (done_s - made_s) / 1e6);
  } else {
    fmt::print(stderr, "usage: analyze_speed make FILE N | file FILE | read FILE | memory N\n");
    return 2;
  }
  return 0;
} catch (const Error& error) {
  fmt::print(stderr, "{}\n", error.what());
  return 2;
}
