#include "core/toml_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::profile_toml {

const Range any_number{};
const Range above_zero{0.0, std::numeric_limits<double>::infinity(), false, "a number above 0"};
const Range zero_or_more{0.0, std::numeric_limits<double>::infinity(), true, "a number of 0 or more"};

void Mistakes::add(const toml::source_region& at, const std::string& text) {
  lines_.push_back({at.begin, terminal_safe(text)});
}

void Mistakes::throw_if_any() const {
  if (lines_.empty()) return;
  std::vector<Line> sorted = lines_;
  std::stable_sort(sorted.begin(), sorted.end(), [](const Line& a, const Line& b) {
    return std::pair(a.at.line, a.at.column) < std::pair(b.at.line, b.at.column);
  });
  std::string all;
  for (const Line& line : sorted)
    all +=
        fmt::format("{}{}:{}:{}: {}", all.empty() ? "" : "\n", path_.string(), line.at.line, line.at.column, line.text);
  throw Error(ErrorKind::usage, all);
}

std::string saw(const toml::node& node) {
  if (const auto* text = node.as_string()) return fmt::format("the text \"{}\"", text->get());
  if (const auto* whole = node.as_integer()) return fmt::format("{}", whole->get());
  if (const auto* real = node.as_floating_point()) return fmt::format("{}", real->get());
  if (const auto* truth = node.as_boolean()) return truth->get() ? "true" : "false";
  if (node.is_array()) return node.is_array_of_tables() ? "a list of tables" : "a list";
  if (node.is_table()) return "a table";
  return "a date or time";
}

Section::Section(const toml::table& table, std::string name, Mistakes& mistakes)
    : table_(&table), name_(std::move(name)), mistakes_(&mistakes) {}

const toml::source_region& Section::at(std::string_view key) const {
  const toml::node* node = table_->get(key);
  return node ? node->source() : table_->source();
}

const toml::node* Section::find(std::string_view key, Need need, std::string_view expected) {
  asked_.emplace(key);
  const toml::node* node = table_->get(key);
  if (!node && need == Need::required)
    mistakes_->add(at(), fmt::format("expected {} for \"{}\" in {}, saw nothing; add the line {} = ...", expected, key,
                                     name_, key));
  return node;
}

void Section::wrong(const toml::node& node, const std::string& expected) {
  mistakes_->add(node.source(), fmt::format("expected {}, saw {}", expected, saw(node)));
}

std::optional<double> Section::number(std::string_view key, Need need, const Range& range) {
  const toml::node* node = find(key, need, range.words);
  if (!node) return std::nullopt;
  const auto value = node->is_number() ? node->value<double>() : std::nullopt;
  if (!value || !std::isfinite(*value) || !range.holds(*value)) {
    wrong(*node, fmt::format("{} for \"{}\" in {}", range.words, key, name_));
    return std::nullopt;
  }
  return value;
}

std::optional<Word> Section::word(std::string_view key, Need need) {
  const toml::node* node = find(key, need, "a text in quotes");
  if (!node) return std::nullopt;
  const auto* text = node->as_string();
  if (!text || text->get().empty()) {
    wrong(*node, fmt::format("a text in quotes for \"{}\" in {}", key, name_));
    return std::nullopt;
  }
  return Word{text->get(), node->source()};
}

std::optional<bool> Section::truth(std::string_view key) {
  const toml::node* node = find(key, Need::optional, "true or false");
  if (!node) return std::nullopt;
  const auto* truth = node->as_boolean();
  if (!truth) {
    wrong(*node, fmt::format("true or false for \"{}\" in {}", key, name_));
    return std::nullopt;
  }
  return truth->get();
}

std::vector<Word> Section::words(std::string_view key, Need need) {
  const toml::node* node = find(key, need, "a list of texts in quotes");
  if (!node) return {};
  const auto* list = node->as_array();
  if (!list || (need == Need::required && list->empty())) {
    wrong(*node, fmt::format("a list of texts in quotes for \"{}\" in {}", key, name_));
    return {};
  }
  std::vector<Word> found;
  for (const toml::node& item : *list) {
    const auto* text = item.as_string();
    if (!text || text->get().empty()) {
      wrong(item, fmt::format("a text in quotes in the list \"{}\" of {}", key, name_));
    } else if (std::any_of(found.begin(), found.end(), [&](const Word& w) { return w.text == text->get(); })) {
      mistakes_->add(item.source(),
                     fmt::format("expected each name once in \"{}\" of {}, saw \"{}\" twice", key, name_, text->get()));
    } else {
      found.push_back({text->get(), item.source()});
    }
  }
  return found;
}

std::optional<Interval> Section::interval(std::string_view key, const Range& range) {
  const toml::node* node = find(key, Need::optional, "[min, max]");
  if (!node) return std::nullopt;
  const auto* list = node->as_array();
  const bool two_numbers = list && list->size() == 2 && (*list)[0].is_number() && (*list)[1].is_number();
  if (!two_numbers) {
    wrong(*node, fmt::format("two numbers [min, max] for \"{}\" in {}", key, name_));
    return std::nullopt;
  }
  const double min = *(*list)[0].value<double>();
  const double max = *(*list)[1].value<double>();
  if (!std::isfinite(min) || !std::isfinite(max) || !range.holds(min) || !range.holds(max)) {
    mistakes_->add(node->source(), fmt::format("expected [min, max], each {}, for \"{}\" in {}, saw [{}, {}]",
                                               range.words, key, name_, min, max));
    return std::nullopt;
  }
  if (max < min) {
    mistakes_->add(node->source(), fmt::format("expected max not below min for \"{}\" in {}, saw [{}, {}]; exchange "
                                               "them",
                                               key, name_, min, max));
    return std::nullopt;
  }
  return Interval{min, max};
}

std::optional<Section> Section::section(std::string_view key, Need need) {
  const toml::node* node = find(key, need, fmt::format("a table [{}]", key));
  if (!node) return std::nullopt;
  const auto* table = node->as_table();
  if (!table) {
    wrong(*node, fmt::format("a table [{}]", key));
    return std::nullopt;
  }
  return Section(*table, fmt::format("[{}]", key), *mistakes_);
}

std::vector<Section> Section::sections(std::string_view key, Need need) {
  const toml::node* node = find(key, need, fmt::format("at least one [[{}]]", key));
  if (!node) return {};
  const auto* list = node->as_array();
  if (!list) {
    wrong(*node, fmt::format("tables headed [[{}]], with two brackets", key));
    return {};
  }
  std::vector<Section> found;
  for (const toml::node& item : *list) {
    if (const auto* table = item.as_table())
      found.emplace_back(*table, fmt::format("[[{}]] number {}", key, found.size() + 1), *mistakes_);
    else
      wrong(item, fmt::format("a table headed [[{}]]", key));
  }
  if (found.empty() && need == Need::required) wrong(*node, fmt::format("at least one [[{}]]", key));
  return found;
}

void Section::finish() {
  std::vector<std::string> known(asked_.begin(), asked_.end());
  for (const auto& [key, node] : *table_) {
    if (asked_.contains(key.str())) continue;
    const std::string hint = suggestion(key.str(), known);
    mistakes_->add(key.source(), fmt::format("expected a key of {}, saw \"{}\"; {}", name_, key.str(),
                                             hint.empty() ? "remove the line" : hint));
  }
}

}  // namespace switchwright::profile_toml
