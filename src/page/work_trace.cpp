// A trace under power that pages draw as it grows. The samples that were shown so far are kept thinned for a page that comes
// later; the record keeps them all.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <deque>

#include "page/work.hpp"
#include "switchwright/bench/running_session.hpp"
#include "switchwright/bench/trace_session.hpp"
#include "switchwright/bench/words.hpp"
#include "switchwright/core/amount.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/judge/channel_role.hpp"
#include "switchwright/meter/own.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/report/cycling.hpp"
#include "switchwright/suit/fit.hpp"

namespace switchwright::page {

namespace {

constexpr std::chrono::milliseconds pulse_every{100};
constexpr unsigned figures_every = 5;  ///< pulses
constexpr std::size_t most_cycles_told = 200;

/// An hour at ten samples a second; beyond that neighbours are joined, and of each two the higher and the lower stay.
class Thinned {
 public:
  void add(double t_s, double value) {
    if (t_.size() >= most) thin();
    t_.push_back(t_s);
    v_.push_back(value);
  }
  /// Times in milliseconds: short, and finer than any meter of this kind.
  Json json() const {
    Json t = Json::array(), v = Json::array();
    for (const double s : t_) t.push_back(static_cast<long long>(s * 1000.0 + 0.5));
    for (const double x : v_) v.push_back(static_cast<double>(static_cast<float>(x)));
    return {{"t_ms", std::move(t)}, {"v", std::move(v)}};
  }

 private:
  static constexpr std::size_t most = 36'000;

  void thin() {
    std::vector<double> t, v;
    for (std::size_t i = 0; i + 3 < t_.size(); i += 4) {
      const auto [low, high] = std::minmax_element(v_.begin() + static_cast<std::ptrdiff_t>(i),
                                                   v_.begin() + static_cast<std::ptrdiff_t>(i) + 4);
      for (const auto at : {std::min(low, high), std::max(low, high)}) {
        t.push_back(t_[static_cast<std::size_t>(at - v_.begin())]);
        v.push_back(*at);
      }
    }
    t_ = std::move(t);
    v_ = std::move(v);
  }

  std::vector<double> t_, v_;
};

struct Channel {
  std::string name;
  MeterDefinition meter;
  std::string port;
  std::string serial, calibrated;
  ChannelRole role = ChannelRole::other;
};

struct Choice {
  Profile profile;
  std::vector<Channel> channels;
  std::vector<std::string> remarks;
  TraceSetup setup;
  TraceLimits limits;
  std::string part, serial, operator_name, acknowledged_by;
  Json purpose;  ///< the command, for what put_purpose reads
};

class Trace final : public Work {
 public:
  Trace(const WorkPlace& place, Choice choice)
      : place_(place), choice_(std::move(choice)), store_(place.settings.store) {
    const Instant zero = place_.clock.now();
    header_ = header_of(RecordKind::trace, choice_.profile, choice_.channels.front().meter,
                        choice_.channels.front().port, "person", place_.demo != nullptr);
    header_.started = zero.wall;
    header_.operator_name = choice_.operator_name;
    header_.part = choice_.part;
    header_.serial = choice_.serial;
    header_.meter_serial = choice_.channels.front().serial;
    header_.meter_calibrated = choice_.channels.front().calibrated;
    put_purpose(choice_.purpose, header_);
    std::vector<TraceChannel> rows;
    for (std::size_t i = 0; i < choice_.channels.size(); ++i) {
      const Channel& one = choice_.channels[i];
      rows.push_back({static_cast<int>(i) + 1, one.name, "", one.meter.id, one.meter.title, one.meter.source_text,
                      one.port, one.serial, one.calibrated, to_string(one.role)});
      open(i);
    }
    thinned_.resize(rows.size());
    header_.id = store_.begin(header_);
    session_ = std::make_unique<TraceSession>(header_, choice_.setup, rows, choice_.limits, zero, place_.clock, events_,
                                              choice_.remarks);
    recorder_ = std::make_unique<TraceRecorder>(store_, header_.id, events_);
    events_.subscribe([this](const TraceEvent& event, Instant at) { on(event, at); });
    place_.loop.post([this, here = std::weak_ptr<int>{here_}] {
      if (!here.expired()) start();
    });
  }
  ~Trace() override {
    here_.reset();
    timer_.cancel();
    if (!over_) {
      try {
        session_->stop();
        for (const auto& meter : meters_) meter->stop();
        recorder_->close();
      } catch (const std::exception&) {
        // The rescue file is written; nobody is left to be told.
      }
    }
  }

