// An exercise on a switch with a hidden fault. Its bench has a thread of its own, which waits for readings there; the loop
// only hears what came of it.
#include <condition_variable>
#include <deque>
#include <mutex>
#include <random>
#include <thread>

#include "page/work.hpp"
#include "switchwright/bench/words.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/train/practice_record.hpp"

namespace switchwright::page {

namespace {

/// The exercise's bench on its own thread, one arrangement after the other.
class Bench {
 public:
  using Done = std::function<void(std::optional<Indication>, std::string trouble)>;

  Bench(Loop& loop, std::function<std::unique_ptr<ExerciseBench>()> make)
      : loop_(loop), thread_([this, make = std::move(make)] { work(make); }) {}
  ~Bench() {
    {
      const std::lock_guard lock{mutex_};
      ending_ = true;
    }
    wake_.notify_one();
    thread_.join();
  }
  void take(const Arrangement& arrangement, Done done) {
    {
      const std::lock_guard lock{mutex_};
      waiting_.emplace_back(arrangement, std::move(done));
    }
    wake_.notify_one();
  }

 private:
  void work(const std::function<std::unique_ptr<ExerciseBench>()>& make) {
    std::unique_ptr<ExerciseBench> bench;
    for (;;) {
      std::pair<Arrangement, Done> one;
      {
        std::unique_lock lock{mutex_};
        wake_.wait(lock, [this] { return ending_ || !waiting_.empty(); });
        if (ending_) return;
        one = std::move(waiting_.front());
        waiting_.pop_front();
      }
      std::optional<Indication> indication;
      std::string trouble;
      try {
        if (!bench) bench = make();
        indication = bench->take(one.first);
      } catch (const std::exception& error) {
        trouble = error.what();
      }
      loop_.post([done = std::move(one.second), indication, trouble, here = std::weak_ptr{here_}] {
        if (!here.expired()) done(indication, trouble);
      });
    }
  }

  Loop& loop_;
  std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<std::pair<Arrangement, Done>> waiting_;
  bool ending_ = false;
  std::shared_ptr<int> here_ = std::make_shared<int>();
  std::thread thread_;
};

class Practice final : public Work {
 public:
  Practice(const WorkPlace& place, const Profile& profile, const MeterDefinition& meter, const std::string& level,
           const std::string& learner, std::uint64_t seed)
      : place_(place),
        level_(level),
        lesson_(profile, meter, level == "hard" ? LessonLevel::hard : LessonLevel::easy,
                load_knowledge(place.settings.profiles)),
        exercise_(lesson_, seed),
        record_(place.settings.practice_store, exercise_, level, learner, SWITCHWRIGHT_VERSION),
        bench_(place.loop, [make = place.settings.exercise_bench, part = exercise_.hidden_part(), meter,
                            faults = exercise_.hidden_faults(), seed] { return make(part, meter, faults, seed); }) {
    bench_.take({Probes::shorted, {}, "", Quantity::resistance},
                [this](const std::optional<Indication>& indication, const std::string& trouble) {
                  if (!indication) return fail(trouble);
                  Leads leads;
                  leads.before = indication;
                  exercise_.set_leads(leads);
                  busy_ = false;
                  tell();
                });
  }

  bool running() const override { return !over_; }
  void stop() override {
    over_ = true;
    tell();
  }

  void obey(const Json& command) override {
    const std::string what = text_of(command, "do");
    if (what == "stop") return stop();
    if (over_) throw Refusal("This exercise is over.");
    if (busy_) throw Refusal("The last reading is still being taken.");
    if (what == "read") return read(lesson_.place_named(text_of(command, "place")));
    if (what == "hint") {
      const auto next = exercise_.next();
      if (!next) throw Refusal("No further reading tells anything apart: name what you think it is.");
      return read(next->place);
    }
    if (what == "name") return conclude(lesson_.named(text_of(command, "fault")));
    if (what == "give-up") return conclude(std::nullopt);
    throw Refusal("An exercise knows nothing of that.");
  }

