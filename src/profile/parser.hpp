// From TOML to a Profile: the schema, and what a profile may not say because it contradicts itself.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "core/toml_reader.hpp"
#include "switchwright/profile/profile.hpp"

namespace switchwright::profile_toml {

using namespace toml_reader;

/// Reads one profile. Thread rule: used once, by one thread.
class ProfileParser {
 public:
  ProfileParser(const toml::table& root, Profile& profile, Mistakes& mistakes);
  /// Fills the profile; mistakes go to the list, and what can be read of the rest is read.
  void parse();

 private:
  void parse_heading();
  void parse_terminals();
  void parse_positions();
  void parse_way_to(Section& section, Position& position);
  void parse_contacts();
  void parse_elements();
  /// What [[element]] and [[wired]] have in common.
  std::optional<Element> resistor_in(Section& section);
  void parse_wired();
  void parse_limits();
  void parse_sound_limit(Section& section);
  void parse_inspection();
  void parse_stated();
  void parse_not_checked();
  void parse_timing();
  void parse_consequences();
  void parse_powered();
  void parse_bond(Section& section, Powered& powered);
  void parse_supply_range(Section& section, std::optional<double> volts, Powered& powered);
  void parse_powered_loads(Section& section, std::optional<double> volts, Powered& powered);
  void check_powered_circuit(Section& section, const Powered& powered);
  void check_every_terminal_is_wired();

  /// Two different known nodes, or nothing; while [powered] is read, outside points too.
  std::optional<Pair> pair_of(Section& section, std::string_view key);
  /// critical, major or minor; major when there is none.
  Severity severity_of(Section& section);
  /// Known positions; unknown ones are mistakes.
  std::vector<std::string> positions_of(Section& section, std::string_view key, Need need);
  std::optional<std::string> position_of(Section& section, std::string_view key);
  /// A name that can stand in a fault or a pair, used once in `space`.
  std::optional<std::string> fresh_id(const Word& word, std::string_view space);
  bool is_known_node(const Word& word);
  bool is_known_position(const Section& section, std::string_view key, const Word& word);

  Section root_;
  Profile* profile_;
  Mistakes* mistakes_;
  std::map<std::string, toml::source_region, std::less<>> taken_;  // "space/name" -> where first
  std::vector<std::string> position_ids_;
  std::map<std::string, toml::source_region, std::less<>> node_places_;
  std::vector<Word> unconnected_;     // terminals said to be joined to nothing
  std::vector<std::string> outside_;  // points of the powered circuit; known while [powered] is read
};

}  // namespace switchwright::profile_toml
