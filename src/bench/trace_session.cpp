#include "switchwright/bench/trace_session.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/cycling.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/record/result_json.hpp"

namespace switchwright {

namespace {

/// The loop comes round ten times a second; longer than this it stood still (common practice, no source).
constexpr double longest_pause_s = 0.7;

bool can_be_traced(Quantity quantity) {
  switch (quantity) {
    case Quantity::voltage_ac:
    case Quantity::voltage_dc:
    case Quantity::current_ac:
    case Quantity::current_dc:
    case Quantity::frequency:
    case Quantity::temperature: return true;
    case Quantity::resistance:
    case Quantity::resistance_4_wire:
    case Quantity::continuity:
    case Quantity::diode:
    case Quantity::duty:
    case Quantity::capacitance: break;
  }
  return false;
}

/// Why a reading cannot be used, with what to do next; empty when it can.
std::string refusal(const TraceChannel& channel, const Reading& reading) {
  if (!can_be_traced(reading.quantity))
    return "this meter stands on " + std::string{dial_words(reading.quantity)} +
           ": take its leads off, then turn it to AC volts; ohms on a live circuit destroy meters and hurt "
           "people";
  if (reading.flags.hold) return "hold is on: release it";
  if (reading.flags.min_max) return "the meter shows a kept extreme: switch that off";
  if (reading.flags.relative) return "relative mode is on: switch it off";
  if (!channel.quantity.empty() && channel.quantity != name_of(reading.quantity))
    return "the meter was turned from " + channel.quantity + " to " + std::string{name_of(reading.quantity)} +
           ": turn it back";
  return {};
}

}  // namespace

std::vector<std::string> energised_cautions() {
  return {
      "Mains voltage kills. Work on live parts is for qualified persons only; local codes and licensed "
      "practice come "
      "first.",
      "Supply: a bench supply with an isolating transformer or a residual-current device, fused, with a "
      "switch within "
      "reach. A residual-current device does not protect from line to line.",
      "Meters and leads: fused leads, measurement category II 300 V or better for plug-in, III for "
      "hard-wired; the "
      "weaker one of meter and leads counts.",
      "Connect everything while it is dead: prove the meter on a live source, test for absence of voltage, "
      "prove the "
      "meter again. Meters stand on volts, never on ohms. Cover on, vents clear, nothing loose near the "
      "load.",
      "Then switch the supply on yourself; this tool never switches power. Stay with it while it runs.",
  };
}

struct TraceSession::Channel {
  Channel(TraceChannel own) : row(std::move(own)) {}
  TraceChannel row;
  LinkState link = LinkState::open;
  std::string trouble;
  std::string refused;
  std::optional<SampleRow> last;
  std::uint64_t samples = 0;
  std::uint64_t cycles = 0;
  std::optional<bool> high;
  double state_since_s = 0.0;  ///< when the live view saw the present state first
  double dead_below = CycleSettings::default_dead_below;
  double last_cycle_end_s = 0.0;
  std::vector<LinkChange> early;  ///< link changes before start()
  std::unique_ptr<CycleListener> ear;
  std::unique_ptr<LiveAnalyzer> live;
};

class TraceSession::Ear final : public CycleListener {
 public:
  Ear(TraceSession& session, Channel& channel) : session_(session), channel_(channel) {}
  void on_edge(const Edge& edge) override {
    session_.events_.emit(EdgeSeen{channel_.row.channel, channel_.row.name, edge}, session_.clock_.now());
  }
  void on_cycle(const Cycle& cycle) override {
    channel_.cycles = cycle.index;
    channel_.last_cycle_end_s = cycle.start_s + cycle.period_s;
    session_.events_.emit(CycleSeen{channel_.row.channel, channel_.row.name, cycle}, session_.clock_.now());
  }
  void on_restart() override {
    channel_.cycles = 0;
    session_.events_.emit(Reconsidered{channel_.row.channel, channel_.row.name}, session_.clock_.now());
  }

