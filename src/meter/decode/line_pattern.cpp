#include "meter/decode/line_pattern.hpp"

#include <algorithm>
#include <utility>

namespace switchwright {

std::optional<LinePattern> LinePattern::compile(std::string_view text) {
  constexpr std::pair<std::string_view, Kind> fields[] = {{"value", Kind::value},
                                                          {"unit", Kind::unit},
                                                          {"function", Kind::function},
                                                          {"word", Kind::word},
                                                          {"digits", Kind::digits}};
  LinePattern pattern;
  while (!text.empty()) {
    if (text.front() == ' ') {
      if (pattern.pieces_.empty() || pattern.pieces_.back().kind != Kind::blanks)
        pattern.pieces_.push_back({Kind::blanks, 0});
      text.remove_prefix(1);
      continue;
    }
    if (text.front() != '{') {
      pattern.pieces_.push_back({Kind::literal, text.front()});
      text.remove_prefix(1);
      continue;
    }
    const std::size_t close = text.find('}');
    if (close == std::string_view::npos) return std::nullopt;
    const std::string_view name = text.substr(1, close - 1);
    const auto* field =
        std::find_if(std::begin(fields), std::end(fields), [&](const auto& f) { return f.first == name; });
    if (field == std::end(fields)) return std::nullopt;
    const bool once = field->second != Kind::word && field->second != Kind::digits;
    if (once && pattern.has(field->second)) return std::nullopt;
    pattern.pieces_.push_back({field->second, 0});
    text.remove_prefix(close + 1);
  }
  if (!pattern.has(Kind::value)) return std::nullopt;
  return pattern;
}

bool LinePattern::has(Kind kind) const {
  return std::any_of(pieces_.begin(), pieces_.end(), [kind](const Piece& piece) { return piece.kind == kind; });
}

bool LinePattern::take_value(std::string_view& rest, const std::vector<std::string>& words, LineFields& fields) const {
  for (const std::size_t sign : {std::size_t{0}, std::size_t{1}}) {
    if (sign == 1 && (rest.empty() || (rest.front() != '+' && rest.front() != '-'))) break;
    for (const std::string& word : words)
      if (rest.substr(sign).starts_with(word)) {
        fields.value_word = rest.substr(sign, word.size());
        rest.remove_prefix(sign + word.size());
        return true;
      }
  }
  fields.number = take_number(rest, NumberForm::exponent);
  return fields.number.has_value();
}

std::optional<LineFields> LinePattern::match(std::string_view line, const std::vector<std::string>& words) const {
  LineFields fields;
  for (std::size_t i = 0; i < pieces_.size(); ++i) {
    const auto take = [&line](std::size_t count) {
      const std::string_view taken = line.substr(0, count);
      line.remove_prefix(std::min(count, line.size()));
      return taken;
    };
    switch (pieces_[i].kind) {
      case Kind::literal:
        if (line.empty() || line.front() != pieces_[i].literal) return std::nullopt;
        line.remove_prefix(1);
        break;
      case Kind::blanks: take(std::min(line.find_first_not_of(' '), line.size())); break;
      case Kind::digits: {
        const std::size_t count = std::min(line.find_first_not_of("0123456789"), line.size());
        if (count == 0) return std::nullopt;
        take(count);
        break;
      }
      case Kind::value:
        if (!take_value(line, words, fields)) return std::nullopt;
        break;
      default: {
        std::string ends = " ";
        // Where blanks may follow, also none may: the character behind them ends the field too.
        const std::size_t next = i + 1 < pieces_.size() && pieces_[i + 1].kind == Kind::blanks ? i + 2 : i + 1;
        if (next < pieces_.size() && pieces_[next].kind == Kind::literal) ends += pieces_[next].literal;
        const std::string_view taken = take(std::min(line.find_first_of(ends), line.size()));
        if (taken.empty()) return std::nullopt;
        if (pieces_[i].kind == Kind::unit) fields.unit = taken;
        if (pieces_[i].kind == Kind::function) fields.function = taken;
      }
    }
  }
  if (!line.empty()) return std::nullopt;
  return fields;
}

}  // namespace switchwright
