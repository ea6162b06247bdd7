// The address part of a request: taken apart, decoded, and refused when it is not what a browser sends.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>

namespace switchwright::page {

struct Target {
  std::string path;
  std::map<std::string, std::string> query;
};

/// Nothing for what is no absolute path, has a wrong escape, a control character, or a ".." in it.
std::optional<Target> read_target(std::string_view target);
/// One of the page's own files: everybody may have them, there is nothing of the shop in them.
bool is_static(const std::string& path);

}  // namespace switchwright::page
