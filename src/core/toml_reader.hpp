// Reading TOML with every mistake named at once. Each key that is asked for is ticked off; what is left at
// the end is unknown. Nothing here throws before the whole file has been read.
#pragma once

#include <toml++/toml.h>

#include <filesystem>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "switchwright/core/interval.hpp"

namespace switchwright::profile_toml {

/// All mistakes of one file, in the order of their lines.
class Mistakes {
 public:
  explicit Mistakes(std::filesystem::path path) : path_(std::move(path)) {}
  void add(const toml::source_region& at, const std::string& text);
  bool empty() const { return lines_.empty(); }
  /// @throws Error(usage) with one "path:line:column: ..." per line when there are any.
  void throw_if_any() const;

 private:
  struct Line {
    toml::source_position at;
    std::string text;
  };
  std::filesystem::path path_;
  std::vector<Line> lines_;
};

enum class Need { required, optional };

/// A text with its place in the file.
struct Word {
  std::string text;
  toml::source_region at;
};

/// Bounds for a number; `words` say them to a person ("above 0").
struct Range {
  double min = -std::numeric_limits<double>::infinity();
  double max = std::numeric_limits<double>::infinity();
  bool min_itself = true;
  const char* words = "a number";
  bool holds(double x) const { return (min_itself ? x >= min : x > min) && x <= max; }
};
extern const Range any_number;
extern const Range above_zero;
extern const Range zero_or_more;

/// One table of the file.
class Section {
 public:
  /// @param name how messages call it: "[limits]", "[[contact]] \"line\"".
  Section(const toml::table& table, std::string name, Mistakes& mistakes);

  std::optional<double> number(std::string_view key, Need need, const Range& range);
  std::optional<Word> word(std::string_view key, Need need);
  /// A list of texts; without duplicates.
  std::vector<Word> words(std::string_view key, Need need);
  /// [min, max] with min <= max, both within `range`.
  std::optional<Interval> interval(std::string_view key, const Range& range);
  std::optional<bool> truth(std::string_view key);
  /// A table, or nothing when absent.
  std::optional<Section> section(std::string_view key, Need need);
  /// An array of tables.
  std::vector<Section> sections(std::string_view key, Need need);
  /// Call last: names every key that nobody asked for.
  void finish();

  void rename(std::string name) { name_ = std::move(name); }
  const std::string& name() const { return name_; }
  const toml::source_region& at() const { return table_->source(); }
  /// Where a key stands, or the table when it is absent.
  const toml::source_region& at(std::string_view key) const;
  bool has(std::string_view key) const { return table_->contains(key); }
  /// The list under a key, or nullptr when it is none.
  const toml::array* list(std::string_view key) const { return table_->get_as<toml::array>(key); }
  /// Ticks a key off without reading it.
  void skip(std::string_view key) { asked_.emplace(key); }
  Mistakes& mistakes() { return *mistakes_; }

 private:
  const toml::node* find(std::string_view key, Need need, std::string_view expected);
  void wrong(const toml::node& node, const std::string& expected);

  const toml::table* table_;
  std::string name_;
  Mistakes* mistakes_;
  std::set<std::string, std::less<>> asked_;
};

/// A whole file. @throws Error(usage) when it cannot be read or is longer than 1 MiB.
std::string read_profile_file(const std::filesystem::path& path);

/// What stands there, in words: the number 3, the text "x", a list, a table.
std::string saw(const toml::node& node);

}  // namespace switchwright::profile_toml
