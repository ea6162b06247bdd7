// A meter that is listened to, and the search for meters: nothing is kept of either.
#include <fmt/format.h>

#include <algorithm>

#include "page/work.hpp"
#include "switchwright/bench/words.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/find.hpp"
#include "switchwright/meter/meter.hpp"

namespace switchwright::page {

namespace {

class Listening final : public Work {
 public:
  Listening(const WorkPlace& place, MeterDefinition meter, std::string port)
      : place_(place), definition_(std::move(meter)), port_(std::move(port)) {
    MeterCallbacks callbacks;
    callbacks.reading = [this](const Reading& reading) {
      reading_ = Json{{"words", display_words(reading)},
                      {"quantity", name_of(reading.quantity)},
                      {"time", iso8601(reading.at.wall)},
                      {"low_battery", reading.flags.low_battery},
                      {"hold", reading.flags.hold}};
      place_.voice.latest(slot_reading, Json{{"type", "listened"}, {"reading", reading_}});
    };
    callbacks.link = [this](const LinkChange& change) {
      link_ = change.state == LinkState::alive || change.state == LinkState::open ? "" : change.detail;
      if (meter_) place_.voice.tell(Json{{"type", "work"}, {"work", snapshot()}});  // told already while it is opened
    };
    meter_ = open_meter(place_.loop, place_.clock, definition_, port_, callbacks);
  }
  ~Listening() override { meter_->stop(); }

  Json snapshot() const override {
    Json json{{"work", "listen"},
              {"state", on_ ? "running" : "over"},
              {"meter", definition_.id},
              {"title", definition_.title},
              {"port", port_},
              {"link", link_},
              {"identity", meter_ ? meter_->identity() : std::string{}}};
    if (!reading_.is_null()) json["reading"] = reading_;
    return json;
  }
  void obey(const Json& command) override {
    if (text_of(command, "do") == "stop") stop();
  }
  bool running() const override { return on_; }
  void stop() override {
    on_ = false;
    meter_->stop();
    place_.voice.tell(Json{{"type", "work"}, {"work", snapshot()}});
  }

 private:
  WorkPlace place_;
  MeterDefinition definition_;
  std::string port_, link_;
  std::unique_ptr<Meter> meter_;
  Json reading_;
  bool on_ = true;
};

class Finding final : public Work {
 public:
  explicit Finding(const WorkPlace& place) : place_(place) {
    FindRequest request;
    for (const std::string& id : list_meter_definitions(place_.settings.meters)) {
      try {
        request.definitions.push_back(load_meter_definition(id, place_.settings.meters));
      } catch (const std::exception&) {
        // A definition that cannot be read finds nothing; the meters page says what is wrong with it.
      }
    }
    for (const PortInfo& port : list_ports()) {
      const std::string why = left_alone_because(port);
      const std::string name = port.by_id.empty() ? port.device : port.by_id;
      if (why.empty())
        request.ports.push_back(name);
      else
        notes_.push_back(name + ": " + why);
    }
    if (place_.demo) request.ports = {place_.demo->port()};
    if (request.ports.empty()) {
      say_ =
          "There is no serial port to listen at. Plug the meter's cable in, switch its data output on, and look again.";
      on_ = false;
      return;
    }
    finder_ = std::make_unique<MeterFinder>(
        place_.loop, place_.clock, std::move(request), [this](FindResult result) { done(result); },
        [this](const std::string& words) {
          say_ = words;
          tell();
        });
  }

  Json snapshot() const override {
    return {{"work", "find"}, {"state", on_ ? "running" : "over"}, {"say", say_}, {"found", found_}, {"notes", notes_}};
  }
  void obey(const Json& command) override {
    if (text_of(command, "do") == "stop") stop();
  }
  bool running() const override { return on_; }
  void stop() override {
    finder_.reset();
    on_ = false;
    tell();
  }

 private:
  void tell() { place_.voice.tell(Json{{"type", "work"}, {"work", snapshot()}}); }

  void done(const FindResult& result) {
    for (const FindCandidate& one : result.candidates) {
      Json json{{"meter", one.meter}, {"port", one.port}, {"score", one.score}};
      if (one.example) json["shows"] = display_words(*one.example);
      found_.push_back(json);
    }
    for (const FindNote& note : result.notes) notes_.push_back(note.port + ": " + note.text);
    say_ = result.candidates.empty()
               ? "No meter was recognised. Switch its data output on and look again, or choose by the meter's manual."
               : "";
    on_ = false;
    tell();
  }

  WorkPlace place_;
  std::unique_ptr<MeterFinder> finder_;
  std::string say_ = "Listening at the ports.";
  Json found_ = Json::array();
  std::vector<std::string> notes_;
  bool on_ = true;
};

}  // namespace

std::unique_ptr<Work> begin_listening(const WorkPlace& place, const Json& command) {
  if (place.demo) return std::make_unique<Listening>(place, place.demo->meter(), place.demo->port());
  const std::string port = text_of(command, "port");
  if (port.empty()) throw Refusal("Which port is the meter at?");
  return std::make_unique<Listening>(place, load_meter_definition(text_of(command, "meter"), place.settings.meters),
                                     port);
}

std::unique_ptr<Work> begin_finding(const WorkPlace& place, const Json&) { return std::make_unique<Finding>(place); }

}  // namespace switchwright::page
