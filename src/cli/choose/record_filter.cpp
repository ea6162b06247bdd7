#include "cli/choose/record_filter.hpp"

#include <algorithm>
#include <cctype>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

bool has(const std::string& text, const std::string& part) {
  return part.empty() || lower(text).find(lower(part)) != std::string::npos;
}

/// Begins a day in UTC. @throws Error(usage).
std::optional<Wall> day(const std::string& text, const char* option) {
  if (text.empty()) return std::nullopt;
  try {
    if (text.size() == 10) return parse_iso8601(text + "T00:00:00Z");
  } catch (const Error&) {
  }
  throw Error(ErrorKind::usage, "\"" + terminal_safe(text) + "\" is no day", option, "write it as 2026-03-01");
}

}  // namespace

std::vector<RecordSummary> matching(const std::vector<RecordSummary>& records, const RecordFilter& filter) {
  const auto from = day(filter.from, "--from"), to = day(filter.to, "--to");
  std::vector<RecordSummary> fitting;
  for (const RecordSummary& r : records) {
    if (has(r.part, filter.part) && has(r.serial, filter.serial) &&
        (filter.verdict.empty() || r.outcome == filter.verdict) && has(r.operator_name, filter.operator_name) &&
        has(r.fault, filter.fault) && has(r.claim.lot, filter.lot) && has(r.claim.order, filter.order) &&
        (!from || r.started >= *from) && (!to || r.started < *to + std::chrono::hours(24)))
      fitting.push_back(r);
  }
  return fitting;
}

}  // namespace switchwright::cli
