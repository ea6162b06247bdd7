// A guided session that pages show and answer. Every step that is shown and every reading that settles has a number; an
// answer names what it saw, and the first one counts.
#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "page/guided_choice.hpp"
#include "page/work.hpp"
#include "switchwright/bench/cold_record.hpp"
#include "switchwright/bench/running_session.hpp"
#include "switchwright/bench/stated_range.hpp"
#include "switchwright/bench/words.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/own.hpp"
#include "switchwright/meter/typed.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/report/cycling.hpp"

namespace switchwright::page {

namespace {

/// How long a meter that can say who it is may take to do so.
constexpr std::chrono::seconds identity_patience{6};
constexpr std::chrono::milliseconds identity_look{50};

std::string drop_value_words(const Drop& drop) {
  return drop.state == DropState::seen ? with_uncertainty(1000.0 * drop.ohm, 1000.0 * drop.U_ohm, "mohm")
                                       : to_string(drop.outcome);
}

/// Once a part is energised it counts as live until the supply is seen to be off.
class LiveMark {
 public:
  void shown(const Step& step) {
    if (step.arrangement.power == true) live_ = true;
  }
  void kept(const Step& step) {
    if (step.arrangement.power == false) live_ = false;
  }
  bool on() const { return live_; }

 private:
  bool live_ = false;
};

class Guided final : public Work {
 public:
  Guided(const WorkPlace& place, GuidedChoice choice)
      : place_(place), choice_(std::move(choice)), store_(place.settings.store) {
    if (choice_.earlier) {
      const std::string id = choice_.earlier->header.id;
      store_.take_up(id);
      choice_.earlier = store_.load(id);  // as it stands now that nobody else can write it
    }
    if (choice_.lot) store_.take_up(choice_.lot->lot_id);  // one bench at a time counts
    MeterCallbacks callbacks;
    callbacks.reading = [this](const Reading& reading) {
      if (session_) session_->on_reading(reading);
    };
    callbacks.link = [this](const LinkChange& change) {
      if (session_) return session_->on_link(change);
      link_so_far_.push_back(change);
    };
    meter_ = open_meter(place_.loop, place_.clock, choice_.meter, choice_.port, callbacks);
    opened_at_ = std::chrono::steady_clock::now();
    await_identity();
  }
  ~Guided() override {
    here_.reset();
    if (running_) {
      try {
        if (!session_->ended()) session_->stop();
        running_->close();
      } catch (const std::exception&) {
        // The rescue file is written; nobody is left to be told.
      }
    }
    if (meter_) meter_->stop();
  }

  Json snapshot() const override {
    Json json{{"work", choice_.kind},
              {"state", state_},
              {"record", header_.id},
              {"part_name", choice_.part},
              {"serial", choice_.serial},
              {"operator", choice_.operator_name},
              {"meter", choice_.meter.id},
              {"simulated", place_.demo != nullptr},
              {"typed", is_typed(choice_.meter.id)},
              {"by_itself", choice_.by_itself},
              {"question", question_},
              {"seen", seen_},
              {"live", live_.on()},
              {"part", part_json(choice_.profile)},
              {"started", iso8601(header_.started)}};
    if (choice_.lot)
      json["lot"] = {{"lot", choice_.lot->lot_id},
                     {"lot_number", choice_.lot->lot_number},
                     {"place", choice_.lot->row.place},
                     {"unit", choice_.lot->row.unit}};
    if (choice_.drop) json["current_a"] = choice_.drop->current.amps;
    json["board"] = Json::array();
    for (const auto& [key, row] : board_) json["board"].push_back(row);
    for (const auto& [name, value] : {std::pair{"opened", &opened_},
                                      {"step", &step_},
                                      {"settled", &settled_},
                                      {"reading", &reading_},
                                      {"note", &note_},
                                      {"link", &link_},
                                      {"verdict", &verdict_},
                                      {"stopped", &stopped_}})
      if (!value->is_null()) json[name] = *value;
    return json;
  }

