// A shop's PostgreSQL server: the links of many benches' records, over the same chain. What a bench may do there, and what
// the server refuses by itself, stands in server_schema.cpp.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "record/chain_walk.hpp"
#include "switchwright/record/record.hpp"

namespace switchwright {

/// Thread rule: one owner, one thread.
class Server {
 public:
  /// @param url postgresql://USER@HOST:PORT/DATABASE. @throws Error(usage) when a password stands in it, or this program
  /// was built without libpq; Error(store) when it cannot be reached.
  explicit Server(const std::string& url);
  ~Server();
  Server(const Server&) = delete;
  Server& operator=(const Server&) = delete;

  /// What this role may see, newest first.
  std::vector<RecordSummary> list() const;
  /// Ids that are `text` or begin with it, newest first, at most 7.
  std::vector<std::string> ids_like(const std::string& text) const;
  ChainEnd end_of(const std::string& record_id) const;
  /// SHA-256 of one link; empty when it is not there.
  std::string hash_at(const std::string& record_id, std::int64_t sequence) const;
  /// Links after number `after`, in order, one after another.
  void each_link(const std::string& record_id, std::int64_t after,
                 const std::function<void(const std::string&)>& take) const;

  /// Adds links of one record in one transaction; the server looks whether they follow what it has.
  void add(const std::vector<std::string>& links);
  /// What the server's own check of a record says; empty: whole.
  std::string check(const std::string& record_id) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

bool names_server(const std::string& place);

}  // namespace switchwright
