#include "switchwright/suit/fit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "suit/fit_circuit.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/conformance.hpp"
#include "switchwright/judge/holm.hpp"
#include "switchwright/profile/contact_limits.hpp"
#include "switchwright/suit/quick_connect.hpp"

namespace switchwright {

namespace {

// What supplies may do. ANSI C84.1 range A: 5 % above nominal in service; IEC 60038: 10 %. A part that is made for a
// voltage is made for the first; beyond the second nobody has promised anything.
constexpr double usual_over = 1.05;
constexpr double most_over = 1.10;
constexpr const char* over_source =
    "supply tolerances of ANSI C84.1 (range A, +5 %) and IEC 60038 (+10 %), used here as limits: a rule of this tool";

Outcome by_excess(double ratio, double usual, double most) {
  return ratio <= usual * (1 + 1e-9) ? Outcome::pass : ratio <= most * (1 + 1e-9) ? Outcome::undecided : Outcome::fail;
}

/// What the load is on this supply.
struct LoadOnSupply {
  double current_a;
  double ohm;
  double power_w;
  std::optional<double> rated_w;  ///< at the voltage it was made for
  double at_v;
};

class Fitter {
 public:
  Fitter(const Profile& profile, const FitRequest& request) : profile_(profile), request_(request), load_(load()) {}

  Fit run() {
    voltage();
    load_power();
    current();
    elements();
    contacts();
    terminal();
    if (request_.record_outcome) record();
    return conclude();
  }

 private:
  LoadOnSupply load() const {
    const FitLoad& given = request_.load;
    const double supply = request_.supply_v;
    if (!(supply > 0.0) || supply > 1e5)
      throw Error(ErrorKind::usage, "the supply must be above 0 V", "--supply", "give volts, such as --supply 240");
    const double at_v = given.at_v.value_or(supply);
    const double ohm = given.ohm       ? *given.ohm
                       : given.power_w ? at_v * at_v / *given.power_w
                                       : at_v / given.current_a.value_or(0.0);
    if (!(ohm > 0.0) || !std::isfinite(ohm))
      throw Error(ErrorKind::usage, "the load must be above zero", "--load", "write it like 2800W@240 or 10A");
    std::optional<double> rated_w = given.power_w;
    if (!rated_w && given.at_v) rated_w = at_v * at_v / ohm;
    return {supply / ohm, ohm, supply * supply / ohm, rated_w, at_v};
  }

  FitFigure& add(FitFigure figure) { return result_.figures.emplace_back(std::move(figure)); }

  void voltage() {
    const double rated = profile_.rating.voltage_v;
    const double ratio = request_.supply_v / rated;
    const Outcome outcome = by_excess(ratio, usual_over, most_over);
    add({"voltage",
         fmt::format("The supply of {:g} V {} the {:g} V that the contacts are rated for.", request_.supply_v,
                     outcome == Outcome::pass        ? "is within"
                     : outcome == Outcome::undecided ? "is a little above"
                                                     : "is above",
                     rated),
         request_.supply_v, "V", rated, "U supply <= U rated", over_source,
         "Insulation, surges and what the gap of an open contact withstands.", outcome});
  }

  void load_power() {
    if (!load_.rated_w) return;
    const double ratio = request_.supply_v / load_.at_v;
    std::string words =
        std::abs(ratio - 1.0) < 1e-9
            ? fmt::format("The load takes its {:.0f} W.", load_.power_w)
            : fmt::format("The load, made for {:.0f} W at {:g} V, takes {:.0f} W at {:g} V: {:.1f} % of its power.",
                          *load_.rated_w, load_.at_v, load_.power_w, request_.supply_v, 100.0 * ratio * ratio);
    if (ratio < 0.95) words += " It heats more slowly and less; nothing is overloaded by that.";
    add({"load-power", std::move(words), load_.power_w, "W", *load_.rated_w, "P = P load (U supply / U load)^2",
         std::string{"Joule's law with a constant resistance; "} + over_source,
         "The change of the element's resistance with its temperature; motors, lamps and electronics.",
         by_excess(ratio, usual_over, most_over)});
  }

  void current() {
    const double rated = profile_.rating.current_a;
    const bool fits = load_.current_a <= rated * (1 + 1e-9);
    std::string words =
        fmt::format("The load draws {:.2f} A; the contacts are rated for {:g} A: ", load_.current_a, rated);
    words += fits ? fmt::format("{:.0f} % of the rating is left.", 100.0 * (1.0 - load_.current_a / rated))
                  : fmt::format("{:.0f} % too much.", 100.0 * (load_.current_a / rated - 1.0));
    add({"current", std::move(words), load_.current_a, "A", rated,
         request_.load.power_w ? "I = P load U supply / (U load)^2" : "I = U supply / R load", "Ohm's law",
         "Inrush and inductive or capacitive loads: a rating in amperes holds for the kind of load it is given for.",
         fits ? Outcome::pass : Outcome::fail});
    result_.current_a = load_.current_a;
  }