 private:
  TraceSession& session_;
  Channel& channel_;
};

TraceSession::TraceSession(RecordHeader header, TraceSetup setup, std::vector<TraceChannel> channels,
                           TraceLimits limits, Instant zero, const Clock& clock, TraceStream& events,
                           std::vector<std::string> meter_remarks)
    : header_(std::move(header)),
      setup_(std::move(setup)),
      limits_(limits),
      zero_(zero),
      began_(zero.monotonic),
      clock_(clock),
      events_(events),
      meter_remarks_(std::move(meter_remarks)) {
  std::vector<NamedChannel> names;
  for (TraceChannel& channel : channels) {
    names.push_back({channel.name, role_named(channel.role)});
    channels_.push_back(std::make_unique<Channel>(std::move(channel)));
    channels_.back()->ear = std::make_unique<Ear>(*this, *channels_.back());
  }
  expect(names);
}

/// What the record's own profile says about this position. A record without a readable profile is traced all the same.
void TraceSession::expect(const std::vector<NamedChannel>& names) {
  try {
    const Profile profile = parse_profile(header_.profile_text, header_.profile_id + ".toml");
    const auto roles = roles_of(names, profile);
    const auto load = std::find(roles.begin(), roles.end(), ChannelRole::load);
    if (load != roles.end()) load_ = static_cast<std::size_t>(load - roles.begin());
    if (profile.position(setup_.position) == nullptr) return;
    CyclingConditions conditions;
    conditions.supply_v = setup_.supply_v;
    timing_limits_ = timing_limits(profile, setup_.position);
    expected_ = expected_timing(profile, setup_.position, conditions);
    limits_line_ = limits_words(timing_limits_);
    load_should_ = expected_->cycling_expected ? "cycle" : expected_->closed_expected ? "stay live" : "stay dead";
  } catch (const Error&) {
    expected_.reset();
  }
}

TraceSession::~TraceSession() = default;

void TraceSession::start(const Acknowledgement& acknowledgement) {
  std::vector<TraceChannel> rows;
  for (const auto& channel : channels_) rows.push_back(channel->row);
  std::vector<std::string> warnings;
  if (!setup_.supply_v)
    warnings.push_back(
        "The supply voltage was not stated; the duty can be carried to rated voltage only with a line "
        "channel.");
  events_.emit(TraceOpened{header_, setup_, rows, warnings}, clock_.now());
  events_.emit(TraceAcknowledged{acknowledgement}, clock_.now());
  for (const std::string& remark : meter_remarks_)
    events_.emit(TraceNote{std::string{calibration_note}, remark}, clock_.now());
  began_ = clock_.now().monotonic;
  started_ = true;
  for (const auto& channel : channels_)
    for (const LinkChange& change : std::exchange(channel->early, {})) on_link(channel->row.channel, change);
}

bool TraceSession::is_live(const Channel& channel) {
  if (!channel.last || channel.last->state == ReadingState::not_a_number) return false;
  return channel.last->state == ReadingState::over_range || std::abs(channel.last->value) >= channel.dead_below;
}

void TraceSession::on_reading(int number, const Reading& reading) {
  if (!started_ || ended_) return;
  Channel& channel = *channels_.at(static_cast<std::size_t>(number - 1));
  const std::string refused = refusal(channel.row, reading);
  if (!refused.empty()) {
    channel.trouble = refused;
    if (refused != channel.refused)
      events_.emit(TraceNote{"refused", full_stop(channel.row.name + ": " + refused)}, clock_.now());
    channel.refused = refused;
    return;
  }
  channel.refused.clear();
  channel.trouble.clear();
  if (channel.row.quantity.empty()) {
    channel.row.quantity = name_of(reading.quantity);
    const CycleSettings settings = trace_settings(channel.row.quantity, reading.resolution);
    channel.dead_below = settings.dead_below.value_or(CycleSettings::default_dead_below);
    channel.live = std::make_unique<LiveAnalyzer>(settings, channel.ear.get());
    events_.emit(ChannelKnown{channel.row}, reading.at);
  }
  const SampleRow sample{number,
                         seconds_between(zero_.monotonic, reading.at.monotonic),
                         reading.state,
                         reading.value,
                         reading.resolution,
                         reading.raw};
  const bool was_live = is_live(channel);
  channel.last = sample;
  ++channel.samples;
  events_.emit(SampleTaken{sample, channel.row.name, reading.quantity}, reading.at);
  if (channel.samples == 1) channel.state_since_s = sample.t_s;
  const bool was_closed = channel.high.value_or(was_live);
  if (const auto one = sample_of(sample)) channel.live->feed(*one);
  channel.high = channel.live->high_now();
  if (channel.samples > 1 && channel.high.value_or(is_live(channel)) != was_closed) channel.state_since_s = sample.t_s;
  on_tick();
}

void TraceSession::on_link(int number, const LinkChange& change) {
  if (ended_) return;
  Channel& channel = *channels_.at(static_cast<std::size_t>(number - 1));
  if (!started_) {
    channel.early.push_back(change);
    return;
  }
  channel.link = change.state;
  const bool fine = change.state == LinkState::alive || change.state == LinkState::open;
  channel.trouble = fine ? std::string{} : change.detail;
  events_.emit(TraceLink{number, channel.row.name, change}, change.at);
  const bool all_over =
      std::all_of(channels_.begin(), channels_.end(), [](const auto& c) { return c->link == LinkState::ended; });
  if (all_over) end("meters", "Every capture was played to its end.", true);
}

void TraceSession::on_tick() {
  if (!started_ || ended_) return;
  watch_dwell();
  if (limits_.for_s && elapsed_s() >= *limits_.for_s)
    end("time", "The time is over: " + human_seconds(*limits_.for_s) + ".", true);
  else if (limits_.cycles && channels_[load_]->cycles >= *limits_.cycles)
    end("cycles", fmt::format("{} complete cycles were seen.", channels_[load_]->cycles), true);
}

void TraceSession::on_pulse() {
  if (!started_ || ended_) return;
  const Monotonic now = clock_.now().monotonic;
  const double since_s = pulsed_ ? seconds_between(*pulsed_, now) : 0.0;
  pulsed_ = now;
  if (since_s > longest_pause_s)
    events_.emit(
        TraceNote{"stalled", fmt::format("This program stood still for {}: what came meanwhile has no time of its "
                                         "own, and counts as a gap.",
                                         human_seconds(since_s))},
        clock_.now());
  on_tick();
}

/// Says once per dwell that it is too long already.
void TraceSession::watch_dwell() {
  if (!expected_) return;
  const Channel& load = *channels_[load_];
  if (!load.live || !load.last) return;
  const double now_s = seconds_between(zero_.monotonic, clock_.now().monotonic);
  if (now_s - watched_s_ < 0.2 && now_s >= watched_s_) return;
  watched_s_ = now_s;
  // A meter that is silent shows nothing: the dwell is as long as it was seen.
  const bool closed = load.high.value_or(is_live(load));
  const auto overdue_now =
      overdue(timing_limits_, *expected_, load.live->so_far().all, closed, load.last->t_s - load.state_since_s);
  if (overdue_now && alarm_.empty())
    events_.emit(TraceNote{"overdue", load.row.name + ": " + *overdue_now}, clock_.now());
  alarm_ = overdue_now.value_or("");
  const auto longest_s = longest_dwell_s(timing_limits_, *expected_, load.live->so_far().all, closed);
  too_long_from_s_.reset();
  if (longest_s && std::isfinite(*longest_s)) too_long_from_s_ = load.state_since_s + *longest_s;
}

void TraceSession::stop() {
  if (ended_) return;
  const bool limited = limits_.for_s || limits_.cycles;
  end("operator",
      limited ? "Stopped by the operator before its end; what was measured is kept." : "Stopped by the operator.",
      !limited);
}

void TraceSession::end(const std::string& kind, const std::string& text, bool complete) {
  ended_ = true;
  complete_ = complete;
  for (const auto& channel : channels_)
    if (channel->live) channel->live->finish();
  // Nobody but the operator switches it; whoever comes back to an ended trace must be told.
  events_.emit(TraceEnded{kind, text + " The supply may still be on: switch it off before you touch anything."},
               clock_.now());
}

TraceSession::ChannelView TraceSession::view(std::size_t index) const {
  const Channel& channel = *channels_.at(index);
  ChannelView view;
  view.channel = &channel.row;
  view.link = channel.link;
  view.trouble = channel.trouble;
  view.last = channel.last;
  view.samples = channel.samples;
  view.high = channel.high;
  view.live = is_live(channel);
  if (channel.last) view.in_state_s = channel.last->t_s - channel.state_since_s;
  return view;
}

CycleSummary TraceSession::so_far(std::size_t index) const {
  const Channel& channel = *channels_.at(index);
  return channel.live ? channel.live->so_far() : CycleSummary{};
}

double TraceSession::elapsed_s() const { return started_ ? seconds_between(began_, clock_.now().monotonic) : 0.0; }

std::optional<double> TraceSession::to_go_s() const {
  if (limits_.for_s) return std::max(0.0, *limits_.for_s - elapsed_s());
  if (!limits_.cycles) return std::nullopt;
  const auto period_s = so_far(load_).all.period_s.mean;
  const std::uint64_t done = channels_[load_]->cycles;
  if (!period_s || done >= *limits_.cycles) return std::nullopt;
  // Within a cycle it runs down as far as the cycle is expected to last; a cycle that is late leaves no honest figure.
  const double now_s = seconds_between(zero_.monotonic, clock_.now().monotonic);
  const double in_cycle_s = now_s - channels_[load_]->last_cycle_end_s;
  if (in_cycle_s > 1.5 * *period_s) return std::nullopt;
  return *period_s * static_cast<double>(*limits_.cycles - done) - std::min(in_cycle_s, *period_s);
}

TraceJudged judge_trace(const Store& store, const std::string& record_id, TraceAnalysis& analysis) {
  const Record record = store.load(record_id, true);
  analysis = analyze_trace(record);
  TraceJudged judged;
  judged.record_id = record_id;
  judged.position = record.trace ? record.trace->position : std::string{};
  judged.analysis = &analysis;
  for (const TraceChannelAnalysis& channel : analysis.channels)
    judged.results.push_back(result_of(ChannelSummary{channel.name, channel.summary, channel.events}));
  if (!analysis.judgement) return judged;
  const CyclingJudgement& judgement = *analysis.judgement;
  Life life;
  life.operations = analysis.operations;
  const auto before = store.operations_of(record.header.serial, record_id);
  life.operations_before = before.operations;
  life.records_before = before.records;
  try {
    life.endurance_operations =
        parse_profile(record.header.profile_text, record.header.profile_id + ".toml").rating.endurance_operations;
  } catch (const Error&) {
    // The judgement was made from the same text: this cannot happen, and the life would only lack its share.
  }
  judged.life = life;
  judged.results.push_back(result_of(TraceVerdict{judgement, judged.position, life, record_id}));
  judged.verdict.scope = judgement.scope;
  judged.verdict.required = judgement.required;
  conclude(judged.verdict);
  if (judgement.timing) {
    for (const TimingFinding& finding : judgement.timing->findings)
      judged.verdict.remarks.push_back(to_string(finding.outcome) + ": " + finding.sentence);
    for (const TimingFaultFinding& fault : judgement.timing->faults)
      judged.verdict.remarks.push_back(to_string(fault.fault) + ": " + fault.sentence);
  }
  for (const ChannelFinding& finding : judgement.findings)
    judged.verdict.remarks.push_back(finding.channel + ", " + to_string(finding.outcome) + ": " + finding.sentence);
  judged.verdict.remarks.insert(judged.verdict.remarks.end(), judgement.remarks.begin(), judgement.remarks.end());
  return judged;
}

}  // namespace switchwright
