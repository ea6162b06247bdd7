#include "core/toml_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <sstream>

#include "switchwright/core/text.hpp"

namespace switchwright {

void TomlProblems::add(const toml::source_region& where, const std::string& text) {
  problems_.push_back({where.begin, text});
}

std::string TomlProblems::text() const {
  auto sorted = problems_;
  std::stable_sort(sorted.begin(), sorted.end(), [](const Problem& a, const Problem& b) { return a.at < b.at; });
  std::string text;
  for (const Problem& problem : sorted)
    text += fmt::format("{}{}:{}:{}: {}", text.empty() ? "" : "\n", path_, std::max<unsigned>(problem.at.line, 1),
                        std::max<unsigned>(problem.at.column, 1), problem.text);
  return text;
}

std::string shown(std::string_view text) {
  constexpr std::size_t most = 60;
  return fmt::format("\"{}{}\"", terminal_safe(text.substr(0, most)), text.size() > most ? "..." : "");
}

std::string shown(const toml::node& node) {
  switch (node.type()) {
    case toml::node_type::table: return "a table";
    case toml::node_type::array: return "a list";
    case toml::node_type::string: return shown(std::string_view(node.as_string()->get()));
    case toml::node_type::integer: return fmt::format("{}", node.as_integer()->get());
    case toml::node_type::floating_point: return fmt::format("{}", node.as_floating_point()->get());
    case toml::node_type::boolean: return node.as_boolean()->get() ? "true" : "false";
    default: return "a date or time";
  }
}

const toml::node* TomlTable::node(std::string_view key) {
  known_.emplace_back(key);
  return table_.get(key);
}

const toml::node* TomlTable::required(std::string_view key, std::string_view expected) {
  const toml::node* found = node(key);
  if (!found) problems_.add(table_.source(), fmt::format("expected {} = {} in {}, saw none", key, expected, name_));
  return found;
}

void TomlTable::wrong(const toml::node& node, std::string_view key, const std::string& expected) {
  problems_.add(node.source(), fmt::format("expected {} for {}, saw {}", expected, key, shown(node)));
}

std::optional<std::string> TomlTable::text(std::string_view key, bool must) {
  const toml::node* found = must ? required(key, "a text") : node(key);
  if (!found) return std::nullopt;
  if (const auto* value = found->as_string(); value && !value->get().empty()) return value->get();
  wrong(*found, key, "a text that is not empty");
  return std::nullopt;
}

std::optional<long long> TomlTable::whole(std::string_view key, long long least, long long most, bool must) {
  const std::string expected =
      least == most ? fmt::format("{}", least) : fmt::format("a whole number from {} to {}", least, most);
  const toml::node* found = must ? required(key, expected) : node(key);
  if (!found) return std::nullopt;
  if (const auto* value = found->as_integer(); value && value->get() >= least && value->get() <= most)
    return value->get();
  wrong(*found, key, expected);
  return std::nullopt;
}

std::optional<double> TomlTable::real(std::string_view key, Bounds bounds, bool must) {
  const std::string expected = bounds.open_at_least
                                   ? fmt::format("a number above {} and up to {}", bounds.least, bounds.most)
                                   : fmt::format("a number from {} to {}", bounds.least, bounds.most);
  const toml::node* found = must ? required(key, expected) : node(key);
  if (!found) return std::nullopt;
  if (const auto value = found->value<double>();
      value && found->is_number() && std::isfinite(*value) && *value <= bounds.most &&
      (bounds.open_at_least ? *value > bounds.least : *value >= bounds.least))
    return value;
  wrong(*found, key, expected);
  return std::nullopt;
}

std::optional<bool> TomlTable::flag(std::string_view key) {
  const toml::node* found = node(key);
  if (!found) return std::nullopt;
  if (const auto* value = found->as_boolean()) return value->get();
  wrong(*found, key, "true or false");
  return std::nullopt;
}

std::optional<std::string> TomlTable::choice(std::string_view key, const std::vector<std::string>& words, bool must) {
  std::string expected;
  for (const std::string& word : words) expected += fmt::format("{}\"{}\"", expected.empty() ? "" : ", ", word);
  if (words.size() > 1) expected = "one of " + expected;
  const toml::node* found = must ? required(key, expected) : node(key);
  if (!found) return std::nullopt;
  const auto* value = found->as_string();
  if (value && std::find(words.begin(), words.end(), value->get()) != words.end()) return value->get();
  const auto near = value ? near_names(value->get(), words) : std::vector<std::string>{};
  const std::string hint = near.empty() ? "" : suggestion(value->get(), words);
  if (!near.empty() && words.size() > 4) expected = fmt::format("a known {}", key);  // the hint says more
  problems_.add(found->source(), fmt::format("expected {} for {}, saw {}{}{}", expected, key, shown(*found),
                                             hint.empty() ? "" : "; ", hint));
  return std::nullopt;
}

std::vector<std::string> TomlTable::texts(std::string_view key, bool must) {
  std::vector<std::string> result;
  const toml::node* found = must ? required(key, "a list of texts") : node(key);
  if (!found) return result;
  const toml::array* list = found->as_array();
  if (!list) {
    wrong(*found, key, "a list of texts");
    return result;
  }
  for (const toml::node& element : *list) {
    const auto* value = element.as_string();
    if (value && !value->get().empty())
      result.push_back(value->get());
    else
      wrong(element, key, "a text that is not empty");
  }
  return result;
}

const toml::table* TomlTable::table(std::string_view key) {
  const toml::node* found = node(key);
  if (!found) return nullptr;
  if (const auto* value = found->as_table()) return value;
  wrong(*found, key, "a table");
  return nullptr;
}

std::vector<const toml::table*> TomlTable::tables(std::string_view key) {
  std::vector<const toml::table*> result;
  const toml::node* found = node(key);
  if (!found) return result;
  const toml::array* list = found->as_array();
  if (!list) {
    wrong(*found, key, fmt::format("tables written as [[{}]]", key));
    return result;
  }
  for (const toml::node& element : *list) {
    if (const auto* value = element.as_table())
      result.push_back(value);
    else
      wrong(element, key, fmt::format("tables written as [[{}]]", key));
  }
  return result;
}

void TomlTable::finish() {
  for (const auto& [key, value] : table_) {
    if (std::find(known_.begin(), known_.end(), key.str()) != known_.end()) continue;
    const std::string hint = suggestion(key.str(), known_);
    problems_.add(key.source(), fmt::format("expected a key that {} knows, saw {}{}{}", name_, shown(key.str()),
                                            hint.empty() ? "" : "; ", hint));
  }
}

}  // namespace switchwright
