#include "core/toml_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <fstream>
#include <iterator>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::toml_reader {

namespace {

constexpr std::uintmax_t longest_file_bytes = 1U << 20;
constexpr std::size_t longest_shown = 60;

std::string list_of(const std::vector<std::string>& words) {
  std::string list;
  for (const std::string& word : words) list += fmt::format("{}\"{}\"", list.empty() ? "" : ", ", word);
  return words.size() > 1 ? "one of " + list : list;
}

std::string after(const std::string& hint) { return hint.empty() ? hint : "; " + hint; }

}  // namespace

void Mistakes::add(const toml::source_region& at, const std::string& text) {
  // What is missing in an empty file stands nowhere; people count from 1.
  lines_.push_back({{std::max<toml::source_index>(at.begin.line, 1), std::max<toml::source_index>(at.begin.column, 1)},
                    terminal_safe(text)});
}

void Mistakes::throw_if_any() const {
  if (lines_.empty()) return;
  std::vector<Line> sorted = lines_;
  std::stable_sort(sorted.begin(), sorted.end(), [](const Line& a, const Line& b) { return a.at < b.at; });
  std::string all;
  for (const Line& line : sorted)
    all +=
        fmt::format("{}{}:{}:{}: {}", all.empty() ? "" : "\n", path_.string(), line.at.line, line.at.column, line.text);
  throw Error(ErrorKind::usage, all);
}

std::string Range::said() const {
  if (words) return words;
  if (min == max) return fmt::format("the number {}", min);
  const bool endless = std::isinf(max);
  if (std::isinf(min)) return endless ? "a number" : fmt::format("a number up to {}", max);
  if (endless) return min_itself ? fmt::format("a number of {} or more", min) : fmt::format("a number above {}", min);
  return min_itself ? fmt::format("a number from {} to {}", min, max)
                    : fmt::format("a number above {} and up to {}", min, max);
}

std::string in_quotes(std::string_view text) {
  return fmt::format("\"{}{}\"", terminal_safe(text.substr(0, longest_shown)),
                     text.size() > longest_shown ? "..." : "");
}

std::string saw(const toml::node& node) {
  if (const auto* text = node.as_string()) return "the text " + in_quotes(text->get());
  if (const auto* whole = node.as_integer()) return fmt::format("{}", whole->get());
  if (const auto* real = node.as_floating_point()) return fmt::format("{}", real->get());
  if (const auto* truth = node.as_boolean()) return truth->get() ? "true" : "false";
  if (node.is_array()) return node.is_array_of_tables() ? "a list of tables" : "a list";
  if (node.is_table()) return "a table";
  return "a date or time";
}

Section::Section(const toml::table& table, std::string name, Mistakes& mistakes)
    : Section(table, {}, name, name, mistakes) {}

Section::Section(const toml::table& table, std::string path, std::string heading, std::string name, Mistakes& mistakes)
    : table_(&table),
      path_(std::move(path)),
      heading_(std::move(heading)),
      name_(std::move(name)),
      mistakes_(&mistakes) {}

const toml::source_region& Section::at(std::string_view key) const {
  const toml::node* node = table_->get(key);
  return node ? node->source() : table_->source();
}

std::string Section::path_of(std::string_view key) const {
  return path_.empty() ? std::string(key) : fmt::format("{}.{}", path_, key);
}

const toml::node* Section::find(std::string_view key, Need need, std::string_view expected) {
  asked_.emplace(key);
  const toml::node* node = table_->get(key);
  if (!node && need == Need::required)
    mistakes_->add(at(), fmt::format("expected {} for \"{}\" in {}, saw nothing; add the line {} = ...", expected, key,
                                     name_, key));
  return node;
}

void Section::wrong(const toml::node& node, std::string_view key, std::string_view expected, const std::string& hint) {
  mistakes_->add(node.source(),
                 fmt::format("expected {} for \"{}\" in {}, saw {}{}", expected, key, name_, saw(node), after(hint)));
}

std::optional<double> Section::number(std::string_view key, Need need, const Range& range) {
  const toml::node* node = find(key, need, range.said());
  if (!node) return std::nullopt;
  const auto value = node->is_number() ? node->value<double>() : std::nullopt;
  if (value && std::isfinite(*value) && range.holds(*value)) return value;
  wrong(*node, key, range.said());
  return std::nullopt;
}

