#include "switchwright/judge/channel_role.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <utility>

namespace switchwright {

namespace {

constexpr std::array words{std::pair{ChannelRole::load, "load"}, std::pair{ChannelRole::pilot, "pilot"},
                           std::pair{ChannelRole::line, "line"}, std::pair{ChannelRole::other, "other"}};

/// "Line [V]" -> "line"
std::string bare(const std::string& name) {
  std::string text = name.substr(0, name.find_first_of("([/"));
  while (!text.empty() && std::isspace(static_cast<unsigned char>(text.back())) != 0) text.pop_back();
  while (!text.empty() && std::isspace(static_cast<unsigned char>(text.front())) != 0) text.erase(0, 1);
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

}  // namespace

std::string to_string(ChannelRole role) {
  for (const auto& [known, word] : words)
    if (known == role) return word;
  return {};
}

std::optional<ChannelRole> role_named(const std::string& word) {
  for (const auto& [role, known] : words)
    if (word == known) return role;
  return std::nullopt;
}

std::vector<std::string> role_words() {
  std::vector<std::string> all;
  for (const auto& [role, word] : words) all.emplace_back(word);
  return all;
}

bool names_load(const std::string& name, const PoweredLoad& load) { return bare(name) == bare(load.id); }

std::optional<ChannelRole> role_of_name(const std::string& name, const Profile& profile) {
  const std::string own = bare(name);
  if (const auto role = role_named(own); role && *role != ChannelRole::other) return role;
  if (!profile.powered) return std::nullopt;
  for (const PoweredLoad& load : profile.powered->loads)
    if (names_load(name, load)) return load.lamp ? ChannelRole::pilot : ChannelRole::load;
  return std::nullopt;
}

std::vector<ChannelRole> roles_of(const std::vector<NamedChannel>& channels, const Profile& profile) {
  std::vector<ChannelRole> roles;
  for (const NamedChannel& channel : channels) {
    const auto named = channel.stated ? channel.stated : role_of_name(channel.name, profile);
    roles.push_back(named.value_or(channels.size() == 1 ? ChannelRole::load : ChannelRole::other));
  }
  return roles;
}

}  // namespace switchwright
