// What the parts of the store share: the database, and what this process writes in it.
#pragma once

#include <filesystem>
#include <map>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>

#include "record/chain_walk.hpp"
#include "record/database.hpp"
#include "record/lease.hpp"
#include "record/link_journal.hpp"
#include "record/server.hpp"
#include "record/store_watch.hpp"
#include "switchwright/record/record_json.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright {

/// From this process's monotonic clock to seconds since a record began.
struct RecordTimes {
  Wall started{};
  double latest_s = 0.0;  ///< of what the record held when it was taken up
  std::optional<TimeBase> base;

  /// Fixed by the first batch that tells a moment.
  const TimeBase& base_for(const Batch& batch);
};

/// A record that this Store writes.
struct Writing {
  RecordLease lease;
  ChainEnd end;         ///< of what append() returned for
  LinkJournal journal;  ///< every link of it, once more
  RecordTimes times;
};

/// Gone with the process, and nobody else's to read.
class PrivateFolder {
 public:
  PrivateFolder();
  ~PrivateFolder();
  PrivateFolder(const PrivateFolder&) = delete;
  PrivateFolder& operator=(const PrivateFolder&) = delete;
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

/// Opened and brought to the newest schema.
Database opened(const std::filesystem::path& path, int busy_timeout_ms);

struct Store::Impl {
  std::unique_ptr<PrivateFolder> folder;  ///< of a server: where the records that are looked at lie
  std::unique_ptr<Server> server;
  std::filesystem::path named;  ///< as the user named the store
  Database database;
  StoreWatch watch;
  std::map<std::string, Writing> writing;
  std::optional<StoreLost> lost;  ///< nothing is written any more

  Impl(const std::filesystem::path& path, int busy_timeout_ms);
  explicit Impl(const std::string& server_url);
  /// Of a server: brings the one record that `text` names here. Of a file there is nothing to do.
  void fetch(const std::string& text);
  /// All records of a kind (and serial number) that the server has; nothing where the store is none.
  void fetch_all(const std::string& kind, const std::string& serial);
  /// @throws Error(usage): a server's records are written by push alone.
  void require_writable_here() const;

  Writing& take_up(const std::string& id);
  bool knows(const std::string& id) const;
  RecordTimes times_of(const std::string& id) const;
  /// Inside a transaction. `end` is where the chain ends with this link.
  void write_link(const std::string& id, const ChainEnd& end, const std::string& bytes, const nlohmann::json& link);
  /// @throws StoreLost when the chain does not end where this Store left it.
  void require_ours(const std::string& id, const Writing& record) const;
  void lose(const StoreLost& why);
  /// The one record that `text` names, in full or by its beginning. @throws Error(usage).
  std::string find(const std::string& text) const;
};

}  // namespace switchwright
