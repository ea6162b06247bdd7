#include "switchwright/profile/library.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <fstream>
#include <iterator>
#include <set>

#include "core/toml_reader.hpp"
#include "profile/parser.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {
constexpr std::uintmax_t largest_file_bytes = 1 << 20;
}  // namespace

std::string profile_toml::read_profile_file(const std::filesystem::path& path) {
  std::error_code problem;
  const auto bytes = std::filesystem::file_size(path, problem);
  if (problem)
    throw Error(ErrorKind::usage, "the file cannot be read: " + problem.message(), path.string(),
                "give the path of a .toml file that you may read");
  if (bytes > largest_file_bytes)
    throw Error(ErrorKind::usage, fmt::format("a file of {} bytes is too long for this", bytes), path.string(),
                "the longest allowed is 1 MiB");
  errno = 0;
  std::ifstream file(path, std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  if (!file && !file.eof())
    throw Error(ErrorKind::usage, "the file cannot be read: " + system_error_text(errno), path.string(),
                "give the path of a .toml file that you may read");
  return text;
}

Profile parse_profile(const std::string& toml_text, const std::filesystem::path& path) {
  profile_toml::Mistakes mistakes(path);
  toml::table root;
  try {
    root = toml::parse(toml_text);
  } catch (const toml::parse_error& problem) {
    mistakes.add(problem.source(), fmt::format("expected TOML, saw something else: {}", problem.description()));
    mistakes.throw_if_any();
  }
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
    return parse_profile(profile_toml::read_profile_file(id), id);
  for (const auto& directory : directories) {
    const auto path = directory / (id + ".toml");
    std::error_code ignored;
    if (std::filesystem::is_regular_file(path, ignored))
      return parse_profile(profile_toml::read_profile_file(path), path);
  }
  const std::string hint = suggestion(id, list_profiles(directories));
  throw Error(ErrorKind::usage, fmt::format("no profile is called \"{}\"", terminal_safe(id)), {},
              hint.empty() ? "give an id that `switchwright profiles` lists, or the path of a .toml file" : hint);
}

}  // namespace switchwright
