// Costs of moves from a TOML file.
#include <fmt/format.h>

#include "core/toml_reader.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/profile/route.hpp"

namespace switchwright {

namespace {

RouteCost parse(const std::filesystem::path& path) {
  using namespace toml_reader;
  Mistakes mistakes(path);
  const toml::table root = toml_reader::parse(read_file(path, "costs of moves"), mistakes);
  Section section(root, "the costs", mistakes);
  RouteCost cost;
  cost.id = path.stem().string();
  section.schema(1);
  section.word("values", Need::required);
  if (const auto title = section.word("title", Need::required)) cost.title = title->text;
  const auto seconds = [&](std::string_view key, double& into) {
    if (const auto value = section.number(key, Need::required, {0, 3600, true, "seconds from 0 to 3600"}))
      into = *value;
  };
  seconds("move_one_s", cost.move_one_s);
  seconds("move_both_s", cost.move_both_s);
  seconds("turn_step_s", cost.turn_step_s);
  seconds("change_function_s", cost.change_function_s);
  if (cost.move_both_s < cost.move_one_s)
    mistakes.add(section.at("move_both_s"), fmt::format("expected move_both_s not below move_one_s ({}), saw {}",
                                                        cost.move_one_s, cost.move_both_s));
  if (const auto stays = section.truth("stays_on_pair")) cost.stays_on_pair = *stays;
  section.finish();
  mistakes.throw_if_any();
  return cost;
}

}  // namespace

RouteCost load_route_cost(const std::string& id, const std::vector<std::filesystem::path>& profile_directories) {
  if (id.ends_with(".toml") || id.find('/') != std::string::npos) return parse(id);
  std::vector<std::filesystem::path> folders;
  for (const auto& directory : profile_directories) folders.push_back(directory / "costs");
  for (const auto& folder : folders) {
    std::error_code ignored;
    if (std::filesystem::is_regular_file(folder / (id + ".toml"), ignored)) return parse(folder / (id + ".toml"));
  }
  throw Error(ErrorKind::usage, fmt::format("no costs of moves are called \"{}\"", terminal_safe(id)), {},
              suggestion(id, list_profiles(folders)));
}

}  // namespace switchwright
