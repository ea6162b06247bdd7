// What can be looked at without doing anything: profiles, meters, ports, records and their documents. Everything here runs
// as an errand and opens what it needs itself.
#pragma once

#include <functional>

#include "switchwright/page/desk.hpp"

namespace switchwright::page {

/// The errand that answers a request; empty when there is no such thing. @param demo_profile of a demonstration, else empty
std::function<Response()> errand_for(const Request& request, const DeskSettings& settings, bool demo);

}  // namespace switchwright::page