std::optional<long long> Section::whole(std::string_view key, Need need, long long least, long long most) {
  const std::string expected = fmt::format("a whole number from {} to {}", least, most);
  const toml::node* node = find(key, need, expected);
  if (!node) return std::nullopt;
  const auto* value = node->as_integer();
  if (value && value->get() >= least && value->get() <= most) return value->get();
  wrong(*node, key, expected);
  return std::nullopt;
}

void Section::schema(int known) { (void)number("schema", Need::required, between(known, known)); }

std::optional<Word> Section::word(std::string_view key, Need need) {
  const toml::node* node = find(key, need, "a text in quotes");
  if (!node) return std::nullopt;
  const auto* text = node->as_string();
  if (text && !text->get().empty()) return Word{text->get(), node->source()};
  wrong(*node, key, text ? "a text that is not empty" : "a text in quotes");
  return std::nullopt;
}

std::optional<std::string> Section::text(std::string_view key, Need need) {
  auto found = word(key, need);
  return found ? std::optional(std::move(found->text)) : std::nullopt;
}

std::optional<Word> Section::choice(std::string_view key, const std::vector<std::string>& known, Need need) {
  const toml::node* node = find(key, need, list_of(known));
  if (!node) return std::nullopt;
  const auto* text = node->as_string();
  if (text && std::find(known.begin(), known.end(), text->get()) != known.end())
    return Word{text->get(), node->source()};
  const bool near = text && !near_names(text->get(), known).empty();
  const bool hint_says_more = near && known.size() > 4;
  mistakes_->add(node->source(), fmt::format("expected {} for \"{}\" in {}, saw {}{}",
                                             hint_says_more ? fmt::format("a known {}", key) : list_of(known), key,
                                             name_, text ? in_quotes(text->get()) : saw(*node),
                                             after(near ? suggestion(text->get(), known) : "")));
  return std::nullopt;
}

std::optional<bool> Section::truth(std::string_view key) {
  const toml::node* node = find(key, Need::optional, "true or false");
  if (!node) return std::nullopt;
  if (const auto* truth = node->as_boolean()) return truth->get();
  wrong(*node, key, "true or false");
  return std::nullopt;
}

std::vector<Word> Section::words(std::string_view key, Need need) {
  const toml::node* node = find(key, need, "a list of texts in quotes");
  if (!node) return {};
  const auto* list = node->as_array();
  if (!list || (need == Need::required && list->empty())) {
    wrong(*node, key, "a list of texts in quotes");
    return {};
  }
  std::vector<Word> found;
  for (const toml::node& item : *list) {
    const auto* text = item.as_string();
    if (!text || text->get().empty()) {
      mistakes_->add(item.source(),
                     fmt::format("expected a text in quotes in the list \"{}\" of {}, saw {}", key, name_, saw(item)));
    } else if (std::any_of(found.begin(), found.end(), [&](const Word& w) { return w.text == text->get(); })) {
      mistakes_->add(item.source(), fmt::format("expected each name once in \"{}\" of {}, saw {} twice", key, name_,
                                                in_quotes(text->get())));
    } else {
      found.push_back({text->get(), item.source()});
    }
  }
  return found;
}

std::vector<std::string> Section::texts(std::string_view key, Need need) {
  const toml::node* node = find(key, need, "a list of texts in quotes");
  if (!node) return {};
  const auto* list = node->as_array();
  if (!list) {
    wrong(*node, key, "a list of texts in quotes");
    return {};
  }
  std::vector<std::string> found;
  for (const toml::node& item : *list) {
    const auto* text = item.as_string();
    if (text && !text->get().empty())
      found.push_back(text->get());
    else
      mistakes_->add(item.source(),
                     fmt::format("expected a text in quotes in the list \"{}\" of {}, saw {}", key, name_, saw(item)));
  }
  return found;
}

