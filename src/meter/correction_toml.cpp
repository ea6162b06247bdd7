#include "meter/correction_toml.hpp"

#include <fmt/format.h>

#include "switchwright/core/words.hpp"

namespace switchwright {

namespace {

/// A float as TOML wants it: always with a point or an exponent.
std::string number(double value) {
  std::string text = fmt::format("{}", value);
  return text.find_first_of(".e") == std::string::npos ? text + ".0" : text;
}

}  // namespace

std::optional<Quantity> read_quantity(toml_reader::Section& section) {
  const auto name = section.choice("quantity", quantity_names(), toml_reader::Need::required);
  return name ? quantity_named(name->text) : std::nullopt;
}

Correction read_correction(toml_reader::Section& section) {
  using namespace toml_reader;
  Correction row;
  row.quantity = read_quantity(section).value_or(row.quantity);
  const auto from = section.number("from", Need::required, between(0.0, 1e12));
  const auto to = section.number("to", Need::required, above(0.0, 1e12));
  row.from = from.value_or(row.from);
  row.to = to.value_or(row.to);
  row.add = section.number("add", Need::required, between(-1e12, 1e12)).value_or(row.add);
  row.U = section.number("U", Need::required, between(0.0, 1e12)).value_or(row.U);
  row.k = section.number("k", Need::optional, between(1.0, 10.0)).value_or(row.k);
  if (from && to && *to <= *from)
    section.mistakes().add(section.at("to"), fmt::format("expected \"to\" above \"from\" {:g}, saw {:g}", *from, *to));
  section.finish();
  return row;
}

std::string correction_toml(const Correction& row, const std::string& heading) {
  return fmt::format("{}\nquantity = \"{}\"\nfrom = {}\nto = {}\nadd = {}\nU = {}\nk = {}\n", heading,
                     name_of(row.quantity), number(row.from), number(row.to), number(row.add), number(row.U),
                     number(row.k));
}

}  // namespace switchwright
