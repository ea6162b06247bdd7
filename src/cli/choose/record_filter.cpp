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

RecordMatcher::RecordMatcher(const RecordFilter& filter)
    : filter_(filter), from_(day(filter.from, "--from")), to_(day(filter.to, "--to")) {}

bool RecordMatcher::fits(const RecordSummary& r) const {
  return has(r.part, filter_.part) && has(r.serial, filter_.serial) &&
         (filter_.verdict.empty() || r.outcome == filter_.verdict) && has(r.operator_name, filter_.operator_name) &&
         has(r.fault, filter_.fault) && has(r.claim.lot, filter_.lot) && has(r.claim.order, filter_.order) &&
         (!from_ || r.started >= *from_) && (!to_ || r.started < *to_ + std::chrono::hours(24));
}

bool RecordMatcher::takes_all() const {
  const RecordFilter& f = filter_;
  return !from_ && !to_ && (f.part + f.serial + f.verdict + f.operator_name + f.fault + f.lot + f.order).empty();
}

std::vector<RecordSummary> matching(const Store& store, const RecordFilter& filter) {
  const RecordMatcher matcher(filter);
  std::vector<RecordSummary> fitting;
  store.walk([&](const RecordSummary& record) {
    if (matcher.fits(record)) fitting.push_back(record);
    return !matcher.is_past(record);
  });
  return fitting;
}

}  // namespace switchwright::cli
