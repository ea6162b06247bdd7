// Bytes in, readings out. A decoder knows one frame; it is fed whatever arrives, in pieces of any size, finds
// the frames again after garbage, and counts what it had to reject, by reason.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "switchwright/core/reading.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

struct FrameCounts {
  std::uint64_t accepted = 0;
  std::map<std::string, std::uint64_t> rejected;  ///< by reason, in plain words ("unknown digit pattern")
  std::map<std::string, std::string>
      examples;                     ///< the first line of a reason, where frames are lines; not yet safe to print
  std::uint64_t skipped_bytes = 0;  ///< bytes that belonged to no frame

  std::uint64_t rejected_total() const;
  /// Counts a rejected line and keeps the first of each reason.
  void reject_line(const std::string& reason, std::string_view line);
};

/// Thread rule: one owner, one thread.
class Decoder {
 public:
  virtual ~Decoder() = default;
  /// Takes bytes as they came at `at` and appends the readings they complete.
  virtual void feed(std::string_view bytes, Instant at, std::vector<Reading>& out) = 0;
  /// Forgets a half-received frame (after a time-out or a reopened link).
  virtual void reset() = 0;
  /// Tells the decoder which quantity the tool selected; for frames that carry no unit (SCPI).
  virtual void selected(Quantity) {}
  const FrameCounts& counts() const { return counts_; }

 protected:
  FrameCounts counts_;
};

/// @throws Error(usage) for an unknown decoder kind, with near names.
std::unique_ptr<Decoder> make_decoder(const MeterDefinition& definition);
/// The kinds there are, sorted.
std::vector<std::string> decoder_kinds();

}  // namespace switchwright