  const Position* cycling_position() const {
    for (const Position& position : profile_.positions)
      for (const Contact& contact : profile_.contacts)
        if (contact.cycles(position.id)) return &position;
    return nullptr;
  }

  /// An element inside the part on a supply, or with a load current, that it was not made for.
  void elements() {
    for (const Element& element : profile_.elements) {
      const Warmth warmth = warmth_of(profile_, element.id);
      if (warmth == Warmth::load) {
        series_heater(element);
        continue;
      }
      double rated_w = 0.0;
      double here_w = 0.0;
      for (const Position& position : profile_.positions) {
        const auto rated = solve_circuit(profile_, position.id, profile_.rating.voltage_v, load_.ohm, false);
        const auto here = solve_circuit(profile_, position.id, request_.supply_v, load_.ohm, false);
        if (!rated || !here || rated->element_w.at(element.id) <= rated_w) continue;
        rated_w = rated->element_w.at(element.id);
        here_w = here->element_w.at(element.id);
      }
      if (!(rated_w > 0.0)) continue;  // the supply does not reach it: a coil with a circuit of its own
      const double ratio = here_w / rated_w;
      element_power(element, here_w, rated_w, "P = U^2 / R");
      if (warmth == Warmth::supply) duty(element, ratio, profile_.rating.voltage_v, "(U rated / U supply)^2");
    }
  }

  void series_heater(const Element& element) {
    const double reference_a = profile_.powered->voltage_v / *profile_load_ohm(profile_);
    const double ratio = std::pow(load_.current_a / reference_a, 2.0);
    FitFigure& figure = element_power(element, load_.current_a * load_.current_a * element.nominal_ohm,
                                      reference_a * reference_a * element.nominal_ohm, "P = I^2 R");
    figure.words += fmt::format(" It is warmed by the load current and matched to {:.2f} A.", reference_a);
    duty(element, ratio, reference_a, "(I matched / I load)^2");
  }

  FitFigure& element_power(const Element& element, double here_w, double rated_w, const char* formula) {
    const double ratio = here_w / rated_w;
    return add({"element-power:" + element.id,
                fmt::format("Inside the part, {} turns {:.2f} W into heat; it is made for {:.2f} W ({:.1f} %).",
                            element.id, here_w, rated_w, 100.0 * ratio),
                here_w, "W", rated_w, formula, std::string{"Joule's law; power goes with the square: "} + over_source,
                "The tolerance of the element and the temperature around it.",
                by_excess(ratio, usual_over * usual_over, most_over * most_over)});
  }

  /// The bimetal cuts at the same temperature whatever warms it, so on a weaker heater the contact stays closed for a
  /// larger share: duty = rise at cut / final rise, and the final rise goes with the heater's power.
  /// What counts in the kettle is the average power: the duty times the power of the load while it is on.
  void duty(const Element& element, double heater_ratio, double reference, const char* shift_formula) {
    const double shift = 1.0 / heater_ratio;
    const char* const source =
        "first-order thermal model with a narrow snap band; checked against calculated cycles at 240, 208 and 120 V";
    const char* const not_covered =
        "Snap band, ambient temperature and what the cooking vessel does; measure it with a trace.";
    const bool by_voltage = profile_.rating.voltage_v == reference;
    if (std::abs(shift - 1.0) < 1e-6) return;
    bool any = false;
    for (const Timing& timing : profile_.timing) {
      if (!timing.duty) continue;
      any = true;
      const double low = timing.duty->min * shift;
      const double high = timing.duty->max * shift;
      Outcome outcome = high < 1.0 ? Outcome::pass : low >= 1.0 ? Outcome::fail : Outcome::undecided;
      std::string words =
          low >= 1.0
              ? fmt::format("At {} the contact is closed all the time instead of {:.0f} to {:.0f} % of it",
                            timing.position, 100.0 * timing.duty->min, 100.0 * timing.duty->max)
              : fmt::format(
                    "At {} the contact is closed for {:.0f} to {:.0f} % of the time instead of {:.0f} to {:.0f} %",
                    timing.position, 100.0 * low, 100.0 * std::min(high, 1.0), 100.0 * timing.duty->min,
                    100.0 * timing.duty->max);
      if (outcome == Outcome::fail)
        words += ": it never opens, so this setting gives full heat.";
      else if (outcome == Outcome::undecided)
        words += ": in part of this band it never opens and gives full heat.";
      else
        outcome = average_power(shift, by_voltage, words);
      add({"duty:" + timing.position, std::move(words), high, "1", 1.0,
           fmt::format("duty = duty rated x {}", shift_formula), source, not_covered, outcome});
    }
    if (any || !cycling_position()) return;
    add({"duty",
         fmt::format("The contact that {} warms is closed for {:.3f} times its share of the time; settings above a "
                     "duty of {:.3f} never open. The profile has no timing to compare with.",
                     element.id, shift, std::min(1.0, 1.0 / shift)),
         shift, "1", std::nullopt, fmt::format("duty = duty rated x {}", shift_formula), source, not_covered,
         Outcome::undecided});
  }

