// Is the bench fit to judge? Parts measured several times by several operators: repeatability and reproducibility by analysis of
// variance; or judged pass or fail: agreement with each other and with a reference that the operators do not see.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "switchwright/lot/proportion.hpp"

namespace switchwright {

struct StudyValue {
  std::string part;
  std::string operator_name;
  double value = 0.0;
};

struct VarianceRow {
  std::string source;
  long df = 0;
  double sum_of_squares = 0.0;
  double mean_square = 0.0;
  std::optional<double> f, p;
};

/// A source of spread as a standard deviation.
struct SpreadShare {
  double sd = 0.0;
  double of_total_pct = 0.0;               ///< share of the total standard deviation
  std::optional<double> of_tolerance_pct;  ///< 6 sd over the tolerance
  double of_variance_pct = 0.0;
};

struct GaugeStudy {
  std::size_t parts = 0, operators = 0, repeats = 0;
  std::vector<VarianceRow> rows;  ///< part, operator, part x operator (unless pooled), repeatability, total
  bool interaction_pooled = false;
  SpreadShare repeatability, reproducibility, interaction, gauge, part, total;
  /// sqrt(2) times part over gauge, rounded down; absent where the gauge shows no spread.
  std::optional<long> distinct_categories;
  enum class Fitness { fit, marginal, unfit } fitness = Fitness::unfit;
  std::string words;  ///< what it means, in one or two sentences
};
/// Every part by every operator equally often, at least two of each. A part x operator interaction with p above 0.25 is pooled into
/// repeatability (common practice). Fit: at most 10 % R&R of the total (and of the tolerance) and five categories; up to 30 %
/// marginal (common practice).
/// @throws Error(usage) that names what is missing or too many.
GaugeStudy gauge_study(std::span<const StudyValue> values, std::optional<double> tolerance = std::nullopt);

struct StudyCall {
  std::string part;
  std::string operator_name;
  bool pass = false;
};
struct ReferenceCall {
  std::string part;
  bool pass = false;
};

struct Agreement {
  std::string who;  ///< "A", "A and B"
  long agreed = 0, of = 0;
  std::optional<double> kappa;  ///< absent where chance alone would agree always
  Bounds limits;                ///< of the share agreed, Clopper-Pearson 95 %
};
struct AgainstReference {
  Agreement agreement;
  long false_passes = 0, bad = 0;  ///< calls of bad parts that were passed
  long false_fails = 0, good = 0;
  double largest_false_pass = 1.0;  ///< share of bad parts passed is below this with 95 % confidence
};

struct AgreementStudy {
  std::size_t parts = 0, operators = 0, repeats = 0;
  std::vector<Agreement> within;          ///< each operator with himself: parts judged alike every time
  std::vector<Agreement> between;         ///< pairs of operators, Cohen's kappa over the calls
  std::optional<double> fleiss_kappa;     ///< all calls of all operators
  std::vector<AgainstReference> against;  ///< each operator; empty without a reference
  GaugeStudy::Fitness fitness = GaugeStudy::Fitness::unfit;
  std::string words;
};
/// @throws Error(usage) as above; for a reference that lacks a part.
AgreementStudy agreement_study(std::span<const StudyCall> calls, std::span<const ReferenceCall> reference = {});

/// A study as it comes from a file: a header line with the columns part, operator and value (numbers, with or without a unit) or
/// result (pass, fail); further columns are ignored. Commas, semicolons or tabs between them.
struct StudySheet {
  std::vector<StudyValue> values;
  std::vector<StudyCall> calls;  ///< one of the two is empty
};
/// @param text the file's content, @param name for errors. @throws Error(usage) with the line.
StudySheet read_study(std::string_view text, const std::string& name);
/// Columns part and result.
std::vector<ReferenceCall> read_reference(std::string_view text, const std::string& name);

}  // namespace switchwright
