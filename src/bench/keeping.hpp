// What the recorder of a qualification and that of a trace have in common.
#pragma once

#include <string_view>

#include "switchwright/meter/meter.hpp"

namespace switchwright {

/// One handler per kind of event.
template <class... Handlers>
struct Overloaded : Handlers... {
  using Handlers::operator()...;
};
template <class... Handlers>
Overloaded(Handlers...) -> Overloaded<Handlers...>;

/// "open", "alive", "silent", "lost", "ended": the words of the JSON stream; in records after "link-".
std::string_view word_for(LinkState state);

}  // namespace switchwright
