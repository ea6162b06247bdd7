// Sending records to a shop's server.
#pragma once

#include <functional>
#include <string>

#include "switchwright/record/store.hpp"

namespace switchwright {

struct Pushed {
  std::int64_t records = 0;  ///< that had something new
  std::int64_t links = 0;
  std::int64_t already_there = 0;  ///< records that the server has whole
};
/// Sends what the server lacks of every record (or of one), oldest first. Each few thousand readings are one transaction
/// there, so what was interrupted goes on where it stopped, and what is repeated adds nothing.
/// @throws Error(store) when the server cannot be reached, refuses, or holds another record of that name.
Pushed push_records(const Store& store, const std::string& url, const std::string& only = {},
                    const std::function<void(const std::string&)>& say = {});

/// The SQL that an administrator runs once: tables, roles, and what each may do.
std::string server_sql();
/// Whether a store is named that is a server.
bool names_server(const std::string& place);

}  // namespace switchwright