  bool running() const override { return !over_; }
  void stop() override { session_->stop(); }

  void obey(const Json& command) override {
    if (text_of(command, "do") != "stop") throw Refusal("A trace can only be stopped.");
    if (over_) throw Refusal("This trace is over.");
    stop();
  }

  Json snapshot() const override {
    Json json{{"work", "trace"},
              {"state", over_ ? "over" : "running"},
              {"record", header_.id},
              {"part_name", choice_.part},
              {"serial", choice_.serial},
              {"operator", choice_.operator_name},
              {"position", choice_.setup.position},
              {"simulated", header_.simulated},
              {"part", part_json(choice_.profile)},
              {"live", !over_}};
    json["channels"] = Json::array();
    for (std::size_t i = 0; i < choice_.channels.size(); ++i) {
      Json one{{"channel", choice_.channels[i].name},
               {"role", to_string(choice_.channels[i].role)},
               {"meter", choice_.channels[i].meter.id}};
      one["samples"] = thinned_[i].json();
      json["channels"].push_back(one);
    }
    json["cycles"] = Json(cycles_);
    json["figures"] = figures();
    if (!note_.is_null()) json["note"] = note_;
    if (!ended_text_.empty()) json["ended"] = ended_text_;
    if (!verdict_.is_null()) json["verdict"] = verdict_;
    if (!stopped_.is_null()) json["stopped"] = stopped_;
    return json;
  }

 private:
  void open(std::size_t index) {
    const int number = static_cast<int>(index) + 1;
    MeterCallbacks callbacks;
    callbacks.reading = [this, number](const Reading& reading) {
      ++samples_;
      if (session_) session_->on_reading(number, reading);
    };
    callbacks.link = [this, number](const LinkChange& change) {
      if (!session_) return;
      session_->on_link(number, change);
      if (change.cannot_be_set) {
        trouble_ = change.detail;
        place_.loop.post([this, here = std::weak_ptr<int>{here_}] {
          if (!here.expired()) session_->stop();
        });
      }
    };
    const Channel& one = choice_.channels[index];
    meters_.push_back(open_meter(place_.loop, place_.clock, one.meter, one.port, callbacks));
    if (one.meter.selects(Quantity::voltage_ac)) meters_.back()->select(Quantity::voltage_ac);
  }

  void start() {
    Acknowledgement given;
    given.what = "energised";
    for (const std::string& caution : energised_cautions()) given.text += (given.text.empty() ? "" : " ") + caution;
    given.who = choice_.acknowledged_by;
    given.how = "typed on the bench page";
    given.at = place_.clock.now().wall;
    session_->start(given);
    pulse();
  }

  void pulse() {
    session_->on_pulse();
    recorder_->tick(place_.clock.now());
    if (recorder_->lost()) session_->stop();
    if (over_) return;
    if (++pulses_ % figures_every == 0)
      place_.voice.latest(slot_trace, Json{{"type", "figures"}, {"figures", figures()}});
    timer_ = place_.loop.after(pulse_every, [this] { pulse(); });
  }

  Json figures() const {
    Json json{{"elapsed_s", session_->elapsed_s()}, {"elapsed", human_seconds(session_->elapsed_s())}};
    if (const auto left = session_->to_go_s()) json["to_go"] = human_seconds(*left);
    json["should"] = session_->load_should();
    json["limits"] = session_->limits_line();
    json["alarm"] = session_->alarm();
    if (const auto from_s = session_->too_long_from_s()) json["too_long_from_s"] = *from_s;
    json["channels"] = Json::array();
    for (std::size_t i = 0; i < session_->channel_count(); ++i) {
      const auto view = session_->view(i);
      Json one{{"channel", view.channel->name}, {"samples", view.samples}, {"trouble", view.trouble}};
      one["state"] = !view.trouble.empty() ? "no data"
                     : !view.last          ? "waiting"
                     : !view.high          ? (view.live ? "live" : "dead")
                     : *view.high          ? "on"
                                           : "off";
      if (view.high && view.trouble.empty()) one["since"] = human_seconds(view.in_state_s);
      if (view.last && view.last->state == ReadingState::over_range) one["words"] = "over-range";
      one["unit"] = unit_of(quantities_[i]);
      if (view.last && view.last->state == ReadingState::finite)
        one["words"] = human_value(view.last->value, quantities_[i], view.last->resolution);
      json["channels"].push_back(one);
    }
    const CycleSummary s = session_->so_far(session_->load_index());
    json["cycles"] = s.all.cycles;
    if (s.all.cycles > 0 && s.all.duty.mean) {
      const auto percent = [](const std::optional<double>& x) { return x ? std::optional{100.0 * *x} : std::nullopt; };
      json["duty"] = with_uncertainty(100.0 * *s.all.duty.mean, percent(s.all.duty.U), "%");
      json["period"] = with_uncertainty(*s.all.period_s.mean, s.all.period_s.U, "s");
      if (s.all.on_s.mean) json["on"] = with_uncertainty(*s.all.on_s.mean, s.all.on_s.U, "s");
      if (s.all.off_s.mean) json["off"] = with_uncertainty(*s.all.off_s.mean, s.all.off_s.U, "s");
      json["trusted"] = s.trusted;
      json["reasons"] = s.reasons;
    }
    if (s.high_level) json["levels"] = {s.low_level.value_or(0.0), *s.high_level};
    return json;
  }

