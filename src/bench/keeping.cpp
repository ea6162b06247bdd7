#include "bench/keeping.hpp"

#include <fmt/format.h>

#include "switchwright/core/error.hpp"
#include "switchwright/record/rescue.hpp"

namespace switchwright {

std::string_view word_for(LinkState state) {
  switch (state) {
    case LinkState::open:
      return "open";
    case LinkState::alive:
      return "alive";
    case LinkState::silent:
      return "silent";
    case LinkState::lost:
      return "lost";
    case LinkState::ended:
      return "ended";
  }
  return "open";
}

void append_or_rescue(Store& store, const std::string& record_id, Batch& batch) {
  if (batch.empty()) return;
  try {
    store.append(record_id, batch);
    batch = {};
  } catch (const Error& error) {
    const auto rescue = write_rescue_file(store, record_id, batch);
    throw Error(
        ErrorKind::store, error.what_happened(), error.where(),
        fmt::format(
            "what could not be stored is in {}; make room, then run: switchwright records --restore {}",
            rescue.string(), rescue.string()));
  }
}

}  // namespace switchwright