std::optional<Interval> Section::interval(std::string_view key, const Range& range) {
  const toml::node* node = find(key, Need::optional, "[min, max]");
  if (!node) return std::nullopt;
  const auto* list = node->as_array();
  const bool two_numbers = list && list->size() == 2 && (*list)[0].is_number() && (*list)[1].is_number();
  if (!two_numbers) {
    wrong(*node, key, "two numbers [min, max]");
    return std::nullopt;
  }
  const double min = *(*list)[0].value<double>();
  const double max = *(*list)[1].value<double>();
  if (!std::isfinite(min) || !std::isfinite(max) || !range.holds(min) || !range.holds(max)) {
    mistakes_->add(node->source(), fmt::format("expected [min, max], each {}, for \"{}\" in {}, saw [{}, {}]",
                                               range.said(), key, name_, min, max));
    return std::nullopt;
  }
  if (max < min) {
    mistakes_->add(
        node->source(),
        fmt::format("expected max not below min for \"{}\" in {}, saw [{}, {}]; exchange them", key, name_, min, max));
    return std::nullopt;
  }
  return Interval{min, max};
}

std::optional<Section> Section::section(std::string_view key, Need need) {
  const std::string path = path_of(key);
  const std::string heading = fmt::format("[{}]", path);
  asked_.emplace(key);
  const toml::node* node = table_->get(key);
  if (!node) {
    if (need == Need::required)
      mistakes_->add(at(),
                     fmt::format("expected the table {} in {}, saw none; add the line {}", heading, name_, heading));
    return std::nullopt;
  }
  if (const auto* table = node->as_table()) return Section(*table, path, heading, heading, *mistakes_);
  mistakes_->add(node->source(), fmt::format("expected a table headed {}, saw {}", heading, saw(*node)));
  return std::nullopt;
}

std::vector<Section> Section::sections(std::string_view key, Need need) {
  const std::string path = path_of(key);
  const std::string heading = fmt::format("[[{}]]", path);
  asked_.emplace(key);
  const toml::node* node = table_->get(key);
  const auto none = [&](const toml::source_region& at) {
    if (need == Need::required)
      mistakes_->add(at, fmt::format("expected at least one {} in {}, saw none", heading, name_));
    return std::vector<Section>{};
  };
  if (!node) return none(at());
  const auto* list = node->as_array();
  if (!list) {
    mistakes_->add(node->source(),
                   fmt::format("expected tables headed {}, with two brackets, saw {}", heading, saw(*node)));
    return {};
  }
  if (list->empty()) return none(node->source());
  std::vector<Section> found;
  for (const toml::node& item : *list) {
    if (const auto* table = item.as_table())
      found.push_back(
          Section(*table, path, heading, fmt::format("{} number {}", heading, found.size() + 1), *mistakes_));
    else
      mistakes_->add(item.source(), fmt::format("expected a table headed {}, saw {}", heading, saw(item)));
  }
  return found;
}

void Section::finish() {
  const std::vector<std::string> known(asked_.begin(), asked_.end());
  for (const auto& [key, node] : *table_) {
    if (asked_.contains(key.str())) continue;
    const std::string hint = suggestion(key.str(), known);
    mistakes_->add(key.source(), fmt::format("expected a key of {}, saw {}; {}", name_, in_quotes(key.str()),
                                             hint.empty() ? "remove the line" : hint));
  }
}

std::string read_file(const std::filesystem::path& path, std::string_view what) {
  const auto refuse = [&](const std::string& why, const std::string& next) -> Error {
    return Error(ErrorKind::usage, why, terminal_safe(path.string()), next);
  };
  std::error_code problem;
  const auto status = std::filesystem::status(path, problem);
  if (status.type() == std::filesystem::file_type::not_found)
    throw refuse(fmt::format("there is no such file, where {} should be", what), "check the path");
  if (problem) throw refuse("the file cannot be read: " + problem.message(), "check the path and its permissions");
  if (!std::filesystem::is_regular_file(status)) throw refuse("this is not a file", "give the path of a .toml file");
  const auto bytes = std::filesystem::file_size(path, problem);
  if (!problem && bytes > longest_file_bytes)
    throw refuse(fmt::format("a file of {} bytes is too long for {}", bytes, what), "the longest allowed is 1 MiB");
  errno = 0;
  std::ifstream file(path, std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  if (!file && !file.eof())
    throw refuse("the file cannot be read: " + system_error_text(errno),
                 "give the path of a .toml file that you may read");
  return text;
}

toml::table parse(const std::string& text, Mistakes& mistakes) {
  try {
    return toml::parse(text);
  } catch (const toml::parse_error& problem) {
    mistakes.add(problem.source(),
                 fmt::format("expected TOML, saw a mistake in its grammar: {}", problem.description()));
  }
  mistakes.throw_if_any();
  return {};
}

}  // namespace switchwright::toml_reader
