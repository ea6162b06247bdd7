// Reads a TOML table key by key and collects every mistake with its place, so that a person corrects a file
// once and not mistake by mistake. Needs toml++ and stays inside the .cpp files that need it.
#pragma once

#include <toml++/toml.h>

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace switchwright {

/// What is wrong with one file: "path:line:column: expected X, saw Y".
class TomlProblems {
 public:
  explicit TomlProblems(std::string path) : path_(std::move(path)) {}
  void add(const toml::source_region& where, const std::string& text);
  bool none() const { return problems_.empty(); }
  /// One per line, in the order of the file.
  std::string text() const;

 private:
  struct Problem {
    toml::source_position at;
    std::string text;
  };
  std::string path_;
  std::vector<Problem> problems_;
};

/// The value of a node for "saw Y": "\"abc\"", "12", "a table".
std::string shown(const toml::node& node);
std::string shown(std::string_view text);

struct Bounds {
  double least;
  double most;
  bool open_at_least = false;  ///< `least` itself is not allowed
};

class TomlTable {
 public:
  /// @param name how the table is called in messages: "the file", "[link]"
  TomlTable(const toml::table& table, std::string name, TomlProblems& problems)
      : table_(table), name_(std::move(name)), problems_(problems) {}

  /// The node under a key, nullptr when there is none. The key is known from now on.
  const toml::node* node(std::string_view key);
  /// The same, and a mistake when it is missing.
  const toml::node* required(std::string_view key, std::string_view expected);

  // Each returns nothing when the key is missing or wrong; a wrong one is a mistake, a missing one is when
  // `must`.
  std::optional<std::string> text(std::string_view key, bool must);
  std::optional<long long> whole(std::string_view key, long long least, long long most, bool must);
  std::optional<double> real(std::string_view key, Bounds bounds, bool must);
  std::optional<bool> flag(std::string_view key);
  /// One of some words.
  std::optional<std::string> choice(std::string_view key, const std::vector<std::string>& words, bool must);
  /// A list of non-empty texts.
  std::vector<std::string> texts(std::string_view key, bool must);
  /// A table under a key.
  const toml::table* table(std::string_view key);
  /// The tables of [[key]].
  std::vector<const toml::table*> tables(std::string_view key);

  /// Every key that was not asked for is a mistake.
  void finish();

  const toml::table& raw() const { return table_; }
  const std::string& name() const { return name_; }

 private:
  void wrong(const toml::node& node, std::string_view key, const std::string& expected);

  const toml::table& table_;
  std::string name_;
  TomlProblems& problems_;
  std::vector<std::string> known_;
};

}  // namespace switchwright
