#include "switchwright/profile/library.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "core/toml_reader.hpp"
#include "profile/parser.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

Profile parse_profile(const std::string& toml_text, const std::filesystem::path& path) {
  toml_reader::Mistakes mistakes(path);
  const toml::table root = toml_reader::parse(toml_text, mistakes);
  Profile profile;
  profile.id = path.stem().string();
  profile.path = path;
  profile.source_text = toml_text;
  profile_toml::ProfileParser(root, profile, mistakes).parse();
  mistakes.throw_if_any();
  return profile;
}

std::vector<std::string> list_profiles(const std::vector<std::filesystem::path>& directories) {
  std::set<std::string> ids;
  for (const auto& directory : directories) {
    std::error_code ignored;  // a directory that is missing has no profiles
    for (const auto& entry : std::filesystem::directory_iterator(directory, ignored))
      if (entry.path().extension() == ".toml" && entry.is_regular_file(ignored))
        ids.insert(entry.path().stem().string());
  }
  return {ids.begin(), ids.end()};
}

Profile load_profile(const std::string& id, const std::vector<std::filesystem::path>& directories) {
  if (id.ends_with(".toml") || id.find('/') != std::string::npos)
    return parse_profile(toml_reader::read_file(id, "a profile"), id);
  for (const auto& directory : directories) {
    const auto path = directory / (id + ".toml");
    std::error_code ignored;
    if (std::filesystem::is_regular_file(path, ignored))
      return parse_profile(toml_reader::read_file(path, "a profile"), path);
  }
  const std::string hint = suggestion(id, list_profiles(directories));
  throw Error(ErrorKind::usage, fmt::format("no profile is called \"{}\"", terminal_safe(id)), {},
              hint.empty() ? "give an id that `switchwright profiles` lists, or the path of a .toml file" : hint);
}

}  // namespace switchwright