  void on(const TraceEvent& event, Instant at) {
    if (const auto* taken = std::get_if<SampleTaken>(&event)) {
      const auto index = static_cast<std::size_t>(taken->sample.channel - 1);
      quantities_[index] = taken->quantity;
      if (taken->sample.state != ReadingState::finite) return;
      thinned_[index].add(taken->sample.t_s, taken->sample.value);
      place_.voice.tell(Json{{"type", "sample"}, {"c", index}, {"t", taken->sample.t_s}, {"v", taken->sample.value}});
      return;
    }
    if (std::holds_alternative<TraceJudged>(event)) return;
    const Json json = Json::parse(to_json(event, at), nullptr, false);
    if (std::holds_alternative<CycleSeen>(event)) {
      cycles_.push_back(json);
      if (cycles_.size() > most_cycles_told) cycles_.pop_front();
    }
    if (const auto* again = std::get_if<Reconsidered>(&event))
      std::erase_if(cycles_, [&](const Json& cycle) { return cycle.value("channel", "") == again->name; });
    if (const auto* note = std::get_if<TraceNote>(&event); note && note->kind != "overdue") note_ = json;
    place_.voice.tell(Json{{"type", "trace"}, {"event", json}});
    if (const auto* ended = std::get_if<TraceEnded>(&event)) {
      ended_text_ = ended->text;
      place_.loop.post([this, here = std::weak_ptr<int>{here_}] {
        if (!here.expired()) finish();
      });
    }
  }

  /// The meters are let go, what was measured is kept, then it is judged from the store.
  void finish() {
    if (over_) return;
    over_ = true;
    timer_.cancel();
    std::string trouble = trouble_;
    try {
      for (const auto& meter : meters_) meter->stop();
      recorder_->close();
      if (samples_ == 0)
        trouble = trouble.empty() ? "No meter gave a sample: check cables, dials and definitions." : trouble;
      else
        judge();
    } catch (const std::exception& error) {
      trouble = error.what();
    }
    if (!trouble.empty() || verdict_.is_null())
      stopped_ = Json{{"type", "stopped"},
                      {"kind", trouble.empty() ? "operator" : "trouble"},
                      {"text", trouble.empty() ? ended_text_ : trouble}};
    place_.voice.tell(Json{{"type", "work"}, {"work", snapshot()}});
  }

  void judge() {
    TraceAnalysis analysis;
    const TraceJudged judged = judge_trace(store_, header_.id, analysis);
    events_.emit(judged, place_.clock.now());
    recorder_->close();
    verdict_ = Json{{"type", "verdict"}, {"verdict", to_string(judged.verdict.outcome)}, {"record", header_.id}};
    verdict_["letters"] = verdict_letters(judged.verdict);
    verdict_["headline"] = headline_beside_word(judged.verdict);
    verdict_["lines"] = Json::array();
    for (const VerdictLine& line : verdict_lines(judged.verdict))
      verdict_["lines"].push_back({{"label", line.label}, {"text", line.text}, {"level", line.level}});
  }

