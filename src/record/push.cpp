#include "switchwright/record/push.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <future>
#include <optional>

#include "record/server.hpp"
#include "switchwright/record/sha256.hpp"

namespace switchwright {

namespace {

constexpr std::size_t bytes_at_once = 4U << 20U;  ///< of links in one transaction

/// What is on its way. The next rows are made while the server takes these.
class Flight {
 public:
  explicit Flight(Server& server) : server_(server) {}
  ~Flight() {
    if (flying_.valid()) flying_.wait();
  }
  Flight(const Flight&) = delete;
  Flight& operator=(const Flight&) = delete;
  /// @throws Error when what flew before was refused.
  void send(Server::Prepared prepared) {
    land();
    flying_ = std::async(std::launch::async, [this, rows = std::move(prepared)] { server_.add(rows); });
  }
  void land() {
    if (flying_.valid()) flying_.get();
  }

 private:
  Server& server_;  ///< the flying thread's alone until it has landed
  std::future<void> flying_;
};

/// @returns how many links the server lacked.
std::int64_t push_one(const Store& store, Server& server, const std::string& id) {
  const ChainEnd there = server.end_of(id);
  std::optional<Server::Begun> begun;
  std::vector<std::string> waiting;
  std::size_t bytes = 0;
  std::int64_t sequence = 0, sent = 0;
  Flight flight(server);
  const auto send = [&] {
    if (!begun) begun = server.begin(waiting.front());
    flight.send(Server::prepare(*begun, waiting));
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
  flight.land();
  return sent;
}

}  // namespace

Pushed push_records(const Store& store, const std::string& url, const std::string& only,
                    const std::function<void(const std::string&)>& say) {
  Server server(url);
  Pushed pushed;
  const std::map<std::string, ChainEnd> there = server.ends();
  std::vector<std::string> lacking;
  store.each_end([&](const std::string& id, std::int64_t links, const std::string& head) {
    if (!only.empty() && !id.starts_with(only)) return;
    const auto same = there.find(id);
    same != there.end() && same->second == ChainEnd{links, head} ? void(++pushed.already_there) : lacking.push_back(id);
  });
  for (const std::string& id : lacking) {
    const RecordSummary record = store.summary(id);
    if (!facts_of(record.kind).is_evidence) continue;  // practice is nobody's concern
    if (!record.chain_fault.empty()) {
      if (say) say("record " + id + " is not whole and is not sent: " + record.chain_fault);
      continue;
    }
    const std::int64_t sent = push_one(store, server, id);
    pushed.links += sent;
    ++(sent > 0 ? pushed.records : pushed.already_there);
  }
  return pushed;
}

}  // namespace switchwright