  void obey(const Json& command) override {
    const std::string what = text_of(command, "do");
    if (what == "stop") return stop();
    if (state_ != "running") throw Refusal("This work is over.");
    require_current(command, what == "confirm" || what == "contact");
    if (what == "confirm") return session_->confirm();
    if (what == "contact") return session_->state_contact();
    if (what == "type") return session_->type_reading(text_of(command, "text"));
    if (what == "again") return session_->redo();
    if (what == "reseat") return session_->reseat();
    if (what == "back") return session_->back();
    if (what == "skip") return session_->skip(text_of(command, "reason"));
    if (what == "acknowledge") {
      const std::string who = text_of(command, "who");
      if (who.empty()) throw Refusal("Without a name nothing is acknowledged, and nothing is measured.");
      return session_->acknowledge(who, "typed on the bench page");
    }
    if (what == "answer") {
      const auto yes = command.find("yes");
      if (yes == command.end() || !yes->is_boolean()) throw Refusal("Answer yes or no.");
      return session_->answer(yes->get<bool>(), text_of(command, "note"));
    }
    throw Refusal("This page asks for something that this version does not know.");
  }

  bool running() const override { return state_ != "over"; }

  void stop() override {
    if (session_) return session_->stop();
    over("The work was stopped before it began.");
  }

 private:
  void require_current(const Json& command, bool a_reading) const {
    const auto question = number_of(command, "question");
    if (!question || *question != question_)
      throw Refusal("That step has been answered already, here or on another page; this is the next one.");
    if (a_reading && number_of(command, "seen").value_or(-1) != seen_)
      throw Refusal("The reading has changed in the meantime; look again.");
  }

  void await_identity() {
    const bool may_say = choice_.meter.decoder.kind == "scpi";
    const auto told = [](const LinkChange& change) { return change.state != LinkState::open || change.remark; };
    const bool answered = !meter_->identity().empty() || std::any_of(link_so_far_.begin(), link_so_far_.end(), told);
    if (may_say && !answered && std::chrono::steady_clock::now() < opened_at_ + identity_patience) {
      timer_ = place_.loop.after(identity_look, [this] { await_identity(); });
      return;
    }
    place_.loop.post([this, here = std::weak_ptr<int>{here_}] {
      if (here.expired() || state_ != "opening") return;
      try {
        begin();
      } catch (const std::exception& error) {
        over(error.what());
      }
    });
  }

