// How fast each decoder is, in bytes and readings per second: on good frames, and with every tenth byte on
// average damaged. The bytes are those of the capture of a good day, repeated; the damage is the same on
// every machine.
#include <benchmark/benchmark.h>

#include <fstream>
#include <random>
#include <sstream>
#include <string>

#include "switchwright/meter/decoder.hpp"

namespace {

using namespace switchwright;

constexpr std::size_t stream_size = 1U << 20;
constexpr std::size_t piece_size = 64;  // what one read of a serial port brings at most

std::string bytes_of_capture(const std::string& path) {
  std::ifstream file(path);
  std::string bytes;
  for (std::string line; std::getline(file, line);) {
    if (line.empty() || line[0] == '#') continue;
    std::istringstream words(line);
    std::string word;
    words >> word;  // the time
    while (words >> word) bytes += static_cast<char>(std::stoul(word, nullptr, 16));
  }
  return bytes;
}

std::string stream_of(const std::string& id, bool damaged) {
  const std::string once = bytes_of_capture(std::string(SOURCE_DIR) + "/tests/captures/" + id + "-normal.capture");
  std::string stream;
  while (!once.empty() && stream.size() < stream_size) stream += once;
  std::mt19937 random(1);
  if (damaged)
    for (char& c : stream)
      if (random() % 10 == 0) c = static_cast<char>(random());
  return stream;
}

void decode(benchmark::State& state, const MeterDefinition& definition, bool damaged) {
  const std::string stream = stream_of(definition.id, damaged);
  std::int64_t readings_seen = 0;
  for (auto _ : state) {
    const auto decoder = make_decoder(definition);
    std::vector<Reading> readings;
    for (std::size_t at = 0; at < stream.size(); at += piece_size) {
      decoder->feed(std::string_view(stream).substr(at, piece_size), {}, readings);
      readings_seen += static_cast<std::int64_t>(readings.size());
      readings.clear();
    }
  }
  state.SetBytesProcessed(static_cast<std::int64_t>(state.iterations()) * static_cast<std::int64_t>(stream.size()));
  state.SetItemsProcessed(readings_seen);  // shown as items_per_second: readings per second
}

}  // namespace

int main(int argc, char** argv) {
  const SearchPath shipped{{std::string(SOURCE_DIR) + "/meters"}};
  for (const std::string& id : list_meter_definitions(shipped))
    for (const bool damaged : {false, true})
      benchmark::RegisterBenchmark((id + (damaged ? "/10_percent_damaged" : "/clean")).c_str(),
                                   [definition = load_meter_definition(id, shipped), damaged](benchmark::State& state) {
                                     decode(state, definition, damaged);
                                   });
  benchmark::Initialize(&argc, argv);
  benchmark::RunSpecifiedBenchmarks();
  return 0;
}
