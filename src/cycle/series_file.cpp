#include "switchwright/cycle/series_file.hpp"

#include <fast_float/fast_float.h>
#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstring>

#include "cycle/series_cells.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

using namespace series_cells;

namespace {

constexpr std::size_t batch_samples = 1024;
constexpr std::size_t head_bytes = std::size_t{1} << 16;
constexpr std::size_t longest_line_bytes = std::size_t{1} << 20;
constexpr int most_decimals = 9;

/// An open file that closes itself.
class Handle {
 public:
  explicit Handle(const std::filesystem::path& path) : fd_(::open(path.c_str(), O_RDONLY | O_CLOEXEC)), path_(path) {
    struct stat status {};
    if (fd_ < 0)
      throw Error(ErrorKind::usage, "the file cannot be opened: " + system_error_text(errno), path.string(),
                  "check the name and that you may read it");
    if (::fstat(fd_, &status) == 0 && !S_ISREG(status.st_mode)) {
      ::close(fd_);
      throw Error(ErrorKind::usage,
                  S_ISDIR(status.st_mode) ? "this is a folder" : "this is not a file that can be read twice",
                  path.string(), "save the series as a file and name that");
    }
    ::posix_fadvise(fd_, 0, 0, POSIX_FADV_SEQUENTIAL);
  }
  ~Handle() { ::close(fd_); }
  Handle(const Handle&) = delete;
  Handle& operator=(const Handle&) = delete;

  /// Bytes read into `to`; 0 at the end.
  std::size_t read(char* to, std::size_t most) {
    for (;;) {
      const ssize_t n = ::read(fd_, to, most);
      if (n >= 0) return static_cast<std::size_t>(n);
      if (errno != EINTR)
        throw Error(ErrorKind::usage, "the file cannot be read: " + system_error_text(errno), path_.string(),
                    "copy it to a sound disk");
    }
  }

 private:
  int fd_;
  std::filesystem::path path_;
};

int decimals_of(std::string_view text, char point) {
  const std::size_t at = text.find(point);
  if (at == std::string_view::npos) return text.find_first_of("eE") == std::string_view::npos ? 0 : most_decimals;
  std::size_t end = at + 1;
  while (end < text.size() && text[end] >= '0' && text[end] <= '9') ++end;
  if (end < text.size()) return most_decimals;  // an exponent: the digit is not the same everywhere
  return static_cast<int>(std::min<std::size_t>(end - at - 1, most_decimals));
}

constexpr double tens[] = {1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};

/// A number as meters write it: a sign, at most 15 digits, one point. Whole number and power of ten are then both exact
/// in a double, and one division rounds once, so the value is the nearest there is (W. D. Clinger, "How to read floating
/// point numbers accurately", 1990). Anything else goes to the general parser.
/// @param decimals digits behind the point; -1: not known @returns the end, nullptr where there is no number.
const char* take_cell_number(const char* at, const char* end, const fast_float::parse_options& options, double& value,
                             int& decimals) {
  const char* const from = at;
  const bool minus = at != end && *at == '-';
  if (minus) ++at;
  std::uint64_t digits = 0;
  const char* const first = at;
  while (at != end && static_cast<unsigned char>(*at - '0') < 10)
    digits = digits * 10 + static_cast<std::uint64_t>(*at++ - '0');
  auto count = at - first;
  decimals = 0;
  if (count > 0 && at != end && *at == options.decimal_point) {
    const char* const point = at++;
    while (at != end && static_cast<unsigned char>(*at - '0') < 10)
      digits = digits * 10 + static_cast<std::uint64_t>(*at++ - '0');
    decimals = static_cast<int>(at - point - 1);
    count += decimals;
  }
  const bool plain = count > 0 && count <= 15 && at != end && *at != 'e' && *at != 'E' && *at != options.decimal_point;
  if (plain) {
    value = static_cast<double>(digits) / tens[decimals];
    if (minus) value = -value;
    return at;
  }
  decimals = -1;
  const auto answer = fast_float::from_chars_advanced(from, end, value, options);
  return answer.ec == std::errc() && std::isfinite(value) ? answer.ptr : nullptr;
}

}  // namespace