  /// Which meter answers is known: its calibration counts, and the record can be begun.
  void begin() {
    const Wall now = place_.clock.now().wall;
    std::optional<OwnMeter> own;
    OwnMatch who;
    if (place_.demo == nullptr) {
      const auto ledger = load_own_meters(place_.settings.own_meters);
      for (const OwnMeter& one : ledger)
        if (!choice_.own.empty() && one.name == choice_.own) own = one;
      who = match_own_meter(ledger, own, own ? own->serial : std::string{}, meter_->identity(), choice_.meter.id);
      own = who.own;
    }
    if (own) choice_.meter = with_corrections(choice_.meter, *own);
    const OwnMeter calibrated = own ? *own : OwnMeter{"", choice_.meter.id, who.serial, "", "", "", {}};
    const bool simulated = place_.demo != nullptr;
    if (choice_.earlier) {
      header_ = choice_.earlier->header;
    } else {
      header_ = header_of(record_kind_named(choice_.kind).value(), choice_.profile, choice_.meter, choice_.port,
                          choice_.by_itself ? "simulator" : "person", simulated);
      header_.operator_name = choice_.operator_name;
      header_.part = choice_.part;
      header_.serial = choice_.serial;
      header_.meter_serial = calibrated.serial;
      header_.meter_calibrated = own ? calibration_words(*own, header_.started) : calibrated.calibrated;
      header_.plan = choice_.plan == "full" ? "" : choice_.plan;
      header_.stated_range = choice_.range;
      put_purpose(choice_.purpose, header_);
    }
    SessionSettings settings;
    settings.plan = choice_.plan;
    settings.settle.for_s = place_.settings.settle_s;
    settings.cost = load_route_cost("person", place_.settings.profiles);
    settings.knowledge = std::make_shared<const Knowledge>(load_knowledge(place_.settings.profiles));
    settings.live_moves = choice_.live_moves;
    settings.drop = choice_.drop;
    settings.cold = choice_.cold;
    settings.stated = choice_.stated;
    if (choice_.drop) settings.get_ready_s = 2.0;  // the supply has to be switched on
    if (choice_.kind == "qualify-powered") settings.powered = PoweredPart::after_continuity;
    if (choice_.kind == "powered") settings.powered = PoweredPart::only;
    if (choice_.by_itself) {  // a demonstration: whoever started it has acknowledged the simulated part
      settings.acknowledged_by = choice_.operator_name;
      settings.energised_by = choice_.operator_name;
      settings.inspection = true;
    }
    settings.meter_remarks = who.remarks;
    if (is_typed(choice_.meter.id)) settings.meter_remarks.push_back(typed_remark(choice_.meter));
    if (!choice_.range.empty()) {
      settings.judge.range = read_stated_range(choice_.range);
      settings.meter_remarks.push_back(stated_range_remark(choice_.range, choice_.meter));
    }
    if (!simulated)
      for (std::string& remark : calibration_remarks(calibrated, now))
        settings.meter_remarks.push_back(std::move(remark));
    hands_ = choice_.by_itself ? simulator_hands(place_.loop, place_.demo->socket()) : person_hands(place_.loop);
    const auto select = [this](Quantity quantity) { meter_->select(quantity); };
    {
      // What a session refuses to begin with leaves no empty record.
      EventStream nobody;
      const QualifySession trial{choice_.profile, choice_.meter, settings,        header_,
                                 place_.clock,    *hands_,       [](Quantity) {}, nobody};
    }
    if (!choice_.earlier) header_.id = store_.begin(header_);
    if (choice_.drop && !choice_.earlier) {
      Batch setup;
      setup.results.push_back(result_of(*choice_.drop));
      store_.append(header_.id, setup);
    }
    if (choice_.lot && !choice_.earlier) note_begun(store_, *choice_.lot, header_.id);
    session_ = std::make_unique<QualifySession>(choice_.profile, choice_.meter, settings, header_, place_.clock,
                                                *hands_, select, events_);
    running_ = std::make_unique<RunningSession>(place_.loop, store_, events_, *session_, header_.id);
    events_.subscribe([this](const Event& event, Instant at) { on(event, at); });
    state_ = "running";
    place_.voice.tell(Json{{"type", "work"}, {"work", snapshot()}});
    running_->start(choice_.earlier, link_so_far_, {}, [this] { finish(); });
  }

  void finish() {
    std::string trouble;
    try {
      running_->close();
      if (choice_.lot) note_tested(store_, *choice_.lot, header_.id);
    } catch (const std::exception& error) {
      trouble = error.what();
    }
    meter_->stop();
    over(trouble);
  }

  void over(const std::string& trouble) {
    state_ = "over";
    timer_.cancel();
    if (!trouble.empty()) stopped_ = Json{{"type", "stopped"}, {"kind", "trouble"}, {"text", trouble}};
    place_.voice.tell(Json{{"type", "work"}, {"work", snapshot()}});
  }

