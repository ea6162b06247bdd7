#include "cli/choose/places.hpp"

#include <algorithm>
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
  // Beside the binary first (bin/../share): a folder that was installed as a whole may be moved.
  std::error_code unknown;
  const fs::path beside =
      fs::read_symlink("/proc/self/exe", unknown).parent_path().parent_path() / "share/switchwright";
  for (const fs::path& base : {fs::path{SWITCHWRIGHT_SOURCE_DIR}, beside, fs::path{SWITCHWRIGHT_DATA_DIR}}) {
    const fs::path place = base / what;
    const bool there = !base.empty() && fs::is_directory(place, unknown);
    if (there && std::find(places.begin(), places.end(), place) == places.end()) places.push_back(place);
  }
  return places;
}

}  // namespace

SearchPath meter_places() { return {data_places("meters")}; }
std::vector<fs::path> profile_places() { return data_places("profiles"); }
fs::path bench_file() { return xdg("XDG_CONFIG_HOME", ".config") / "switchwright" / "bench.toml"; }
fs::path own_meters_file() { return xdg("XDG_CONFIG_HOME", ".config") / "switchwright" / "meters-own.toml"; }
fs::path store_place(const std::string& option) { return option.empty() ? default_store_path() : fs::path{option}; }

}  // namespace switchwright::cli
