// Every capture in tests/captures, found by its name: what its own definition makes of it is what was written
// by hand beside it, and no other definition claims a frame of it. Adding a file adds a test.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <optional>

#include "decoder_bench.hpp"
#include "switchwright/core/clock.hpp"

using namespace switchwright;
using namespace switchwright::test;

namespace {

namespace fs = std::filesystem;

struct Capture {
  std::string meter;
  std::vector<std::pair<double, std::string>> chunks;  ///< seconds since the start, bytes
};

Capture read_capture(const fs::path& path) {
  Capture capture;
  std::ifstream file(path);
  std::string line;
  std::getline(file, line);
  REQUIRE(line == "# switchwright capture 1");
  while (std::getline(file, line)) {
    if (line.starts_with("# meter: ")) capture.meter = line.substr(9);
    if (line.empty() || line[0] == '#') continue;
    const std::size_t blank = line.find(' ');
    REQUIRE(blank != std::string::npos);
    capture.chunks.emplace_back(std::strtod(line.c_str(), nullptr), from_hex(line.substr(blank)));
  }
  return capture;
}

std::vector<Reading> play(const Capture& capture, Decoder& decoder) {
  std::vector<Reading> readings;
  for (const auto& [seconds, bytes] : capture.chunks) {
    Instant at;
    at.monotonic += from_seconds(seconds);
    decoder.feed(bytes, at, readings);
  }
  return readings;
}

struct Expected {
  std::string quantity;
  std::string state;
  std::optional<double> value;
  double resolution = 0.0;
};

std::vector<Expected> read_expected(const fs::path& path) {
  std::vector<Expected> all;
  std::ifstream file(path);
  REQUIRE(file);
  for (std::string line; std::getline(file, line);) {
    if (line.empty() || line[0] == '#') continue;
    std::istringstream words(line);
    Expected expected;
    std::string value;
    std::string resolution;
    words >> expected.quantity >> expected.state >> value >> resolution;
    REQUIRE(words);
    if (value != "-") expected.value = std::strtod(value.c_str(), nullptr);
    if (resolution != "-") expected.resolution = std::strtod(resolution.c_str(), nullptr);
    all.push_back(expected);
  }
  return all;
}

bool same(double a, double b) { return std::abs(a - b) <= 1e-9 * std::max(std::abs(a), std::abs(b)); }

struct Stretch {
  std::size_t from = 0;
  std::size_t to = 0;
};

/// Where the frames of the readings lie in the bytes of the capture.
std::vector<Stretch> stretches(const Capture& capture, const std::vector<Reading>& readings) {
  std::string bytes;
  for (const auto& [seconds, chunk] : capture.chunks) bytes += chunk;
  std::vector<Stretch> all;
  for (const Reading& reading : readings) {
    const bool same_line = !all.empty() && bytes.substr(all.back().from, reading.raw.size()) == reading.raw &&
                           bytes.find(reading.raw, all.back().to) == std::string::npos;  // several readings in a line
    if (same_line) continue;
    const std::size_t from = bytes.find(reading.raw, all.empty() ? 0 : all.back().to);
    REQUIRE(from != std::string::npos);
    all.push_back({from, from + reading.raw.size()});
  }
  return all;
}

/// The captures to check: all, or the one that SWITCHWRIGHT_CAPTURE names (so that each has a name in ctest).
std::vector<fs::path> captures() {
  if (const char* one = std::getenv("SWITCHWRIGHT_CAPTURE")) return {one};
  std::vector<fs::path> all;
  for (const auto& entry : fs::directory_iterator(std::string(SOURCE_DIR) + "/tests/captures"))
    if (entry.path().extension() == ".capture") all.push_back(entry.path());
  std::sort(all.begin(), all.end());
  return all;
}

}  // namespace

TEST_CASE("captures decode to what was written by hand") {
  REQUIRE(!captures().empty());
  for (const fs::path& path : captures()) {
    INFO(path.filename().string());
    const Capture capture = read_capture(path);
    REQUIRE(path.stem().string().starts_with(capture.meter + "-"));
    const auto expected = read_expected(fs::path(path).replace_extension(".expected"));
    const auto readings = play(capture, *make_decoder(definition_of(capture.meter)));
    INFO("readings: " << text_of(readings));
    REQUIRE(readings.size() == expected.size());
    for (std::size_t i = 0; i < readings.size(); ++i) {
      INFO("reading " << i + 1);
      CHECK(name_of(readings[i].quantity) == expected[i].quantity);
      CHECK(state_text(readings[i].state) == expected[i].state);
      CHECK(readings[i].finite() == expected[i].value.has_value());
      if (expected[i].value) CHECK(same(readings[i].value, *expected[i].value));
      CHECK(same(readings[i].resolution, expected[i].resolution));
    }
  }
}

TEST_CASE("captures are claimed by no other definition") {
  // Wrong claims of whole frames must be zero everywhere. The rest of a torn frame may be a good frame of
  // another kind
  // ("3002" is a number to SCPI): that is allowed, and only in captures of torn frames.
  for (const fs::path& path : captures()) {
    const Capture capture = read_capture(path);
    const auto own = stretches(capture, play(capture, *make_decoder(definition_of(capture.meter))));
    const bool torn = path.stem().string().ends_with("-torn") || path.stem().string().ends_with("-garbage");
    for (const std::string& id : list_meter_definitions(shipped())) {
      if (id == capture.meter) continue;
      const auto decoder = make_decoder(definition_of(id));
      const auto readings = play(capture, *decoder);
      INFO(path.filename().string() << " read as " << id << ": " << text_of(readings));
      if (!torn) CHECK(decoder->counts().accepted == 0);
      for (const Stretch& claim : stretches(capture, readings))
        for (const Stretch& frame : own) CHECK((claim.to <= frame.from || frame.to <= claim.from));
    }
  }
}

TEST_CASE("every shipped definition has captures of a good and a bad day") {
  for (const std::string& id : list_meter_definitions(shipped())) {
    INFO(id);
    int count = 0;
    for (const fs::path& path : captures())
      if (read_capture(path).meter == id) ++count;
    if (!std::getenv("SWITCHWRIGHT_CAPTURE")) CHECK(count >= 3);
  }
}
