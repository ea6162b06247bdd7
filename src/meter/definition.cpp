#include "switchwright/meter/definition.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <system_error>

namespace switchwright {

namespace {

/// Continuity has the accuracy of resistance where it has no row of its own.
std::vector<const AccuracyRow*> rows_of(const MeterDefinition& definition, Quantity quantity) {
  std::vector<const AccuracyRow*> rows;
  for (const AccuracyRow& row : definition.accuracy)
    if (row.quantity == quantity) rows.push_back(&row);
  if (rows.empty() && quantity == Quantity::continuity) return rows_of(definition, Quantity::resistance);
  return rows;
}

/// The smallest range that holds the value; the largest when none does.
const AccuracyRow* holding(const std::vector<const AccuracyRow*>& rows, double magnitude) {
  const AccuracyRow* best = nullptr;
  for (const AccuracyRow* row : rows) {
    if (!best) {
      best = row;
      continue;
    }
    const bool row_holds = row->full_scale >= magnitude;
    const bool best_holds = best->full_scale >= magnitude;
    const bool smaller = row->full_scale < best->full_scale;
    if (row_holds ? (!best_holds || smaller) : (!best_holds && !smaller)) best = row;
  }
  return best;
}

}  // namespace

double TemperatureRange::factor_at(double ambient_c) const {
  return 1.0 + share_per_kelvin * std::max({0.0, from_c - ambient_c, ambient_c - to_c});
}

MeterDefinition at_ambient(MeterDefinition definition, double ambient_c) {
  const double factor = definition.temperature.factor_at(ambient_c);
  for (AccuracyRow& row : definition.accuracy) {
    row.percent_of_reading *= factor;
    row.digits *= factor;
  }
  return definition;
}

bool MeterDefinition::shows_autorange() const {
  for (const auto& [name, table] : decoder.tables)
    for (const auto& [code, meaning] : table)
      if (meaning == "auto") return true;
  return false;
}

bool MeterDefinition::selects(Quantity quantity) const { return function_for(quantity) != nullptr; }

const FunctionCommands* MeterDefinition::function_for(Quantity quantity) const {
  const auto found = std::find_if(functions.begin(), functions.end(),
                                  [&](const FunctionCommands& f) { return f.quantity == quantity; });
  return found == functions.end() ? nullptr : &*found;
}

const Correction* MeterDefinition::correction_for(Quantity quantity, double value) const {
  const double magnitude = std::abs(value);
  const auto find = [&](Quantity wanted) -> const Correction* {
    for (const Correction& row : corrections)
      if (row.quantity == wanted && magnitude >= row.from && magnitude < row.to) return &row;
    return nullptr;
  };
  const Correction* own = find(quantity);
  return own == nullptr && quantity == Quantity::continuity ? find(Quantity::resistance) : own;
}

const AccuracyRow* MeterDefinition::accuracy_for(Quantity quantity, double value, double resolution) const {
  const auto rows = rows_of(*this, quantity);
  std::vector<const AccuracyRow*> same_digit;
  for (const AccuracyRow* row : rows)
    if (std::abs(row->resolution - resolution) <= 1e-6 * row->resolution) same_digit.push_back(row);
  return holding(same_digit.empty() ? rows : same_digit, std::abs(value));
}

const AccuracyRow* MeterDefinition::finest(Quantity quantity) const {
  const auto rows = rows_of(*this, quantity);
  const auto finer = [](const AccuracyRow* a, const AccuracyRow* b) {
    return a->resolution != b->resolution ? a->resolution < b->resolution : a->full_scale < b->full_scale;
  };
  return rows.empty() ? nullptr : *std::min_element(rows.begin(), rows.end(), finer);
}

std::optional<double> MeterDefinition::top_of_range(Quantity quantity) const {
  std::optional<double> top;
  for (const AccuracyRow* row : rows_of(*this, quantity)) top = std::max(top.value_or(0.0), row->full_scale);
  return top;
}

std::vector<std::string> list_meter_definitions(const SearchPath& where) {
  std::set<std::string> ids;
  for (const auto& directory : where.directories) {
    std::error_code error;
    for (std::filesystem::directory_iterator entry(directory, error), end; !error && entry != end;
         entry.increment(error))
      if (std::error_code ignored; entry->path().extension() == ".toml" && entry->is_regular_file(ignored))
        ids.insert(entry->path().stem().string());
  }
  return {ids.begin(), ids.end()};
}

}  // namespace switchwright
