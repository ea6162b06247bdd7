// A shop's PostgreSQL server: the links of many benches' records, over the same chain. What a bench may do there, and what
// the server refuses by itself, stands in server_schema.cpp.
#pragma once

#include <functional>
#include <map>
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

  /// What this role may see, newest first, until `visit` wants no more. @param serial of one serial number; empty: all
  void walk(const std::string& serial, const std::function<bool(const RecordSummary&)>& visit) const;
  std::int64_t count() const;
  /// Where each record that this role may see ends here.
  std::map<std::string, ChainEnd> ends() const;
  /// Ids that are `text` or begin with it, newest first, at most 7.
  std::vector<std::string> ids_like(const std::string& text) const;
  std::string newest() const;  ///< id of what was begun last; empty: nothing is there
  ChainEnd end_of(const std::string& record_id) const;
  /// SHA-256 of one link; empty when it is not there.
  std::string hash_at(const std::string& record_id, std::int64_t sequence) const;
  /// Links after number `after`, in order, one after another.
  void each_link(const std::string& record_id, std::int64_t after,
                 const std::function<void(const std::string&)>& take) const;

  /// Ids of one kind, and of one serial number where it is not empty; oldest first.
  std::vector<std::string> ids_of(const std::string& kind, const std::string& serial) const;

  /// A record as the server knows it.
  struct Begun {
    std::string id;
    std::int64_t started_us = 0;  ///< microseconds since 2000-01-01, the server's epoch
  };
  /// Rows as they go over the line.
  struct Prepared {
    std::string links, readings;
    std::int64_t count = 0;  ///< links
  };
  /// Makes the record's line from its first link, or finds it by a later one; the next add() is of the same transaction. @throws Error(store) when it is another bench's.
  Begun begin(const std::string& first_link);
  /// Touches no server: may run on another thread.
  static Prepared prepare(const Begun& begun, const std::vector<std::string>& links);
  /// Adds links of one record in one transaction; the server looks whether they follow what it has.
  void add(const Prepared& prepared);
  /// What the server's own check of a record says; empty: whole.
  std::string check(const std::string& record_id) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

bool names_server(const std::string& place);

}  // namespace switchwright
