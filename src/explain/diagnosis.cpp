#include "switchwright/explain/diagnosis.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <utility>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright {

Knowledge load_knowledge(const std::vector<std::filesystem::path>& profile_directories) {
  Knowledge knowledge;
  for (const std::string& id : list_profiles(profile_directories)) {
    try {
      knowledge.others.push_back(load_profile(id, profile_directories));
    } catch (const Error&) {
      // A file that somebody is still writing is no reason to leave the bench; `profiles check` names its
      // mistakes.
    }
  }
  for (const auto& directory : profile_directories) {
    const auto path = directory / "priors" / "faults.toml";
    if (!std::filesystem::exists(path)) continue;
    knowledge.priors = load_fault_priors(path);
    return knowledge;
  }
  throw Error(ErrorKind::usage, "the priors of faults are missing", "priors/faults.toml",
              "put the file back beside the profiles; it came with them");
}

std::vector<Place> unmeasured_places(const std::vector<Expectation>& expected, const std::vector<Finding>& findings) {
  std::vector<Place> places;
  for (const Expectation& e : expected)
    if (e.state != PairState::not_checked && std::none_of(findings.begin(), findings.end(), [&](const Finding& f) {
          return f.expected.position == e.position && f.expected.pair == e.pair;
        }))
      places.push_back({e.position, e.pair});
  return places;
}

DiagnosisSummary summary_of(const Diagnosis& diagnosis) {
  DiagnosisSummary summary;
  for (const Explanation& e : diagnosis.explanations)
    summary.explanations.push_back(
        {to_string(e.hypothesis), in_words(e.hypothesis), e.probability, e.same_readings_as, e.hides, e.consequences});
  if (diagnosis.next) {
    summary.next = diagnosis.next->place;
    summary.next_bits = diagnosis.next->information_bits;
  }
  summary.sentence = diagnosis.sentence;
  summary.assumed = diagnosis.assumed.sentence;
  return summary;
}

std::string percent_text(double probability) {
  if (probability > 0.999) return "over 99.9 %";
  if (probability < 0.001) return "under 0.1 %";
  return fmt::format("{:.1f} %", 100.0 * probability);
}

namespace {

/// The first few of a list, and how many more there are.
std::string some_of(const std::vector<std::string>& all) {
  constexpr std::size_t most = 4;
  if (all.size() <= most + 1) return joined_with_and(all);
  return fmt::format("{} and {} more", fmt::join(all.begin(), all.begin() + most, ", "), all.size() - most);
}

/// What is less probable than this is named, and that is all.
constexpr double worth_a_word = 0.05;

}  // namespace

std::vector<ToldLine> told(const DiagnosisSummary& diagnosis, std::size_t most) {
  std::vector<ToldLine> lines;
  std::size_t shown = 0;
  double rest = 0.0;
  for (const ExplainedFault& e : diagnosis.explanations) {
    if (shown >= most) {
      rest += e.probability;
      continue;
    }
    ++shown;
    lines.push_back({0, fmt::format("{}: {} ({})", percent_text(e.probability), e.words, e.fault)});
    if (shown > 1 && e.probability < worth_a_word) continue;
    for (const Consequence& consequence : e.consequences) {
      lines.push_back({1, fmt::format("{}: {}", to_string(consequence.severity), consequence.means)});
      if (shown == 1) lines.push_back({1, "To do: " + consequence.next});
    }
    if (!e.same_readings_as.empty())
      lines.push_back({1, "These readings cannot tell it from " + some_of(e.same_readings_as) + "."});
  }
  if (diagnosis.explanations.size() > shown)
    lines.push_back({0, fmt::format("{}: {} more", percent_text(rest), diagnosis.explanations.size() - shown)});
  if (diagnosis.next)
    lines.push_back({0, fmt::format("Measure next, it tells most: {} at {}.", diagnosis.next->pair.text(),
                                    diagnosis.next->position)});
  if (!diagnosis.assumed.empty()) lines.push_back({0, diagnosis.assumed});
  return lines;
}

std::vector<std::string> told_further(const DiagnosisSummary& diagnosis, std::size_t most) {
  std::vector<std::string> lines;
  for (std::size_t i = 0; i < std::min(most, diagnosis.explanations.size()); ++i) {
    const ExplainedFault& e = diagnosis.explanations[i];
    if (!e.hides.empty())
      lines.push_back(fmt::format("If it is {}, these would not show: {}.", e.fault, some_of(e.hides)));
  }
  if (diagnosis.next)
    lines.push_back(fmt::format("The reading {} at {} is expected to tell {:.2f} bit.", diagnosis.next->pair.text(),
                                diagnosis.next->position, diagnosis.next_bits));
  return lines;
}

void add_diagnosis(Verdict& verdict, const Profile& profile, const Knowledge& knowledge, const MeterDefinition& meter,
                   const Leads& leads, double k) {
  if (verdict.outcome == Outcome::pass || verdict.findings.empty()) return;
  std::vector<Place> possible;
  for (const auto* list : {&verdict.not_measured, &verdict.left_out})
    for (const Expectation& e : *list) possible.push_back({e.position, e.pair});
  ExplainSettings settings;
  settings.k = k;
  verdict.diagnosis = summary_of(
      explain(profile, knowledge.others, verdict.findings, possible, meter, leads, knowledge.priors, settings));
}

}  // namespace switchwright
