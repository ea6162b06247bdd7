#include "bench/keeping.hpp"

namespace switchwright {

std::string_view word_for(LinkState state) {
  switch (state) {
    case LinkState::open: return "open";
    case LinkState::alive: return "alive";
    case LinkState::silent: return "silent";
    case LinkState::lost: return "lost";
    case LinkState::ended: return "ended";
  }
  return "open";
}

}  // namespace switchwright