  Json snapshot() const override {
    Json json{{"work", "practice"},
              {"state", over_ ? "over" : "running"},
              {"level", level_},
              {"busy", busy_},
              {"record", record_.id()},
              {"part", part_json(lesson_.profile())},
              {"meter", lesson_.meter().id}};
    json["places"] = Json::array();
    for (const Place& place : lesson_.places())
      json["places"].push_back({{"pair", {place.pair.first(), place.pair.second()}}, {"position", place.position}});
    json["readings"] = Json::array();
    for (std::size_t i = 0; i < exercise_.readings().size(); ++i) {
      const LessonReading& reading = exercise_.readings()[i];
      Json one{{"pair", {reading.place.pair.first(), reading.place.pair.second()}},
               {"position", reading.place.position},
               {"words", kept_words(exercise_.indications()[i], reading.ohm)}};
      if (level_ == "easy") {
        one["good"] = lesson_.prediction(0, reading.place);
        one["odd"] = lesson_.contradicts(reading, 0);
      }
      json["readings"].push_back(one);
    }
    json["left"] = lesson_.left(exercise_.readings()).size();
    json["of"] = lesson_.cases().size();
    json["cases"] = Json::array();
    for (const LessonCase& one : lesson_.cases()) json["cases"].push_back({{"name", one.name}, {"words", one.words}});
    if (!trouble_.empty()) json["trouble"] = trouble_;
    if (!end_.is_null()) json["end"] = end_;
    return json;
  }

 private:
  void tell() { place_.voice.tell(Json{{"type", "work"}, {"work", snapshot()}}); }

  void fail(const std::string& trouble) {
    trouble_ = trouble;
    over_ = true;
    tell();
  }

  void read(const Place& place) {
    busy_ = true;
    bench_.take({Probes::on_pair, place.pair, place.position, Quantity::resistance},
                [this, place](const std::optional<Indication>& indication, const std::string& trouble) {
                  if (!indication) return fail(trouble);
                  exercise_.add(place, *indication);
                  record_.keep_reading(exercise_);
                  busy_ = false;
                  tell();
                });
  }

  void conclude(std::optional<std::size_t> named) {
    const Judgement judgement = exercise_.judged(named);
    record_.conclude(exercise_, judgement);
    const LessonCase& hidden = lesson_.cases()[exercise_.hidden()];
    end_ = Json{{"right", judgement.right()},
                {"exact", judgement.exact},
                {"gave_up", !named},
                {"hidden", exercise_.hidden_name()},
                {"words", hidden.words}};
    if (named) end_["named"] = lesson_.cases()[*named].words;
    end_["told_it"] = Json::array();
    for (const std::size_t i : judgement.told_it) {
      const LessonReading& reading = exercise_.readings()[i];
      end_["told_it"].push_back(reading.place.pair.text() + " at " + reading.place.position + ": " +
                                kept_words(exercise_.indications()[i], reading.ohm) + ", a good part reads " +
                                lesson_.prediction(0, reading.place));
    }
    end_["way"] = Json::array();
    for (const Place& place : lesson_.shortest_way(exercise_.hidden()))
      end_["way"].push_back(place.pair.text() + " at " + place.position);
    end_["alike"] = Json::array();
    for (const std::size_t i : judgement.alike) end_["alike"].push_back(lesson_.cases()[i].words);
    over_ = true;
    tell();
  }

  WorkPlace place_;
  std::string level_;
  Lesson lesson_;
  Exercise exercise_;
  PracticeRecord record_;
  Bench bench_;
  Json end_;
  std::string trouble_;
  bool busy_ = true;
  bool over_ = false;
};

}  // namespace

std::unique_ptr<Work> begin_practice(const WorkPlace& place, const Json& command) {
  if (!place.settings.exercise_bench) throw Refusal("There is nothing to practise on here.");
  const std::string level = text_of(command, "level") == "hard" ? "hard" : "easy";
  std::uint64_t seed = std::random_device{}() % 1'000'000;
  if (const auto given = number_of(command, "seed"); given && *given >= 0) seed = static_cast<std::uint64_t>(*given);
  const std::string meter = text_of(command, "meter");
  return std::make_unique<Practice>(
      place, load_profile(text_of(command, "profile"), place.settings.profiles),
      load_meter_definition(meter.empty() ? "lcd-segment-14" : meter, place.settings.meters), level,
      text_of(command, "learner"), seed);
}

}  // namespace switchwright::page
