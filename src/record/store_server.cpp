// A store that is a server: what is looked at is brought here first, link by link, and then read as from any store, so that
// its chain is followed and held against its rows on this side of the line.
#include <fmt/format.h>
#include <stdlib.h>

#include <nlohmann/json.hpp>

#include "record/schema.hpp"
#include "record/store_impl.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/record/sha256.hpp"

namespace switchwright {

PrivateFolder::PrivateFolder() {
  std::error_code ignored;
  std::string pattern = (std::filesystem::temp_directory_path(ignored) / "switchwright-XXXXXX").string();
  if (::mkdtemp(pattern.data()) == nullptr)
    throw Error(ErrorKind::store, "no private folder can be made for what the server sends", pattern,
                "make room there, or set TMPDIR");
  path_ = pattern;
}

PrivateFolder::~PrivateFolder() {
  std::error_code ignored;
  std::filesystem::remove_all(path_, ignored);
}

Store::Impl::Impl(const std::string& server_url)
    : folder(std::make_unique<PrivateFolder>()),
      server(std::make_unique<Server>(server_url)),
      named(server_url),
      database(opened(folder->path() / "records.sqlite", 5000)),
      watch(database) {
  database.set("synchronous", "OFF", {"0"});  // a copy that is gone with the process
}

void Store::Impl::require_writable_here() const {
  if (server)
    throw Error(ErrorKind::usage, "a server takes records by push alone", named.string(),
                "work with a store of this bench, then send it: switchwright records push --to " + named.string());
}

void Store::Impl::fetch_all(const std::string& kind, const std::string& serial) {
  if (!server) return;
  for (const std::string& id : server->ids_of(kind, serial)) fetch(id);
}

void Store::Impl::fetch(const std::string& text) {
  if (!server || text.empty()) return;
  const std::vector<std::string> ids = server->ids_like(text);
  if (ids.empty())
    throw Error(ErrorKind::usage, "no record is called \"" + text + "\"", named.string(),
                "list them with: switchwright records --store " + named.string());
  if (ids.front() != text && ids.size() > 1)
    throw Error(ErrorKind::usage, fmt::format("several records begin with \"{}\"", text), named.string(),
                "give more of the id; they are " + joined_with_and(ids));
  const std::string& id = ids.front();
  ChainEnd end = found_end(database, id);
  Transaction transaction(database);
  server->each_link(id, end.links, [&](const std::string& bytes) {
    const auto link = nlohmann::json::parse(bytes, nullptr, false);
    end = {end.links + 1, sha256_hex(bytes)};
    if (!link.is_object() || link.value("batch", std::int64_t{0}) != end.links || !link.contains("previous"))
      throw Error(ErrorKind::store,
                  fmt::format("record {}, batch {}: what the server sends is no link of it", id, end.links),
                  named.string(), "ask whoever keeps the server who changed it");
    if (end.links == 1) write_record_row(database, link.at("header"));
    write_link(id, end, bytes, link);
  });
  transaction.commit();
}

}  // namespace switchwright
