// A scope as JSON, the same words wherever it stands: in records, events, figures of a trace. Whoever uses it brings the
// JSON type (nlohmann::json or ordered_json), so that this header stays light.
//   {"continuity":{"outcome":"pass","rests_on":"..."},"soundness":{"outcome":"undecided","reason":"...","how":"..."}, ...}
// "stated" is there only where something was stated or had to be.
#pragma once

#include <string>

#include "switchwright/judge/scope.hpp"

namespace switchwright {

template <typename Json>
Json scope_json(const Scope& scope) {
  Json object = Json::object();
  for (const ScopePart part : scope_parts) {
    if (part == ScopePart::stated && !scope.asked(part)) continue;
    const ScopeItem& item = scope[part];
    Json one = Json::object();
    one["outcome"] = to_string(item.decided);
    if (!item.reason.empty()) one[item.decided == Decided::pass ? "rests_on" : "reason"] = item.reason;
    if (!item.how.empty()) one["how"] = item.how;
    object[to_string(part)] = std::move(one);
  }
  return object;
}

template <typename Json>
Json scope_parts_json(const ScopeParts& parts) {
  Json list = Json::array();
  for (const ScopePart part : parts) list.push_back(to_string(part));
  return list;
}

template <typename Json>
ScopeParts scope_parts_from(const Json& list) {
  ScopeParts parts;
  for (const ScopePart part : scope_parts)
    for (const Json& word : list)
      if (word == to_string(part)) parts.push_back(part);
  return parts;
}

/// What is missing or unknown is as nothing was asked: a record of an older version has no scope.
template <typename Json>
Scope scope_from(const Json& object) {
  Scope scope;
  for (const ScopePart part : scope_parts) {
    const auto found = object.find(to_string(part));
    if (found == object.end() || !found->is_object()) continue;
    ScopeItem& item = scope[part];
    const std::string outcome = found->value("outcome", std::string{});
    for (const Decided decided : {Decided::pass, Decided::fail, Decided::undecided, Decided::not_asked})
      if (outcome == to_string(decided)) item.decided = decided;
    item.reason = found->value(item.decided == Decided::pass ? "rests_on" : "reason", std::string{});
    item.how = found->value("how", std::string{});
  }
  return scope;
}

}  // namespace switchwright
