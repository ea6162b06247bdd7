// The file of prior weights: every figure says where it is from.
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "core/toml_reader.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/explain/hypothesis.hpp"

namespace switchwright {

namespace {

using toml_reader::Mistakes;
using toml_reader::Need;
using toml_reader::Range;
using toml_reader::Section;

constexpr Range chance{0.0, 1.0, false, "a chance above 0 and at most 1"};

const std::array<std::string, 11> kinds{"stuck-closed", "stuck-open", "resistive", "open", "shorted", "drifted",
                                        "swapped",      "clocked",    "bridged",   "tied", "profile"};

/// A figure "key" and its "key_source".
void read_figure(Section& section, const std::string& key, double& figure, FaultPriors& priors) {
  if (const auto value = section.number(key, Need::required, chance)) figure = *value;
  if (const auto source = section.word(key + "_source", Need::required)) priors.sources[key] = source->text;
}

}  // namespace

FaultPriors parse_fault_priors(const std::string& text, const std::filesystem::path& path) {
  Mistakes mistakes(path);
  FaultPriors priors;
  priors.path = path;
  const toml::table table = toml_reader::parse(text, mistakes);
  Section root(table, "the file of priors", mistakes);
  root.schema(1);
  read_figure(root, "good", priors.good, priors);
  read_figure(root, "stray_reading", priors.stray_reading, priors);
  read_figure(root, "untouched", priors.untouched, priors);
  for (Section& kind : root.sections("kind", Need::required)) {
    const auto name = kind.word("name", Need::required);
    const auto figure = kind.number("chance", Need::required, chance);
    const auto source = kind.word("source", Need::required);
    kind.finish();
    if (!name || !figure || !source) continue;
    if (std::find(kinds.begin(), kinds.end(), name->text) == kinds.end()) {
      const std::string hint = suggestion(name->text, {kinds.begin(), kinds.end()});
      mistakes.add(name->at, fmt::format("expected a kind of fault, saw \"{}\"; {}", name->text, hint));
    } else if (!priors.per_part.emplace(name->text, *figure).second) {
      mistakes.add(name->at, fmt::format("expected each kind once, saw \"{}\" again", name->text));
    }
    priors.sources[name->text] = source->text;
  }
  root.finish();
  mistakes.throw_if_any();
  return priors;
}

FaultPriors load_fault_priors(const std::filesystem::path& path) {
  return parse_fault_priors(toml_reader::read_file(path, "the fault priors (profiles/priors/faults.toml)"), path);
}

}  // namespace switchwright
