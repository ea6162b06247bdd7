#include "switchwright/lot/plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <limits>
#include <utility>

#include "lot/mil_std_105e.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

std::span<const tables::Row> table_of(InspectionMode mode) {
  switch (mode) {
    case InspectionMode::normal: return tables::normal;
    case InspectionMode::tightened: return tables::tightened;
    case InspectionMode::reduced: break;
  }
  return tables::reduced;
}

std::string_view cell(const tables::Row& row, std::size_t column) {
  std::string_view rest = row.cells;
  for (;; --column) {
    rest.remove_prefix(std::min(rest.find_first_not_of(' '), rest.size()));
    const std::string_view word = rest.substr(0, rest.find(' '));
    if (column == 0) return word;
    rest.remove_prefix(word.size());
  }
}

std::size_t column_of(double aql) {
  for (std::size_t i = 0; i < tables::aqls.size(); ++i)
    if (std::abs(aql - tables::aqls[i]) <= 1e-9 * tables::aqls[i]) return i;
  const auto nearest = std::min_element(tables::aqls.begin(), tables::aqls.end(), [&](double a, double b) {
    return std::abs(std::log(a / std::max(aql, 1e-3))) < std::abs(std::log(b / std::max(aql, 1e-3)));
  });
  std::string known;
  for (const double value : tables::aqls) known += (known.empty() ? "" : ", ") + aql_text(value);
  throw Error(ErrorKind::usage, fmt::format("MIL-STD-105E has no AQL of {:g}", aql), "AQL",
              fmt::format("take {}, or another of {}", aql_text(*nearest), known));
}

template <std::size_t n>
std::size_t index_of(std::string_view name, const std::array<const char*, n>& names, const char* what) {
  std::string bare;
  for (const char c : name)
    if (c != '-' && c != ' ') bare += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  for (std::size_t i = 0; i < n; ++i) {
    std::string known;
    for (const char* c = names[i]; *c != '\0'; ++c)
      if (*c != '-') known += static_cast<char>(std::toupper(static_cast<unsigned char>(*c)));
    if (bare == known) return i;
  }
  throw Error(ErrorKind::usage, "\"" + terminal_safe(name) + "\" is no " + what, "",
              suggestion(name, {names.begin(), names.end()}));
}

constexpr std::array<const char*, 3> mode_names{"normal", "tightened", "reduced"};
constexpr std::array<const char*, 7> level_names{"I", "II", "III", "S-1", "S-2", "S-3", "S-4"};

}  // namespace

std::string to_string(InspectionMode mode) { return mode_names[static_cast<std::size_t>(mode)]; }
std::string to_string(InspectionLevel level) { return level_names[static_cast<std::size_t>(level)]; }

const std::vector<std::string>& inspection_mode_names() {
  static const std::vector<std::string> names{mode_names.begin(), mode_names.end()};
  return names;
}
const std::vector<std::string>& inspection_level_names() {
  static const std::vector<std::string> names{level_names.begin(), level_names.end()};
  return names;
}

InspectionMode inspection_mode_named(std::string_view name) {
  return static_cast<InspectionMode>(index_of(name, mode_names, "way of inspection"));
}
InspectionLevel inspection_level_named(std::string_view name) {
  return static_cast<InspectionLevel>(index_of(name, level_names, "inspection level"));
}

std::span<const double> preferred_aqls() { return tables::aqls; }

std::string aql_text(double aql) {
  if (aql < 0.0995) return fmt::format("{:.3f}", aql);
  if (aql < 0.995) return fmt::format("{:.2f}", aql);
  return aql < 9.95 ? fmt::format("{:.1f}", aql) : fmt::format("{:.0f}", aql);
}

TablePlan table_plan(InspectionMode mode, char letter, double aql) {
  const auto rows = table_of(mode);
  const std::size_t column = column_of(aql);
  auto row = std::find_if(rows.begin(), rows.end(), [&](const tables::Row& r) { return r.letter == letter; });
  if (row == rows.end() || letter == 'S')
    throw Error(ErrorKind::usage,
                fmt::format("there is no sample size code letter \"{}\"", terminal_safe({&letter, 1})), "",
                "the letters are A to R without I and O");
  std::string_view here = cell(*row, column);
  while (here == "v" || here == "^") {
    here == "v" ? ++row : --row;
    here = cell(*row, column);
  }
  const auto slash = here.find('/');
  const auto number = [](std::string_view digits) {
    int value = 0;
    for (const char c : digits) value = 10 * value + (c - '0');
    return value;
  };
  return {row->letter, row->sample_size, number(here.substr(0, slash)), number(here.substr(slash + 1))};
}

char code_letter(long lot_size, InspectionLevel level) {
  if (lot_size < 2)
    throw Error(ErrorKind::usage, fmt::format("MIL-STD-105E has no plan for a lot of {}", lot_size), "",
                "lots begin at 2 units; test a single unit by itself");
  for (const tables::Sizes& sizes : tables::letters)
    if (lot_size <= sizes.up_to) return sizes.letters[static_cast<std::size_t>(level)];
  return tables::letters.back().letters[static_cast<std::size_t>(level)];
}

SamplingPlan sampling_plan(long lot_size, InspectionLevel level, double aql, InspectionMode mode) {
  SamplingPlan plan;
  plan.lot_size = lot_size;
  plan.level = level;
  plan.mode = mode;
  plan.aql = aql;
  plan.code_letter = code_letter(lot_size, level);
  plan.table = table_plan(mode, plan.code_letter, aql);
  plan.whole_lot = plan.table.sample_size >= lot_size;
  plan.sample_size = plan.whole_lot ? lot_size : plan.table.sample_size;
  plan.accept = plan.table.accept;
  plan.reject = plan.table.reject;
  return plan;
}

DoubleOffer double_plan(const SamplingPlan& single) {
  // Table III-A, by the acceptance number of the single plan in its place: first and second accept / reject.
  struct Pair {
    int single_accept, accept1, reject1, accept2, reject2;
  };
  static constexpr std::array<Pair, 10> pairs{{{1, 0, 2, 1, 2},
                                               {2, 0, 3, 3, 4},
                                               {3, 1, 4, 4, 5},
                                               {5, 2, 5, 6, 7},
                                               {7, 3, 7, 8, 9},
                                               {10, 5, 9, 12, 13},
                                               {14, 7, 11, 18, 19},
                                               {21, 11, 16, 26, 27},
                                               {30, 17, 22, 37, 38},
                                               {44, 25, 31, 56, 57}}};
  if (single.mode != InspectionMode::normal) return {{}, "Double sampling is offered for normal inspection only."};
  if (single.table.accept == 0) return {{}, "A plan that accepts on zero has no double plan: use the single one."};
  const auto* const row = std::find_if(tables::normal.begin(), tables::normal.end(),
                                       [&](const tables::Row& r) { return r.letter == single.table.letter; });
  if (row == tables::normal.begin()) return {{}, "Code letter A has no double plan: use the single one."};
  const int size = (row - 1)->sample_size;
  if (2L * size >= single.lot_size)
    return {{}, fmt::format("The two samples of {} reach the lot: use the single plan.", size)};
  const auto* const pair =
      std::find_if(pairs.begin(), pairs.end(), [&](const Pair& p) { return p.single_accept == single.table.accept; });
  return {DoublePlan{size, pair->accept1, pair->reject1, pair->accept2, pair->reject2}, {}};
}

}  // namespace switchwright
