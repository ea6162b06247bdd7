// A capture: every byte a meter sent, with its time, as text that a person can read, cut and send in as a bug
// report.
//
//   # switchwright capture 1
//   # meter: lcd-segment-14
//   0.000000 17 28 35 4D
//   0.004125 5B 61 7F 82 97 A0 B0 C0 D4 E0
//
// The first line is fixed. Other lines beginning with # are comments; "# meter: ID" names the definition.
// Every other line is seconds since the start (decimals allowed, never falling), then bytes in hexadecimal.
// Do not change: captures are kept for years.
#pragma once

#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>
#include <vector>

#include "switchwright/core/clock.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

struct CaptureLine {
  double at_s = 0.0;  ///< since the start
  std::string bytes;
};

struct Capture {
  std::string meter;                  ///< definition id; empty when the file does not say
  std::vector<std::string> comments;  ///< without "# "
  std::vector<CaptureLine> lines;
};

/// @throws Error(usage) "path:line: ..." for a file that cannot be read or is not a capture.
Capture load_capture(const std::filesystem::path& path);

/// Writes what a meter sends, one line per arrival, each flushed so that a crash costs nothing.
/// Thread rule: one owner, one thread. Hand `write` to MeterCallbacks::bytes.
class CaptureWriter {
 public:
  /// @throws Error(usage) when the file cannot be made (an existing one is never overwritten).
  CaptureWriter(const std::filesystem::path& path, const MeterDefinition& definition, const std::string& port,
                Instant start);
  /// @throws Error(store) when the disk is full.
  void write(std::string_view bytes, Instant at);
  const std::filesystem::path& path() const { return path_; }

 private:
  void check();

  std::filesystem::path path_;
  std::ofstream out_;
  Instant start_;
};

}  // namespace switchwright
