// What a report has to say about a record, in words and in order, before any format comes into play. The text
// and the HTML exporter differ in looks only.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "switchwright/profile/profile.hpp"
#include "switchwright/record/record.hpp"

namespace switchwright {

/// How a cell of the matrix of pairs by positions stands.
enum class Mark { pass, fail, not_sound, undecided, not_measured, left_out, not_checked, unjudged, none };

struct Cell {
  Mark mark = Mark::none;
  const Finding* finding = nullptr;
  const Expectation* expected = nullptr;   ///< from the finding, or of what was not measured
  const Indication* indication = nullptr;  ///< from the finding, or not yet judged
};

struct NamedFact {
  std::string name;
  std::string value;
  bool missing = false;  ///< the report says that it is not known
};

/// One thing that happened apart from the judged readings: an acknowledgement, a safety step, an
/// interruption.
struct Happening {
  Wall at{};
  std::string what;
  std::string details;
};

struct ScopeRow {
  std::string part;     ///< "continuity"
  std::string decided;  ///< "pass", "not asked for", ...
  std::string reason;
  std::string how;
};

/// Findings that say the same about one pair at several positions; told once.
struct Group {
  std::vector<const Finding*> findings;  ///< in the order of the positions
  const Finding& first() const { return *findings.front(); }
};

/// Text in a View that came from outside is not escaped yet. Refers to the record, which must outlive it.
class View {
 public:
  explicit View(const Record& record);

  const Record& record() const { return record_; }
  const Verdict* verdict() const { return record_.verdict ? &*record_.verdict : nullptr; }
  std::string verdict_word() const;  ///< "pass", "fail", "undecided", "unfinished"
  /// What stands above the headline: for a pass never without its scope; else the verdict's word.
  std::string title() const;
  std::string headline() const;
  /// One row for each part of the scope; none in a record that has none.
  std::vector<ScopeRow> scope() const;

  const std::vector<std::string>& positions() const { return positions_; }
  const std::vector<Pair>& pairs() const { return pairs_; }
  std::string label(const std::string& position) const;
  /// Where the knob points, degrees clockwise from its first position, when the profile says so.
  std::optional<double> angle_deg(const std::string& position) const;
  /// "line contact", "heater", or nothing when no single part of the profile joins the pair.
  std::string part_between(const Pair& pair) const;
  /// What lies between two points under power: "supply", the load's name, or part_between.
  std::string across(const Pair& pair) const;
  bool touches_exposed_metal(const Pair& pair) const;
  Cell cell(const std::string& position, const Pair& pair) const;

  /// Worst severity first.
  std::vector<Group> deviations() const;
  /// What is undecided and not already told as a deviation.
  std::vector<Group> undecided() const;
  /// What a group says, in one or two sentences: the first finding's own, and where else the same holds.
  std::string told(const Group& group) const;
  std::vector<NamedFact> facts() const;  ///< identity(), then leads, rule, plan, ...
  /// What a reader must know before anything else: part with rating, claim, who, when, profile and where its values come
  /// from, meters with their calibration.
  std::vector<NamedFact> identity() const;
  const Profile* profile() const { return profile_ ? &*profile_ : nullptr; }
  /// Where the part deviates first; else the first position at which something conducts; empty without a profile.
  std::string position_to_show() const;
  /// The pairs that deviate there, resistances and voltages.
  std::vector<Pair> deviating_at(const std::string& position) const;
  std::vector<Happening> happenings() const;  ///< in order of time
  std::vector<std::string> cautions() const;
  std::vector<std::string> how_to_check() const;

 private:
  std::vector<Group> grouped(const std::vector<const Finding*>& findings) const;

  const Record& record_;
  std::optional<Profile> profile_;  ///< absent when the profile's text cannot be read any more
  std::vector<std::string> positions_;
  std::vector<Pair> pairs_;
  std::map<std::pair<std::string, Pair>, Cell> cells_;
};

/// One pair with the labels of the positions at which the plan did without it.
struct LeftOutRow {
  Pair pair;
  std::vector<std::string> positions;
};
std::vector<LeftOutRow> left_out_rows(const View& view, const Verdict& verdict);

std::string word_for(Mark mark);  ///< "pass", "FAIL", "not sound", "undecided", "not measured", ...

/// "L1-H1 at low".
std::string place_text(const View& view, const Expectation& expected);

// ---- Numbers for people. ----
/// "0.30 ohm", with the decimals of U where there is one (JCGM 100 7.2.6).
std::string value_text(double value, const std::optional<double>& U, Quantity quantity, double resolution);
/// "0.6 ohm": U with two significant figures, or as many as the meter's digit has, in the prefix of the value it belongs to;
/// never less than that digit. @param resolution 0: unknown
std::string uncertainty_text(double value, double U, Quantity quantity, double resolution = 0.0);
/// "(0.3 +/- 0.6) ohm".
std::string measured_text(double value, double U, Quantity quantity, double resolution);
/// "(0.30 +/- 0.58) ohm", "open (more than 40 Mohm)", "no value".
std::string result_text(const Finding& finding);
/// What the meter showed, leads included: "0.3 ohm", "over-range, > 40 Mohm".
std::string shown_text(const Indication& indication);
/// "closed, at most 2 ohm", "open, at least 1 Mohm", "12.24 kohm to 16.56 kohm", "not checked".
std::string must_be(const Expectation& expected);
/// "2026-03-01 10:15:02 (CET, UTC+01:00), 09:15:02 UTC": as the bench's clock showed it and in UTC; in UTC alone where no more
/// is known.
std::string time_text(Wall wall, const RecordHeader& header);
/// "2026-03-01 10:15:02", for a column whose heading names the zone.
std::string local_time_text(Wall wall, const RecordHeader& header);
std::string zone_text(const RecordHeader& header);  ///< "CET, UTC+01:00"

}  // namespace switchwright