SeriesFile::SeriesFile(std::filesystem::path path, std::size_t block_bytes, std::optional<double> time_unit_s)
    : path_(std::move(path)), block_bytes_(std::max<std::size_t>(block_bytes, 64)), stated_time_unit_s_(time_unit_s) {
  Handle file(path_);
  std::string head(head_bytes, '\0');
  std::size_t have = 0;
  while (have < head.size()) {
    const std::size_t n = file.read(head.data() + have, head.size() - have);
    if (n == 0) break;
    have += n;
  }
  find_layout(std::string_view(head).substr(0, have), have < head.size());
  channels_.resize(layout_.channels.size());
  row_values_.resize(layout_.channels.size());
}

double SeriesFile::resolution(std::size_t channel) const {
  const Channel& c = channels_.at(channel);
  return c.any && c.decimals < most_decimals ? 1.0 / c.scale : 0.0;
}

void SeriesFile::bad_row(std::uint64_t line, std::string reason) {
  ++bad_rows_;
  if (first_bad_rows_.size() < named_bad_rows) first_bad_rows_.push_back({line, std::move(reason)});
}

void SeriesFile::put(std::size_t channel, const Sample& sample, std::string_view text, int decimals, SampleSink& sink) {
  Channel& c = channels_[channel];
  if (sample.kind == SampleKind::finite) {
    c.any = true;
    // Only a value that the decimals known so far cannot write makes us look at the text again.
    const double scaled = sample.value * c.scale;
    const bool may_need_more = c.decimals < most_decimals && (decimals < 0 || decimals > c.decimals);
    if (may_need_more && std::abs(scaled - std::nearbyint(scaled)) > 1e-6) {
      c.decimals = std::max(c.decimals, decimals_of(text, layout_.decimal_comma ? ',' : '.'));
      c.scale = std::pow(10.0, c.decimals);
    }
  }
  c.batch.push_back(sample);
  if (c.batch.size() == batch_samples) {
    sink.take(channel, c.batch);
    c.batch.clear();
  }
}

void SeriesFile::note_time(double t_s) {
  if (!span_s_) span_s_ = Interval{t_s, t_s};
  if (t_s < span_s_->min) span_s_->min = t_s;
  if (t_s > span_s_->max) span_s_->max = t_s;
}

bool SeriesFile::read_time(std::string_view cell, double& t_s) {
  if (!layout_.iso_times) {
    if (!read_number(cell, layout_.decimal_comma, t_s)) return false;
    t_s *= layout_.time_unit_s;
    return true;
  }
  DayTime time;
  if (cell.size() < 10) return false;
  const bool same_date = std::memcmp(cell.data(), cached_date_, sizeof cached_date_) == 0;
  if (!read_iso_time(cell, time, same_date ? &cached_day_ : nullptr)) return false;
  if (!same_date) {
    std::memcpy(cached_date_, cell.data(), sizeof cached_date_);
    cached_day_ = time.day;
  }
  t_s = static_cast<double>(time.day - base_day_) * 86400.0 + (time.seconds - base_s_);
  return true;
}

/// The common row: plain numbers, one per channel. Returns where the next row begins, or nullptr when the row
/// is anything else; then nothing was taken from it.
const char* SeriesFile::fast_row(const char* at, const char* end, SampleSink& sink) {
  const fast_float::parse_options options{fast_float::chars_format::general, layout_.decimal_comma ? ',' : '.'};
  double t_s = 0.0;
  const char* cell_end = nullptr;
  if (layout_.iso_times) {
    cell_end = static_cast<const char*>(std::memchr(at, layout_.separator, static_cast<std::size_t>(end - at)));
    if (cell_end == nullptr || layout_.separator == ' ' ||
        !read_time({at, static_cast<std::size_t>(cell_end - at)}, t_s))
      return nullptr;
  } else {
    int decimals = 0;
    cell_end = take_cell_number(at, end, options, t_s, decimals);
    if (cell_end == nullptr || cell_end == end || *cell_end != layout_.separator) return nullptr;
    t_s *= layout_.time_unit_s;
  }
  const std::size_t count = channels_.size();
  cells_.resize(count);
  row_decimals_.resize(count);
  for (std::size_t i = 0; i < count; ++i) {
    const char* from = cell_end + 1;
    cell_end = take_cell_number(from, end, options, row_values_[i], row_decimals_[i]);
    if (cell_end == nullptr || cell_end == end) return nullptr;
    cells_[i] = {from, static_cast<std::size_t>(cell_end - from)};
    if (i + 1 < count && *cell_end != layout_.separator) return nullptr;
  }
  if (*cell_end == '\r' && cell_end + 1 < end) ++cell_end;
  if (*cell_end != '\n') return nullptr;
  ++rows_;
  note_time(t_s);
  for (std::size_t i = 0; i < count; ++i)
    put(i, {t_s, row_values_[i], SampleKind::finite}, cells_[i], row_decimals_[i], sink);
  return cell_end + 1;
}

