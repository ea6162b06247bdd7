#include "switchwright/record/chain.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "switchwright/record/canonical.hpp"
#include "switchwright/record/record_json.hpp"
#include "switchwright/record/sha256.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright {

Record record_from_chain(const std::vector<std::string>& chain) {
  Record record;
  const auto broken = [&](const std::string& what) {
    return Error(ErrorKind::store, what, fmt::format("link {} of the chain", record.batches + 1),
                 "the record was changed after it was written");
  };
  if (chain.empty()) throw broken("it is missing");
  for (const std::string& bytes : chain) {
    try {
      const auto link = nlohmann::json::parse(bytes);
      if (canonical_bytes(link) != bytes) throw broken("it is not in canonical form (RFC 8785)");
      if (link.at("batch") != record.batches + 1 || link.at("previous") != record.chain_head)
        throw broken("it does not follow the link before it");
      if (record.batches == 0) record.header = header_from_json(link.at("header"));
      if (link.at("record") != record.header.id) throw broken("it belongs to another record");
      add_batch_to_record(link, record);
    } catch (const Error& error) {
      if (error.kind() == ErrorKind::store) throw;
      throw broken(error.what_happened());
    } catch (const std::exception& error) {
      throw broken(std::string("it cannot be read: ") + error.what());
    }
    record.chain_head = sha256_hex(bytes);
    ++record.batches;
  }
  return record;
}

}  // namespace switchwright
