#include "switchwright/record/push.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "record/server.hpp"
#include "switchwright/record/sha256.hpp"

namespace switchwright {

namespace {

constexpr std::size_t bytes_at_once = 4U << 20U;  ///< of links in one transaction

/// @returns how many links the server lacked.
std::int64_t push_one(const Store& store, Server& server, const std::string& id) {
  const ChainEnd there = server.end_of(id);
  std::vector<std::string> waiting;
  std::size_t bytes = 0;
  std::int64_t sequence = 0, sent = 0;
  const auto send = [&] {
    server.add(waiting);
    sent += static_cast<std::int64_t>(waiting.size());
    waiting.clear();
    bytes = 0;
  };
  store.each_link(id, [&](const std::string& link) {
    ++sequence;
    if (sequence == there.links && sha256_hex(link) != there.head)
      throw Error(ErrorKind::store, fmt::format("record {} on the server went another way at batch {}", id, sequence),
                  id, "find out which of the two is right; nothing was changed on the server");
    if (sequence <= there.links) return;
    waiting.push_back(link);
    bytes += link.size();
    if (bytes >= bytes_at_once) send();
  });
  if (sequence < there.links)
    throw Error(ErrorKind::store, fmt::format("the server has more of record {} than this store", id), id,
                "this store lost what was measured later: take the record from the server");
  if (!waiting.empty()) send();
  return sent;
}

}  // namespace

Pushed push_records(const Store& store, const std::string& url, const std::string& only,
                    const std::function<void(const std::string&)>& say) {
  Server server(url);
  auto records = store.list();
  std::reverse(records.begin(), records.end());
  Pushed pushed;
  for (const RecordSummary& record : records) {
    if (!only.empty() && !record.id.starts_with(only)) continue;
    if (!facts_of(record.kind).is_evidence) continue;  // practice is nobody's concern
    if (!record.chain_fault.empty()) {
      if (say) say("record " + record.id + " is not whole and is not sent: " + record.chain_fault);
      continue;
    }
    const std::int64_t sent = push_one(store, server, record.id);
    pushed.links += sent;
    ++(sent > 0 ? pushed.records : pushed.already_there);
  }
  return pushed;
}

}  // namespace switchwright