  /// Whether a setting still gives the heat that its mark means; adds it to the words. The limits are a rule of this tool: a tenth
  /// is what the supply's own tolerance makes, from a fifth on a setting is another one.
  Outcome average_power(double shift, bool by_voltage, std::string& words) const {
    constexpr double the_same = 0.10, another = 0.20;
    // A load stated in ohms or amperes does not say at which voltage it gives its full power.
    const bool unknown = by_voltage && !load_.rated_w;
    const double average = unknown ? shift : shift * load_.power_w / load_.rated_w.value_or(load_.power_w);
    const double off = std::abs(average - 1.0);
    if (off <= the_same) {
      words += "; the average power stays what the setting means.";
      return Outcome::pass;
    }
    if (unknown) {
      words +=
          "; whether that is the heat its mark means depends on the voltage that the element is made for: state the load so "
          "(2800W@208).";
      return Outcome::undecided;
    }
    words += fmt::format(
        "; the average power is {:.2f} times what its mark means: with this load the part cycles wrongly.", average);
    return off <= another ? Outcome::undecided : Outcome::fail;
  }

  double current_through(const std::string& contact, const std::string& position, bool& own) const {
    const auto figures = solve_circuit(profile_, position, request_.supply_v, load_.ohm, false);
    own = figures && figures->contact_a.contains(contact);
    return own ? figures->contact_a.at(contact) : load_.current_a;
  }

  void contacts() {
    for (const MeasuredContact& measured : request_.contacts) contact_heat_of(measured);
    if (request_.record.empty()) return;
    for (const Contact& contact : profile_.contacts) {
      const auto is_it = [&](const MeasuredContact& m) { return m.contact == contact.id; };
      if ((contact.closed_at.empty() && contact.cycles_at.empty()) ||
          std::any_of(request_.contacts.begin(), request_.contacts.end(), is_it))
        continue;
      add({"contact-heat:" + contact.id,
           fmt::format(
               "Contact {} has no reading of its own in record {}: nobody can say how hot it gets. Measure it, best by "
               "its millivolt drop.",
               contact.id, request_.record),
           0.0, "W", std::nullopt, "P = I^2 R", "the record's readings", "Everything about this contact.",
           Outcome::undecided});
    }
  }

  /// A contact is held to what a sound one has, and in this application also to what melts silver.
  void contact_heat_of(const MeasuredContact& measured) {
    const ContactMetal silver = *contact_metal("Ag");
    bool own = false;
    const double amps = current_through(measured.contact, measured.position, own);
    double limit_ohm = sound_max_ohm(profile_, measured.contact);
    if (amps > 0.0) limit_ohm = std::min(limit_ohm, silver.melting_v / amps);
    const double read_ohm = std::max(0.0, measured.ohm);
    const double most_ohm = std::max(0.0, measured.ohm + measured.U_ohm);
    const double drop_v = amps * most_ohm;
    const std::string spot =
        drop_v > silver.melting_v
            ? "more than melts silver"
            : fmt::format("{} what softens silver; a spot of at most {:.0f} degC",
                          drop_v > silver.softening_v ? "more than" : "below", spot_temperature_c(drop_v));
    const Outcome outcome = decide(measured.ohm, measured.U_ohm, {-1e300, limit_ohm}, DecisionRule::guarded);
    std::string words = fmt::format(
        "Contact {} read {} +/- {}; at {:.3g} A{} that is {:.2g} W and a drop of {:.2g} V, at most {:.2g} W and {:.2g} V ({}).",
        measured.contact, human_ohm(measured.ohm), human_ohm(measured.U_ohm), amps,
        own ? "" : " (the whole load taken)", amps * amps * read_ohm, amps * read_ohm, amps * amps * most_ohm, drop_v,
        spot);
    if (outcome == Outcome::undecided)
      words += " The meter cannot say whether the contact is sound: use the millivolt drop under a known current.";
    if (outcome == Outcome::fail)
      words += fmt::format(" A sound one has at most {:.3g} ohm: it is not sound.", limit_ohm);
    add({"contact-heat:" + measured.contact, std::move(words), amps * amps * read_ohm, "W", amps * amps * limit_ohm,
         "P = I^2 R; U = I R; T^2 = T0^2 + U^2 / (4 L), T0 = 20 degC",
         "Joule's law; R. Holm's voltage-temperature relation with L from the SI constants; softening of silver 0.09 V, "
         "melting 0.37 V from memory; limit: the profile's sound contact, and no melting",
         "A two-wire drop holds leads, bulk and film as well: the spot temperature is an upper bound. rms, not peak.",
         outcome});
  }

