// Cuts what arrives into lines. A line that never ends is garbage, not a reason to fill the memory.
#pragma once

#include <string>
#include <string_view>

#include "switchwright/meter/decoder.hpp"

namespace switchwright {

class LineSplitter {
 public:
  /// @param end the byte that ends a line
  /// @param longest bytes in a line, the end included; a longer one is dropped up to its end and counted
  LineSplitter(char end, std::size_t longest) : end_(end), longest_(longest) {}

  /// Calls `take(line)` for each line that `bytes` completes; the line includes its end.
  template <typename Take>
  void feed(std::string_view bytes, FrameCounts& counts, Take take) {
    while (!bytes.empty()) {
      const std::size_t at = bytes.find(end_);
      const std::string_view part = bytes.substr(0, at == std::string_view::npos ? bytes.size() : at + 1);
      bytes.remove_prefix(part.size());
      const bool complete = at != std::string_view::npos;
      if (overlong_ || line_.size() + part.size() > longest_) {
        if (!overlong_) ++counts.rejected["line too long"];
        counts.skipped_bytes += line_.size() + part.size();
        line_.clear();
        overlong_ = !complete;
      } else if (complete && line_.empty()) {
        take(part);
      } else {
        line_ += part;
        if (!complete) continue;
        const std::string line = std::move(line_);
        line_.clear();
        take(std::string_view(line));
      }
    }
  }

  /// What has come of a line that has not ended.
  std::string_view pending() const { return overlong_ ? std::string_view{} : line_; }
  /// Takes it as a line all the same.
  template <typename Take>
  void end_line(Take take) {
    const std::string line = std::move(line_);
    line_.clear();
    take(std::string_view(line));
  }

  void reset(FrameCounts& counts) {
    counts.skipped_bytes += line_.size();
    line_.clear();
    overlong_ = false;
  }

 private:
  char end_;
  std::size_t longest_;
  std::string line_;
  bool overlong_ = false;
};

/// Blanks, tabs, CR and LF taken off both ends.
inline std::string_view trimmed(std::string_view text) {
  constexpr std::string_view white = " \t\r\n";
  const std::size_t first = text.find_first_not_of(white);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(white) - first + 1);
}

/// Only bytes that a line of text may have; a byte damaged on a line with parity arrives as NUL.
inline bool is_text(std::string_view line) {
  for (const char c : line)
    if (!((c >= 0x20 && c < 0x7F) || c == '\t' || c == '\r' || c == '\n')) return false;
  return true;
}

}  // namespace switchwright
