// The [[stated]] part of a profile: limits for what other instruments measure.
#include <fmt/format.h>

#include <algorithm>
#include <iterator>

#include "profile/parser.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::profile_toml {

void ProfileParser::parse_stated() {
  struct Kind {
    StatedQuantity quantity;
    const char* limit_key;
    bool at_least;
  };
  static constexpr Kind kinds[] = {{StatedQuantity::insulation_resistance, "min_ohm", true},
                                   {StatedQuantity::withstand_current, "max_a", false},
                                   {StatedQuantity::earth_bond, "max_ohm", false},
                                   {StatedQuantity::temperature_rise, "max_k", false},
                                   {StatedQuantity::tab_pull, "min_n", true}};
  std::vector<std::string> known;
  for (const Kind& kind : kinds) known.push_back(to_string(kind.quantity));
  for (Section section : root_.sections("stated", Need::optional)) {
    StatedRequirement wanted;
    const auto id = section.word("id", Need::required);
    if (id) {
      section.called(id->text);
      if (const auto fresh = fresh_id(*id, "stated result")) wanted.id = *fresh;
    }
    const auto quantity = section.word("quantity", Need::required);
    const auto what = section.word("what", Need::required);
    const auto kind = std::find_if(std::begin(kinds), std::end(kinds),
                                   [&](const Kind& k) { return quantity && to_string(k.quantity) == quantity->text; });
    std::optional<double> limit;
    if (kind != std::end(kinds)) {
      limit = section.number(kind->limit_key, Need::required, above_zero);
    } else if (quantity) {
      mistakes_->add(quantity->at, fmt::format("expected a quantity that can be stated, saw \"{}\"; {}", quantity->text,
                                               suggestion(quantity->text, known)));
      for (const Kind& k : kinds) section.skip(k.limit_key);
    }
    wanted.U_pct = section.number("U_pct", Need::optional, {0.0, 100.0, false, "a percentage above 0, up to 100"});
    wanted.severity = severity_of(section);
    wanted.required = section.truth("required").value_or(true);
    section.finish();
    if (wanted.id.empty() || !what || !limit) continue;
    wanted.quantity = kind->quantity;
    wanted.what = what->text;
    (kind->at_least ? wanted.limit.min : wanted.limit.max) = *limit;
    profile_->stated.push_back(std::move(wanted));
  }
}

}  // namespace switchwright::profile_toml
