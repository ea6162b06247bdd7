// The one way a TOML file is read: key by key, with every mistake collected with its place, so that a person corrects a file
// once and not mistake by mistake. Each key that is asked for is ticked off; what is left at the end is unknown. Nothing
// here throws before the whole file has been read. Needs toml++ and stays inside the .cpp files and private headers.
#pragma once

#include <toml++/toml.h>

#include <filesystem>
#include <limits>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "switchwright/core/interval.hpp"

namespace switchwright::toml_reader {

/// All mistakes of one file, in the order of their lines.
class Mistakes {
 public:
  explicit Mistakes(std::filesystem::path path) : path_(std::move(path)) {}
  void add(const toml::source_region& at, const std::string& text);
  bool empty() const { return lines_.empty(); }
  /// @throws Error(usage) with one "path:line:column: expected X, saw Y" per line when there are any.
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

/// Bounds for a number.
struct Range {
  double min = -std::numeric_limits<double>::infinity();
  double max = std::numeric_limits<double>::infinity();
  bool min_itself = true;
  const char* words = nullptr;  ///< "an angle in degrees"; without them the bounds say themselves
  bool holds(double x) const { return (min_itself ? x >= min : x > min) && x <= max; }
  /// To a person: "a number above 0", "a number from 0 to 60".
  std::string said() const;
};
constexpr Range any_number{};
constexpr Range above_zero{0.0, std::numeric_limits<double>::infinity(), false};
constexpr Range zero_or_more{0.0};
constexpr Range above(double min, double up_to) { return {min, up_to, false}; }
constexpr Range between(double min, double max) { return {min, max}; }

/// One table of the file. A value that is wrong is a mistake and reads as absent; one that is missing is a mistake when it is
/// needed.
class Section {
 public:
  /// The whole file. @param name how messages call it: "the profile".
  Section(const toml::table& table, std::string name, Mistakes& mistakes);

  std::optional<double> number(std::string_view key, Need need, const Range& range);
  std::optional<long long> whole(std::string_view key, Need need, long long least, long long most);
  std::optional<Word> word(std::string_view key, Need need);
  /// A word whose place nobody asks for.
  std::optional<std::string> text(std::string_view key, Need need);
  /// One of some words.
  std::optional<Word> choice(std::string_view key, const std::vector<std::string>& known, Need need);
  /// A list of names; each stands in it once.
  std::vector<Word> words(std::string_view key, Need need);
  /// A list of texts, as often as it has them; may be empty.
  std::vector<std::string> texts(std::string_view key, Need need);
  /// [min, max] with min <= max, both within `range`.
  std::optional<Interval> interval(std::string_view key, const Range& range);
  std::optional<bool> truth(std::string_view key);
  /// The version of the file's own grammar. Another one is a mistake.
  void schema(int known);
  /// A table under a key; messages call it "[link]".
  std::optional<Section> section(std::string_view key, Need need);
  /// An array of tables; messages call them "[[contact]] number 2".
  std::vector<Section> sections(std::string_view key, Need need);
  /// Call last: names every key that nobody asked for.
  void finish();

  /// Puts an id in the place of the number: `[[contact]] "line"`.
  void called(const std::string& id) { name_ = heading_ + " \"" + id + "\""; }
  const std::string& name() const { return name_; }
  const toml::source_region& at() const { return table_->source(); }
  /// Where a key stands, or the table when it is absent.
  const toml::source_region& at(std::string_view key) const;
  bool has(std::string_view key) const { return table_->contains(key); }
  /// The list under a key, or nullptr when it is none.
  const toml::array* list(std::string_view key) const { return table_->get_as<toml::array>(key); }
  /// For a table whose keys are names of the user's own: it is read without ticking off and must not be finished.
  const toml::table& table() const { return *table_; }
  /// Ticks a key off without reading it.
  void skip(std::string_view key) { asked_.emplace(key); }
  Mistakes& mistakes() { return *mistakes_; }

 private:
  Section(const toml::table& table, std::string path, std::string heading, std::string name, Mistakes& mistakes);
  const toml::node* find(std::string_view key, Need need, std::string_view expected);
  /// "expected WHAT for "key" in NAME, saw ..."
  void wrong(const toml::node& node, std::string_view key, std::string_view expected, const std::string& hint = {});
  std::string path_of(std::string_view key) const;

  const toml::table* table_;
  std::string path_;     // "powered.load", empty for the file
  std::string heading_;  // "[[powered.load]]"
  std::string name_;
  Mistakes* mistakes_;
  std::set<std::string, std::less<>> asked_;
};

/// The bytes of a file. @param what the file should be: "a profile". @throws Error(usage) when it is missing, no file, longer than
/// 1 MiB or not to be read.
std::string read_file(const std::filesystem::path& path, std::string_view what);

/// @throws Error(usage) with the place when the grammar is not TOML's.
toml::table parse(const std::string& text, Mistakes& mistakes);

/// What stands there, in words: the number 3, the text "x", a list, a table.
std::string saw(const toml::node& node);
/// A text from the file between quotes, no longer than a line can bear.
std::string in_quotes(std::string_view text);

}  // namespace switchwright::toml_reader
