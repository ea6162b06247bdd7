#include "cli/choose/places.hpp"

#include <cstdlib>

#include "switchwright/record/store.hpp"

namespace switchwright::cli {

namespace fs = std::filesystem;

namespace {

fs::path xdg(const char* variable, const char* below_home) {
  const char* value = std::getenv(variable);
  if (value && *value == '/') return value;
  const char* home = std::getenv("HOME");
  return fs::path{home ? home : "/"} / below_home;
}

std::vector<fs::path> data_places(const char* what) {
  std::vector<fs::path> places{xdg("XDG_DATA_HOME", ".local/share") / "switchwright" / what};
  for (const char* base : {SWITCHWRIGHT_SOURCE_DIR, SWITCHWRIGHT_DATA_DIR})
    if (fs::is_directory(fs::path{base} / what)) places.push_back(fs::path{base} / what);
  return places;
}

}  // namespace

SearchPath meter_places() { return {data_places("meters")}; }
std::vector<fs::path> profile_places() { return data_places("profiles"); }
fs::path bench_file() { return xdg("XDG_CONFIG_HOME", ".config") / "switchwright" / "bench.toml"; }
fs::path own_meters_file() { return xdg("XDG_CONFIG_HOME", ".config") / "switchwright" / "meters-own.toml"; }
fs::path store_place(const std::string& option) { return option.empty() ? default_store_path() : fs::path{option}; }

}  // namespace switchwright::cli
