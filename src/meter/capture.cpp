#include "switchwright/meter/capture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cerrno>
#include <charconv>
#include <cmath>

#include "meter/link/serial_port.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

constexpr std::string_view first_line = "# switchwright capture 1";

std::string_view trimmed(std::string_view text) {
  const auto is_space = [](char c) { return std::isspace(static_cast<unsigned char>(c)) != 0; };
  while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_space(text.back())) text.remove_suffix(1);
  return text;
}

/// Takes the next blank-separated word off `text`.
std::string_view next_word(std::string_view& text) {
  text = trimmed(text);
  const auto end = std::min(text.find_first_of(" \t"), text.size());
  const std::string_view word = text.substr(0, end);
  text.remove_prefix(end);
  return word;
}

std::string shown(std::string_view word) { return "\"" + terminal_safe(word.substr(0, 40)) + "\""; }

Error wrong(const std::filesystem::path& path, std::size_t number, const std::string& what) {
  return Error(ErrorKind::usage, what, fmt::format("{}:{}", path.string(), number),
               "a line is seconds and then bytes as two hexadecimal digits each, like \"0.125 17 28 35\"");
}

CaptureLine parse_line(std::string_view text, const std::filesystem::path& path, std::size_t number) {
  CaptureLine line;
  const std::string_view time = next_word(text);
  const auto [end, error] = std::from_chars(time.data(), time.data() + time.size(), line.at_s);
  if (error != std::errc{} || end != time.data() + time.size() || !std::isfinite(line.at_s) || line.at_s < 0)
    throw wrong(path, number, "expected seconds since the start, saw " + shown(time));
  for (std::string_view word = next_word(text); !word.empty(); word = next_word(text)) {
    unsigned byte = 0;
    const auto [stop, bad] = std::from_chars(word.data(), word.data() + word.size(), byte, 16);
    if (bad != std::errc{} || stop != word.data() + word.size() || word.size() != 2)
      throw wrong(path, number, "expected a byte as two hexadecimal digits, saw " + shown(word));
    line.bytes += static_cast<char>(byte);
  }
  return line;
}

}  // namespace

Capture load_capture(const std::filesystem::path& path) {
  std::ifstream in(path);
  std::string text;
  std::error_code ignored;
  if (!in || std::filesystem::is_directory(path, ignored))
    throw Error(ErrorKind::usage, "the capture cannot be read: " + system_error_text(errno != 0 ? errno : EIO),
                path.string(), "check the path; `switchwright read --capture FILE` makes one");
  Capture capture;
  std::size_t number = 0;
  double before_s = 0.0;
  while (std::getline(in, text)) {
    ++number;
    std::string_view line = trimmed(text);
    if (number == 1 && line != first_line)
      throw Error(ErrorKind::usage, fmt::format("expected \"{}\", saw {}", first_line, shown(line)),
                  path.string() + ":1", "this is not a capture that this program wrote");
    if (number == 1 || line.empty()) continue;
    if (line.front() == '#') {
      line = trimmed(line.substr(1));
      if (line.starts_with("meter:")) capture.meter = std::string{trimmed(line.substr(6))};
      capture.comments.emplace_back(line);
      continue;
    }
    CaptureLine parsed = parse_line(line, path, number);
    if (parsed.at_s < before_s)
      throw wrong(path, number, fmt::format("time runs backwards, from {:g} s to {:g} s", before_s, parsed.at_s));
    before_s = parsed.at_s;
    capture.lines.push_back(std::move(parsed));
  }
  if (number == 0)
    throw Error(ErrorKind::usage, "the capture is empty", path.string(),
                "`switchwright read --capture FILE` makes one");
  return capture;
}

CaptureWriter::CaptureWriter(const std::filesystem::path& path, const MeterDefinition& definition,
                             const std::string& port, Instant start)
    : path_(path), start_(start) {
  std::error_code ignored;
  if (std::filesystem::is_regular_file(path, ignored))
    throw Error(ErrorKind::usage, "the file is already there and is not overwritten", path.string(),
                "give the capture another name");
  errno = 0;
  out_.open(path);
  if (!out_)
    throw Error(ErrorKind::usage, "the capture cannot be written: " + system_error_text(errno), path.string(),
                "check that the directory is there and yours to write to");
  out_ << first_line << "\n# meter: " << terminal_safe(definition.id) << "\n# port: " << terminal_safe(port)
       << "\n# line: " << line_words(definition.link) << "\n# started: " << iso8601(start.wall)
       << "\n# seconds since the start, then bytes in hexadecimal\n";
  check();
}

void CaptureWriter::write(std::string_view bytes, Instant at) {
  if (bytes.empty()) return;
  std::string line = fmt::format("{:.6f}", std::max(0.0, seconds_between(start_.monotonic, at.monotonic)));
  for (const char c : bytes) line += fmt::format(" {:02X}", static_cast<unsigned char>(c));
  out_ << line << '\n';
  check();
}

void CaptureWriter::check() {
  errno = 0;
  out_.flush();
  if (!out_)
    throw Error(ErrorKind::store, "the capture cannot be written on: " + system_error_text(errno), path_.string(),
                "make room on the disk; what is in the file so far is good");
}

}  // namespace switchwright