  void on(const Event& event, Instant at) {
    Json json = Json::parse(to_json(event, at), nullptr, false);
    json.erase("raw");
    bool latest = false;
    if (const auto* e = std::get_if<SessionOpened>(&event)) {
      (void)e;
      opened_ = json;
    } else if (const auto* shown = std::get_if<StepShown>(&event)) {
      ++question_;
      ++seen_;
      live_.shown(shown->step);
      waited_for_ = shown->step;
      if (shown->step.question) json["question"] = shown->step.question->ask;
      step_ = json;
      settled_ = reading_ = note_ = nullptr;
    } else if (const auto* taken = std::get_if<ReadingTaken>(&event)) {
      json["words"] = display_words(taken->reading);
      reading_ = json;
      latest = true;
    } else if (const auto* settled = std::get_if<Settled>(&event)) {
      ++seen_;
      json["words"] = judged_words(*settled);
      json["difference"] = difference_words(*settled);
      json["outlook"] = outlook_words(*settled);
      json["outcome"] = settled->outlook || settled->voltage_outlook ? to_string(outlook_outcome(*settled)) : "";
      if (settled->needs_contact_statement) json["ask"] = contact_question(waited_for_);
      settled_ = json;
      note_ = nullptr;
    } else if (std::holds_alternative<Unsettled>(event)) {
      ++seen_;
      settled_ = nullptr;
    } else if (const auto* kept = std::get_if<Kept>(&event)) {
      live_.kept(kept->step);
      keep(*kept, json);
    } else if (std::holds_alternative<Note>(event)) {
      note_ = json;
    } else if (std::holds_alternative<LinkChanged>(event)) {
      link_ = json;
    } else if (const auto* verdict = std::get_if<VerdictReached>(&event)) {
      put_words(verdict->verdict, json);
      verdict_ = json;
    } else if (std::holds_alternative<Stopped>(event)) {
      stopped_ = json;
    }
    Json message{
        {"type", "event"}, {"question", question_}, {"seen", seen_}, {"live", live_.on()}, {"event", std::move(json)}};
    if (latest)
      place_.voice.latest(slot_reading, message);
    else
      place_.voice.tell(message);
  }

  /// What stands on the board of pairs by positions.
  void keep(const Kept& kept, Json& json) {
    if (!kept.finding && !kept.voltage) return;
    const std::string quantity = kept.voltage ? "V" : "ohm";
    const Pair& pair = kept.step.arrangement.pair;
    const std::optional<double> value = kept.finding ? kept.finding->corrected : kept.voltage->volts;
    Json row{{"pair", {pair.first(), pair.second()}},
             {"position", kept.step.arrangement.position},
             {"quantity", quantity},
             {"words", kept.drop ? drop_value_words(kept.drop->drop) : kept_words(kept.indication, value)},
             {"outcome", to_string(kept.finding ? kept.finding->outcome : kept.voltage->outcome)},
             {"sentence", kept.finding ? kept.finding->sentence : kept.voltage->sentence}};
    if (kept.finding && kept.finding->outcome == Outcome::undecided && kept.finding->witness == Witness::missing)
      row["witness"] = "missing";
    board_[quantity + pair.text() + "@" + kept.step.arrangement.position] = row;
    json["row"] = std::move(row);
  }

  static void put_words(const Verdict& verdict, Json& json) {
    json["letters"] = verdict_letters(verdict);
    json["headline"] = headline_beside_word(verdict);
    json["lines"] = Json::array();
    for (const VerdictLine& line : verdict_lines(verdict))
      json["lines"].push_back({{"label", line.label}, {"text", line.text}, {"level", line.level}});
    json.erase("findings");
    json.erase("supply");
  }

  WorkPlace place_;
  GuidedChoice choice_;
  Store store_;
  EventStream events_;
  RecordHeader header_;
  std::unique_ptr<Hands> hands_;
  std::unique_ptr<Meter> meter_;
  std::unique_ptr<QualifySession> session_;
  std::unique_ptr<RunningSession> running_;
  std::vector<LinkChange> link_so_far_;
  std::chrono::steady_clock::time_point opened_at_;
  Loop::Timer timer_;
  std::shared_ptr<int> here_ = std::make_shared<int>();

  std::string state_ = "opening";
  long question_ = 0;  ///< counts steps as they are shown
  long seen_ = 0;      ///< counts what a person could see settled, or not any more
  LiveMark live_;
  Step waited_for_;
  std::map<std::string, Json> board_;
  Json opened_, step_, settled_, reading_, note_, link_, verdict_, stopped_;
};

}  // namespace

std::unique_ptr<Work> begin_guided(const WorkPlace& place, const Json& command) {
  return std::make_unique<Guided>(place, guided_choice(place, command));
}

}  // namespace switchwright::page