void SeriesFile::slow_row(std::string_view row, std::uint64_t line, SampleSink& sink) {
  row = trimmed(row);
  if (row.empty() || row.front() == '#' || line == layout_.header_line) return;
  if (layout_.header_line != 0 && line < layout_.header_line) return;  // written before the header
  split(row, layout_.separator, cells_);
  double t_s = 0.0;
  const auto quoted = [](std::string_view text) { return fmt::format("\"{}\"", terminal_safe(text.substr(0, 40))); };
  if (!read_time(cells_.front(), t_s)) {
    bad_row(line, fmt::format("{} is no time", quoted(cells_.front())));
    return;
  }
  note_time(t_s);
  while (cells_.size() > channels_.size() + 1 && cells_.back().empty()) cells_.pop_back();
  if (cells_.size() != channels_.size() + 1) {
    bad_row(line, fmt::format("{} cells where {} are expected", cells_.size(), channels_.size() + 1));
    return;
  }
  ++rows_;
  bool named = false;
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    const Cell cell = read_cell(cells_[i + 1], layout_.decimal_comma);
    switch (cell.kind) {
      case CellKind::absent: break;
      case CellKind::number: put(i, {t_s, cell.value, SampleKind::finite}, cells_[i + 1], -1, sink); break;
      case CellKind::over_range: put(i, {t_s, 0.0, SampleKind::over_range}, {}, 0, sink); break;
      case CellKind::under_range: put(i, {t_s, 0.0, SampleKind::under_range}, {}, 0, sink); break;
      case CellKind::wrong:
        if (!named)
          bad_row(line,
                  fmt::format("{} is no number in channel {}", quoted(cells_[i + 1]), quoted(layout_.channels[i])));
        named = true;
    }
  }
}

/// Whole lines only. Returns how many there were.
std::uint64_t SeriesFile::lines_of(std::string_view text, std::uint64_t line, SampleSink& sink) {
  const char* at = text.data();
  const char* const end = at + text.size();
  std::uint64_t lines = 0;
  while (at < end) {
    ++lines;
    const char* next = line + lines >= layout_.first_line ? fast_row(at, end, sink) : nullptr;
    if (next == nullptr) {
      const void* found = std::memchr(at, '\n', static_cast<std::size_t>(end - at));
      const char* stop = found == nullptr ? end : static_cast<const char*>(found);
      slow_row({at, static_cast<std::size_t>(stop - at)}, line + lines, sink);
      next = stop == end ? end : stop + 1;
    }
    at = next;
  }
  return lines;
}

void SeriesFile::read(SampleSink& sink) {
  Handle file(path_);
  rows_ = bad_rows_ = 0;
  span_s_.reset();
  first_bad_rows_.clear();
  std::vector<char> buffer(block_bytes_);
  std::size_t have = 0;
  std::uint64_t line = 0;
  bool first = true, skipping = false;
  for (;;) {
    if (have == buffer.size()) {  // not one line end in all of it
      if (buffer.size() < longest_line_bytes) {
        buffer.resize(buffer.size() * 2);
      } else {
        if (!skipping) bad_row(line + 1, "the line is longer than a megabyte");
        skipping = true;
        have = 0;
      }
    }
    const std::size_t n = file.read(buffer.data() + have, buffer.size() - have);
    have += n;
    std::string_view text(buffer.data(), have);
    if (first && have < 3 && n != 0) continue;
    if (first && text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
    first = false;
    if (n == 0) {
      if (!skipping) lines_of(text, line, sink);
      break;
    }
    std::size_t whole = text.rfind('\n');
    if (whole == std::string_view::npos) {
      const std::string rest(text);
      std::copy(rest.begin(), rest.end(), buffer.begin());
      have = rest.size();
      continue;
    }
    ++whole;
    if (skipping) {
      const std::size_t cut = text.find('\n') + 1;
      text.remove_prefix(cut);
      whole -= cut;
      ++line;
      skipping = false;
    }
    line += lines_of(text.substr(0, whole), line, sink);
    const std::size_t left = text.size() - whole;
    std::memmove(buffer.data(), text.data() + whole, left);
    have = left;
  }
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    if (!channels_[i].batch.empty()) sink.take(i, channels_[i].batch);
    channels_[i].batch.clear();
  }
}

}  // namespace switchwright
