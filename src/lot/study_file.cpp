// The sheet of a study, as a spreadsheet writes it.
#include <algorithm>
#include <cctype>
#include <optional>

#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/lot/study.hpp"

namespace switchwright {

namespace {

std::string trimmed(std::string_view text) {
  const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r'; };
  while (!text.empty() && blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && blank(text.back())) text.remove_suffix(1);
  return std::string{text};
}

std::string lower(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

class Sheet {
 public:
  Sheet(std::string_view text, const std::string& name) : text_(text), name_(name) {
    if (text_.starts_with("\xEF\xBB\xBF")) text_.remove_prefix(3);
    const std::string_view header = text_.substr(0, text_.find('\n'));
    separator_ = header.find(';') != std::string_view::npos    ? ';'
                 : header.find('\t') != std::string_view::npos ? '\t'
                                                               : ',';
    if (!next()) throw Error(ErrorKind::usage, "the file is empty", name_, "its first line names the columns");
    header_ = cells_;
    for (std::string& cell : header_) cell = lower(cell);
  }

  /// The next line that holds something.
  bool next() {
    while (!text_.empty()) {
      const auto end = text_.find('\n');
      const std::string_view line = text_.substr(0, end);
      text_.remove_prefix(end == std::string_view::npos ? text_.size() : end + 1);
      ++line_;
      if (trimmed(line).empty() || trimmed(line).front() == '#') continue;
      split(line);
      if (!header_.empty() && cells_.size() != header_.size())
        throw Error(
            ErrorKind::usage,
            "the line has " + std::to_string(cells_.size()) + " cells, the header " + std::to_string(header_.size()),
            where());
      return true;
    }
    return false;
  }

  std::optional<std::size_t> find(std::string_view column) const {
    const auto at = std::find(header_.begin(), header_.end(), column);
    if (at == header_.end()) return std::nullopt;
    if (std::find(at + 1, header_.end(), column) != header_.end())
      throw Error(ErrorKind::usage, "the column \"" + std::string{column} + "\" is there twice", name_);
    return static_cast<std::size_t>(at - header_.begin());
  }
  std::size_t column(std::string_view wanted) const {
    if (const auto at = find(wanted)) return *at;
    std::vector<std::string> seen;
    for (const std::string& cell : header_) seen.push_back("\"" + terminal_safe(cell) + "\"");
    throw Error(ErrorKind::usage, "there is no column \"" + std::string{wanted} + "\"", name_,
                "the columns are " + joined_with_and(seen));
  }
  const std::string& text(std::size_t column) const {
    if (cells_[column].empty()) throw Error(ErrorKind::usage, "the " + header_[column] + " is missing", where());
    return cells_[column];
  }
  bool pass(std::size_t column) const {
    const std::string word = lower(text(column));
    if (word == "pass" || word == "good") return true;
    if (word == "fail" || word == "bad") return false;
    throw Error(ErrorKind::usage, "\"" + terminal_safe(text(column)) + "\" is neither pass nor fail", where());
  }
  std::string where() const { return name_ + ":" + std::to_string(line_); }

 private:
  void split(std::string_view line) {
    cells_.clear();
    std::string cell;
    bool quoted = false;
    for (std::size_t i = 0; i < line.size(); ++i) {
      const char c = line[i];
      if (quoted && c == '"' && i + 1 < line.size() && line[i + 1] == '"') {
        cell += '"';
        ++i;
      } else if (c == '"') {
        quoted = !quoted;
      } else if (c == separator_ && !quoted) {
        cells_.push_back(trimmed(cell));
        cell.clear();
      } else {
        cell += c;
      }
    }
    if (quoted) throw Error(ErrorKind::usage, "a quotation mark is not closed", where());
    cells_.push_back(trimmed(cell));
  }

  std::string_view text_;
  std::string name_;
  char separator_ = ',';
  std::size_t line_ = 0;
  std::vector<std::string> header_, cells_;
};

}  // namespace

StudySheet read_study(std::string_view text, const std::string& name) {
  Sheet sheet{text, name};
  const std::size_t part = sheet.column("part"), who = sheet.column("operator");
  const auto value = sheet.find("value"), result = sheet.find("result");
  if (value.has_value() == result.has_value())
    throw Error(ErrorKind::usage,
                value ? "the columns \"value\" and \"result\" are both there"
                      : "there is neither a column \"value\" nor one \"result\"",
                name, "\"value\" holds numbers, \"result\" pass or fail");
  StudySheet study;
  std::optional<Amount> kind;
  while (sheet.next()) {
    if (result) {
      study.calls.push_back({sheet.text(part), sheet.text(who), sheet.pass(*result)});
      continue;
    }
    const std::string& cell = sheet.text(*value);
    const Amount of_cell = unit_kind_of(cell).value_or(Amount::number);
    if (kind && *kind != of_cell)
      throw Error(ErrorKind::usage, "\"" + terminal_safe(cell) + "\" has another unit than the values before it",
                  sheet.where());
    kind = of_cell;
    study.values.push_back({sheet.text(part), sheet.text(who), read_amount(cell, of_cell, {}, sheet.where())});
  }
  if (study.values.empty() && study.calls.empty())
    throw Error(ErrorKind::usage, "there is no line below the header", name);
  return study;
}

std::vector<ReferenceCall> read_reference(std::string_view text, const std::string& name) {
  Sheet sheet{text, name};
  const std::size_t part = sheet.column("part"), result = sheet.column("result");
  std::vector<ReferenceCall> calls;
  while (sheet.next()) calls.push_back({sheet.text(part), sheet.pass(result)});
  if (calls.empty()) throw Error(ErrorKind::usage, "there is no line below the header", name);
  return calls;
}

}  // namespace switchwright
