#include "switchwright/record/work_result.hpp"

#include <utility>

namespace switchwright {

WorkResult result_of(ChannelSummary value) {
  std::string channel = value.channel;
  const auto operations = static_cast<std::int64_t>(value.summary.edges);
  return {"summary", std::move(channel), operations, std::move(value), {}};
}

WorkResult result_of(TraceVerdict value) {
  std::string load = value.judgement.load_channel;
  const auto operations = static_cast<std::int64_t>(value.life ? value.life->operations : 0);
  return {"verdict", std::move(load), operations, std::move(value), {}};
}

WorkResult result_of(DropTask value) { return {"setup", {}, 0, std::move(value), {}}; }
WorkResult result_of(LearnSubject value) { return {"setup", {}, 0, std::move(value), {}}; }
WorkResult result_of(LotUnitSetup value) { return {"setup", {}, 0, std::move(value), {}}; }

WorkResult result_of(BenchCheckSetup value) { return {"setup", {}, 0, std::move(value), {}}; }

WorkResult result_of(ContactDrop value) {
  std::string contact = value.contact;
  return {"drop", std::move(contact), 0, std::move(value), {}};
}

WorkResult result_of(LearnedPart value) { return {"learned", {}, 0, std::move(value), {}}; }

}  // namespace switchwright
