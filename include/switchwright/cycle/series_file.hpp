// Reads a recorded series: a text file with a header line, the time in the first column and a channel in each
// further column. Streams in constant memory and may be read again and again.
//
// Real files differ, so the layout is found from the first lines: comma, semicolon, tab or blank between
// cells; decimal comma (where the comma does not separate); seconds, or the unit that the column's name says ("time_ms",
// "t [ms]", "minutes"), or milli-, micro- or nanoseconds since 1970, or ISO 8601 times; quoted cells; CR LF; a byte order mark; lines before the header; a missing header.
// A cell that is empty or says nan, n/a, null, unavailable ... is no sample. "OL", "inf" and the like are
// over-range. "on" and "off", "true" and "false" are 1 and 0. Anything else makes a bad row: counted, the
// first ones named.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "switchwright/core/interval.hpp"
#include "switchwright/cycle/sample.hpp"

namespace switchwright {

struct BadRow {
  std::uint64_t line = 0;  ///< from 1
  std::string reason;      ///< a plain clause that quotes what was there, made safe for a terminal
};

struct SeriesLayout {
  char separator = ',';
  bool decimal_comma = false;
  bool iso_times = false;    ///< t_s counts from the first row; otherwise it is the file's own number in seconds
  double time_unit_s = 1.0;  ///< numeric times are multiplied by this
  std::string first_time;    ///< the first time as written
  std::string time_name;     ///< header of the first column
  std::vector<std::string> channels;
  std::uint64_t header_line = 0;     ///< 0: none
  std::uint64_t first_line = 0;      ///< the first row of data
  std::vector<std::string> notices;  ///< what was assumed, one sentence each
};

class SampleSink {
 public:
  virtual ~SampleSink() = default;
  /// Samples of one channel in the order of the file; different channels come in batches of their own.
  virtual void take(std::size_t channel, std::span<const Sample> samples) = 0;
};

/// Thread rule: one thread at a time.
class SeriesFile {
 public:
  static constexpr std::size_t default_block_bytes = std::size_t{1} << 18;
  static constexpr std::size_t named_bad_rows = 10;

  /// Opens the file and finds its layout. @throws Error(usage) when it cannot be read, is empty, or holds no
  /// row with a time and a value.
  /// @param time_unit_s of numbers in the time column, when it is stated
  explicit SeriesFile(std::filesystem::path path, std::size_t block_bytes = default_block_bytes,
                      std::optional<double> time_unit_s = {});

  const SeriesLayout& layout() const { return layout_; }
  /// Reads everything from the start. @throws Error(usage) when reading fails.
  void read(SampleSink& sink);

  // Of the last read():
  std::uint64_t rows() const { return rows_; }  ///< rows that held a time
  std::uint64_t bad_rows() const { return bad_rows_; }
  /// From the earliest row to the latest, whatever stands in it; empty without rows.
  const std::optional<Interval>& span_s() const { return span_s_; }
  const std::vector<BadRow>& first_bad_rows() const { return first_bad_rows_; }
  /// One unit of the last decimal written in this channel: 0.1 when values are written like 230.1; 0 when
  /// unknown.
  double resolution(std::size_t channel) const;

 private:
  struct Channel {
    std::vector<Sample> batch;
    int decimals = 0;
    double scale = 1.0;  ///< 10^decimals
    bool any = false;
  };

  void find_layout(std::string_view head, bool whole);
  void find_time_unit(double first_time);
  std::uint64_t lines_of(std::string_view text, std::uint64_t line, SampleSink& sink);
  const char* fast_row(const char* at, const char* end, SampleSink& sink);
  void slow_row(std::string_view row, std::uint64_t line, SampleSink& sink);
  /// @param decimals behind the point of `text`; -1: not counted
  void put(std::size_t channel, const Sample& sample, std::string_view text, int decimals, SampleSink& sink);
  void bad_row(std::uint64_t line, std::string reason);
  bool read_time(std::string_view cell, double& t_s);

  std::filesystem::path path_;
  std::size_t block_bytes_;
  std::optional<double> stated_time_unit_s_;
  SeriesLayout layout_;
  std::vector<Channel> channels_;
  std::vector<double> row_values_;
  std::vector<int> row_decimals_;
  std::vector<std::string_view> cells_;
  std::string unquoted_;
  std::int64_t base_day_ = 0;  ///< ISO times count from here
  double base_s_ = 0.0;
  char cached_date_[10] = {};
  std::int64_t cached_day_ = 0;
  std::optional<Interval> span_s_;
  void note_time(double t_s);
  std::uint64_t rows_ = 0;
  std::uint64_t bad_rows_ = 0;
  std::vector<BadRow> first_bad_rows_;
};

}  // namespace switchwright