  void terminal() {
    if (!request_.awg || !request_.tab_inch) return;
    const auto currents = quick_connect_currents(*request_.awg, *request_.tab_inch);
    const char* const source =
        "UL 310 temperature test (rise at most 30 K at the continuous current), tin-plated copper wire";
    const char* const not_covered =
        "The crimp, the fit of this very connector, the wire's insulation and bundling: it is a test current of connectors, "
        "not the ampacity of the wire.";
    if (!currents) {
      add({"terminal",
           fmt::format("The table has no push-on terminal of {:.3f} inch for {} AWG.", *request_.tab_inch,
                       *request_.awg),
           load_.current_a, "A", std::nullopt, "I load <= I continuous", source, not_covered, Outcome::undecided});
      return;
    }
    const bool fits = load_.current_a <= currents->continuous_a * (1 + 1e-9);
    add({"terminal",
         fmt::format(
             "A {:.3f} inch push-on terminal on {} AWG is tested at {:g} A continuous and {:g} A cycling; the load "
             "draws {:.2f} A: {}.",
             *request_.tab_inch, *request_.awg, currents->continuous_a, currents->cycling_a, load_.current_a,
             fits ? "within" : "more than the continuous test"),
         load_.current_a, "A", currents->continuous_a, "I load <= I continuous", source, not_covered,
         fits ? Outcome::pass : Outcome::fail});
  }

  void record() {
    const Outcome outcome = *request_.record_outcome;
    add({"record",
         outcome == Outcome::pass
             ? fmt::format("Record {}: {}.", request_.record,
                           request_.record_title.empty() ? "this part passed" : request_.record_title)
         : outcome == Outcome::fail
             ? fmt::format("Record {} says that this part failed: it suits nothing.", request_.record)
             : fmt::format("Record {} did not decide about this part.", request_.record),
         0.0, "", std::nullopt, "", "the record's verdict", "What happened to the part since.", outcome});
  }

  Fit conclude() {
    const FitFigure* first = nullptr;
    result_.outcome = Outcome::pass;
    for (const FitFigure& figure : result_.figures)
      result_.outcome = worse(result_.outcome, figure.outcome.value_or(Outcome::pass));
    for (const FitFigure& figure : result_.figures)
      if (!first && figure.outcome == result_.outcome) first = &figure;
    result_.headline = result_.outcome == Outcome::pass ? "It suits: " + std::to_string(result_.figures.size()) +
                                                              " figures looked at, none against it."
                       : result_.outcome == Outcome::fail ? "It does not suit. " + first->words
                                                          : "Cannot say. " + first->words;
    result_.not_covered = {"Loads that are not resistive: motors, transformers, lamps, electronics (inrush, arcing).",
                           "Mounting, terminals' layout, shaft, approvals, and the appliance's own instructions.",
                           "How many operations the part has behind it."};
    if (!request_.awg) result_.not_covered.push_back("Push-on terminals and wire (give --wire and --tab).");
    if (request_.record.empty()) result_.not_covered.push_back("Heat in this very part's contacts (give --record).");
    for (const Element& element : profile_.elements)
      if (std::none_of(result_.figures.begin(), result_.figures.end(),
                       [&](const FitFigure& f) { return f.id == "element-power:" + element.id; }))
        result_.not_covered.push_back("Element " + element.id +
                                      " of the part: the profile does not wire it to this supply.");
    return std::move(result_);
  }

  const Profile& profile_;
  const FitRequest& request_;
  LoadOnSupply load_;
  Fit result_;
};

}  // namespace

Fit fit(const Profile& profile, const FitRequest& request) { return Fitter{profile, request}.run(); }

std::vector<MeasuredContact> measured_contacts(const Profile& profile, const Verdict& verdict) {
  std::vector<MeasuredContact> worst;
  for (const Contact& contact : profile.contacts) {
    const Finding* highest = nullptr;
    for (const Finding& finding : verdict.findings)
      if (finding.expected.pair == contact.between && finding.expected.state == PairState::closed &&
          finding.corrected && finding.U && is_resistance(finding.indication.quantity) &&
          contact.conducts_at(finding.expected.position) && (!highest || *finding.corrected > *highest->corrected))
        highest = &finding;
    if (highest) worst.push_back({contact.id, highest->expected.position, *highest->corrected, *highest->U});
  }
  return worst;
}

}  // namespace switchwright
