#include "switchwright/profile/wired.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright {

namespace {

constexpr const char* how_to_write = "write 2800W@240, 20.6ohm, or for one output H1-H2=2800W@240";
double ohm_of(const std::string& text) { return read_load_ohm(text, "--wired"); }

std::vector<PoweredLoad> outputs_of(const Profile& profile) {
  std::vector<PoweredLoad> outputs;
  if (profile.powered)
    for (const PoweredLoad& load : profile.powered->loads)
      if (!load.lamp) outputs.push_back(load);
  return outputs;
}

Pair only_output(const Profile& profile) {
  const std::vector<PoweredLoad> outputs = outputs_of(profile);
  if (outputs.size() == 1) return outputs.front().between;
  std::vector<std::string> names;
  for (const PoweredLoad& load : outputs) names.push_back(load.between.text() + "=...");
  throw Error(ErrorKind::usage,
              outputs.empty() ? "the profile " + profile.id + " does not say where its load is connected"
                              : "the profile " + profile.id + " has more than one output",
              "--wired", "say which: " + (names.empty() ? "H1-H2=..." : joined_with_and(names)));
}

bool is_point(const Profile& profile, const std::string& name) {
  const std::vector<std::string> nodes = profile.network_nodes();
  if (std::find(nodes.begin(), nodes.end(), name) != nodes.end()) return true;
  return profile.powered && std::find(profile.powered->outside.begin(), profile.powered->outside.end(), name) !=
                                profile.powered->outside.end();
}

Pair named_output(const std::string& name, const Profile& profile) {
  for (const PoweredLoad& load : outputs_of(profile))
    if (load.id == name) return load.between;
  const auto dash = name.find('-');
  if (dash != std::string::npos) {
    const std::string a = name.substr(0, dash), b = name.substr(dash + 1);
    if (a != b && is_point(profile, a) && is_point(profile, b)) return {a, b};
  }
  throw Error(ErrorKind::usage, "\"" + terminal_safe(name) + "\" is no output of " + profile.id, "--wired",
              how_to_write);
}

std::string entry(const std::string& id, const Pair& between, double ohm, double tolerance_pct,
                  const std::optional<Interval>& strikes_v) {
  std::string text =
      fmt::format("\n[[wired]]\nid = \"{}\"\nbetween = [\"{}\", \"{}\"]\nnominal_ohm = {:.6g}\ntolerance_pct = {:g}\n",
                  id, between.first(), between.second(), ohm, tolerance_pct);
  if (strikes_v) text += fmt::format("strikes_v = [{:g}, {:g}]\n", strikes_v->min, strikes_v->max);
  return text;
}

/// A filament that is cold has a tenth of what it has when it glows; below that nothing is certain (from memory).
std::string lamp_entry(const std::string& id, const PoweredLoad& lamp) {
  constexpr double cold = 0.05, glowing = 1.2;
  if (lamp.strikes_v) return entry(id, lamp.between, lamp.ohm, lamp.tolerance_pct, lamp.strikes_v);
  const double middle = lamp.ohm * (cold + glowing) / 2.0;
  return entry(id, lamp.between, middle, 100.0 * (glowing - cold) / (glowing + cold), {});
}

}  // namespace

WiredLoad parse_wired_load(const std::string& text, const Profile& profile) {
  const auto equals = text.find('=');
  if (equals == std::string::npos) return {only_output(profile), ohm_of(text)};
  return {named_output(text.substr(0, equals), profile), ohm_of(text.substr(equals + 1))};
}

Profile wired_profile(const Profile& profile, const std::vector<WiredLoad>& loads) {
  std::string text = profile.source_text + "\n# What the part stayed wired to while it was measured.";
  std::vector<Pair> stated;
  int n = 0;
  for (const WiredLoad& load : loads) {
    if (std::find(stated.begin(), stated.end(), load.between) != stated.end())
      throw Error(ErrorKind::usage, "two loads are stated for " + load.between.text(), "--wired",
                  "state what lies between the two as one");
    stated.push_back(load.between);
    text += entry(fmt::format("wired-{}", ++n), load.between, load.ohm, wired_load_tolerance_pct, {});
  }
  if (profile.powered)
    for (const PoweredLoad& load : profile.powered->loads) {
      if (std::find(stated.begin(), stated.end(), load.between) != stated.end()) continue;
      const std::string id = fmt::format("wired-{}", ++n);
      text += load.lamp ? lamp_entry(id, load)
                        : entry(id, load.between, load.ohm, std::max(load.tolerance_pct, wired_load_tolerance_pct), {});
    }
  Profile wired = parse_profile(text, profile.path.empty() ? profile.id : profile.path.string());
  wired.id = profile.id;
  wired.path = profile.path;
  return wired;
}

bool is_wired(const Profile& profile) {
  return std::any_of(profile.elements.begin(), profile.elements.end(), [](const Element& e) { return e.outside; });
}

Profile with_pulled(const Profile& profile, const std::vector<std::string>& terminals) {
  Profile pulled = profile;
  std::erase_if(pulled.elements, [&](const Element& e) {
    return e.outside && std::any_of(terminals.begin(), terminals.end(), [&](const std::string& terminal) {
             return e.between.first() == terminal || e.between.second() == terminal;
           });
  });
  return pulled;
}

Profile all_pulled(const Profile& profile) { return with_pulled(profile, wired_terminals(profile)); }

std::vector<std::string> wired_terminals(const Profile& profile) {
  std::vector<std::string> wired;
  for (const std::string& terminal : profile.terminals)
    if (std::any_of(profile.elements.begin(), profile.elements.end(), [&](const Element& e) {
          return e.outside && (e.between.first() == terminal || e.between.second() == terminal);
        }))
      wired.push_back(terminal);
  return wired;
}

std::string wired_words(const Profile& profile) {
  std::vector<std::string> parts;
  for (const Element& e : profile.elements)
    if (e.outside)
      parts.push_back(e.strikes_v ? e.between.text() + " to a lamp that has to strike"
                                  : fmt::format("{} to {} (within {:g} %)", e.between.text(), human_ohm(e.nominal_ohm),
                                                e.tolerance_pct));
  return joined_with_and(parts);
}

}  // namespace switchwright
