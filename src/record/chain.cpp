#include "switchwright/record/chain.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "switchwright/core/error.hpp"
#include "switchwright/record/canonical.hpp"
#include "switchwright/record/record_json.hpp"
#include "switchwright/record/sha256.hpp"

namespace switchwright {

namespace {

/// Samples as the links hold them, each time anew.
class ChainSamples final : public SampleSource {
 public:
  explicit ChainSamples(EachLink chain) : chain_(std::move(chain)) {}
  void each(const std::function<void(const SampleRow&)>& take) const override {
    chain_([&](const std::string& bytes) {
      if (bytes.find("\"samples\":") == std::string::npos) return;
      Batch batch;
      add_trace_json(nlohmann::json::parse(bytes), batch, {false, true});
      for (const SampleRow& sample : batch.samples) take(sample);
    });
  }

 private:
  EachLink chain_;
};

}  // namespace

Record record_from_chain(const EachLink& chain) {
  Record record;
  bool any_samples = false;
  const auto broken = [&](const std::string& what) {
    return Error(ErrorKind::store, what, fmt::format("link {} of the chain", record.batches + 1),
                 "the record was changed after it was written");
  };
  chain([&](const std::string& bytes) {
    try {
      const auto link = nlohmann::json::parse(bytes);
      if (canonical_bytes(link) != bytes) throw broken("it is not in canonical form (RFC 8785)");
      if (link.at("batch") != record.batches + 1 || link.at("previous") != record.chain_head)
        throw broken("it does not follow the link before it");
      if (record.batches == 0) record.header = header_from_json(link.at("header"));
      if (link.at("record") != record.header.id) throw broken("it belongs to another record");
      Batch samples;  // read once, so that a sample that cannot be is found here
      add_trace_json(link, samples, {false, true});
      any_samples = any_samples || !samples.samples.empty();
      add_batch_json(link, record.header.started, record, {true, false});
    } catch (const Error& error) {
      if (error.kind() == ErrorKind::store) throw;
      throw broken(error.what_happened());
    } catch (const std::exception& error) {
      throw broken(std::string("it cannot be read: ") + error.what());
    }
    record.chain_head = sha256_hex(bytes);
    ++record.batches;
  });
  if (record.batches == 0) throw broken("it is missing");
  if (any_samples) record.stored_samples = std::make_shared<ChainSamples>(chain);
  return record;
}

Record record_from_chain(const std::vector<std::string>& chain) {
  return record_from_chain(EachLink{[chain](const std::function<void(const std::string&)>& take) {
    for (const std::string& link : chain) take(link);
  }});
}

}  // namespace switchwright
