#include "switchwright/profile/position_words.hpp"

#include <algorithm>

namespace switchwright {

namespace {

std::string upper_first(std::string text) {
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 'a' + 'A');
  return text;
}

/// Where the profile says how to get there, a label of its own is a whole state ("door closed") and not the end of a turn.
bool is_a_state(const Profile& profile, const std::string& position) {
  const Position* found = profile.position(position);
  return found && !found->go.empty() && !found->label.empty() && found->label != found->id;
}

}  // namespace

std::string position_label(const Profile& profile, const std::string& position) {
  const Position* found = profile.position(position);
  return found && !found->label.empty() ? found->label : position;
}

std::string stands_at(const Profile& profile, const std::string& position) {
  if (is_a_state(profile, position)) return upper_first(position_label(profile, position));
  return upper_first(profile.knob) + " at " + position_label(profile, position);
}

std::string taken_at(const Profile& profile, const std::string& position) {
  return (is_a_state(profile, position) ? "With the " : "At ") + position_label(profile, position);
}

std::string go_to(const Profile& profile, const std::string& position) {
  const Position* found = profile.position(position);
  std::string words = found && !found->go.empty()
                          ? upper_first(found->go)
                          : "Turn the " + profile.knob + " to " + position_label(profile, position);
  words += '.';
  if (found && !found->caution.empty()) words += " Caution: " + found->caution + '.';
  return words;
}

double change_s(const Profile& profile, const std::string& from, const std::string& to) {
  if (from == to) return 0.0;
  double seconds = 0.0;
  for (const std::string& id : {from, to})
    if (const Position* found = profile.position(id)) seconds = std::max(seconds, found->change_s);
  return seconds;
}

}  // namespace switchwright