  WorkPlace place_;
  Choice choice_;
  Store store_;
  TraceStream events_;
  RecordHeader header_;
  std::vector<std::unique_ptr<Meter>> meters_;
  std::unique_ptr<TraceSession> session_;
  std::unique_ptr<TraceRecorder> recorder_;
  std::vector<Thinned> thinned_;
  std::array<Quantity, 8> quantities_{};
  std::deque<Json> cycles_;
  Json note_, verdict_, stopped_;
  std::string trouble_, ended_text_;
  Loop::Timer timer_;
  unsigned pulses_ = 0;
  std::uint64_t samples_ = 0;
  bool over_ = false;
  std::shared_ptr<int> here_ = std::make_shared<int>();
};

Channel read_channel(const WorkPlace& place, const Json& wanted, Choice& choice) {
  Channel channel;
  channel.name = text_of(wanted, "name");
  if (channel.name.empty()) throw Refusal("Every channel needs a name.");
  if (place.demo) {
    channel.meter = place.demo->meter();
    channel.port = place.demo->port();
  } else {
    channel.meter = load_meter_definition(text_of(wanted, "meter"), place.settings.meters);
    channel.port = text_of(wanted, "port");
    if (channel.port.empty()) throw Refusal("Which port is the meter of channel " + channel.name + " at?");
  }
  const std::string role = text_of(wanted, "role");
  const auto stated = role.empty() ? role_of_name(channel.name, choice.profile) : role_named(role);
  if (!stated) throw Refusal("What is channel " + channel.name + " connected to: load, line, pilot or other?");
  channel.role = *stated;
  if (place.demo) return channel;
  std::optional<OwnMeter> own;
  for (const OwnMeter& one : load_own_meters(place.settings.own_meters))
    if (one.name == text_of(wanted, "own") && one.definition == channel.meter.id) own = one;
  const Wall now = place.clock.now().wall;
  if (own) {
    channel.meter = with_corrections(channel.meter, *own);
    channel.serial = own->serial;
    channel.calibrated = calibration_words(*own, now);
  }
  for (const std::string& remark :
       calibration_remarks(own ? *own : OwnMeter{"", channel.meter.id, "", "", "", "", {}}, now))
    choice.remarks.push_back("Channel " + channel.name + ": " + remark);
  return channel;
}

}  // namespace

std::unique_ptr<Work> begin_trace(const WorkPlace& place, const Json& command) {
  Choice choice;
  choice.purpose = command;
  choice.acknowledged_by = text_of(command, "acknowledged_by");
  if (choice.acknowledged_by.empty())
    throw Refusal("Nothing is traced before somebody has acknowledged the cautions by name.");
  choice.operator_name = text_of(command, "operator");
  if (choice.operator_name.empty()) choice.operator_name = choice.acknowledged_by;
  choice.part = text_of(command, "part");
  choice.serial = text_of(command, "serial");
  choice.profile =
      place.demo ? place.demo->profile() : load_profile(text_of(command, "profile"), place.settings.profiles);
  choice.setup.position = text_of(command, "position");
  if (!choice.profile.position(choice.setup.position)) throw Refusal("At which position does the knob stand?");
  if (const std::string supply = text_of(command, "supply"); !supply.empty())
    choice.setup.supply_v = read_amount(supply, Amount::volts, {1.0, 1e4}, "supply");
  choice.setup.load = text_of(command, "load");
  if (!choice.setup.load.empty()) choice.setup.load_ohm = read_load_ohm(choice.setup.load, "load");
  choice.setup.setting = text_of(command, "setting");
  if (const auto minutes = command.find("minutes"); minutes != command.end() && minutes->is_number())
    if (const double m = minutes->get<double>(); m > 0.0) choice.limits.for_s = 60.0 * std::min(m, 7.0 * 24.0 * 60.0);
  if (const auto cycles = number_of(command, "cycles"); cycles && *cycles > 0)
    choice.limits.cycles = static_cast<std::uint64_t>(*cycles);
  const auto channels = command.find("channels");
  if (channels == command.end() || !channels->is_array() || channels->empty() || channels->size() > 8)
    throw Refusal("A trace needs at least one channel, the load.");
  for (const Json& wanted : *channels) {
    if (place.demo && !choice.channels.empty()) throw Refusal("The simulated bench has one meter.");
    Channel channel = read_channel(place, wanted, choice);
    for (const Channel& other : choice.channels)
      if (other.name == channel.name || (other.port == channel.port && !channel.port.starts_with("replay:")))
        throw Refusal("Two channels have the same name or the same port.");
    choice.channels.push_back(std::move(channel));
  }
  return std::make_unique<Trace>(place, std::move(choice));
}

}  // namespace switchwright::page
