// Relays for the probes, a person for the knob. Every arrangement opens all channels before it closes two, so that no
// two terminals are ever bridged by the scanner itself; the error queue says whether the scanner followed.
#include <fmt/format.h>

#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/hands/scanner.hpp"
#include "switchwright/profile/position_words.hpp"

namespace switchwright {

namespace {

MeterDefinition scanner_definition(const ScannerMap& map) {
  MeterDefinition definition;
  definition.id = "scanner";
  definition.title = map.title;
  definition.decoder.kind = "scpi";
  definition.link.baud = map.baud;
  definition.link.dtr = true;
  definition.start_commands = {"SYST:REM", "*CLS"};
  definition.stop_commands = {map.open_all, "SYST:LOC"};
  return definition;
}

/// One arrangement on its way; `number` tells it from an older one.
struct Work : std::enable_shared_from_this<Work> {
  Work(Loop& the_loop, ScannerMap the_map, const Profile& profile, AskPerson the_ask)
      : loop(the_loop), map(std::move(the_map)), ask_person(std::move(the_ask)) {
    for (const Position& position : profile.positions) way_to[position.id] = go_to(profile, position.id);
  }

  void arrange(const Arrangement& wanted, std::function<void()> done, std::function<void(std::string)> failed) {
    ++number;
    asked_for = wanted;
    on_done = std::move(done);
    on_failed = std::move(failed);
    if (!broken.empty()) return fail(broken);
    if (wanted.position.empty() || wanted.position == knob_at) return connect();
    // The relays are open while a hand is at the fixture.
    give({map.open_all}, [this, wanted] {
      person(way_to[wanted.position] + " Then press Enter.", [this, wanted] {
        knob_at = wanted.position;
        connect();
      });
    });
  }

  void connect() {
    switch (asked_for.probes) {
      case Probes::on_pair:
        return close_channels({map.first[asked_for.pair.first()], map.second[asked_for.pair.second()]});
      case Probes::shorted:
        if (!map.shorted.empty()) return close_channels(map.shorted);
        return by_hand("Join the two leads at the fixture");
      case Probes::on_known_source:
        if (!map.known_source.empty()) return close_channels(map.known_source);
        return by_hand("Put the meter's leads on a source known to be live");
      case Probes::off: return give({map.open_all}, [this] { stands(); });
    }
  }

  void by_hand(const std::string& what) {
    leads_moved = true;
    give({map.open_all}, [this, what] { person(what + ", then press Enter.", [this] { stands(); }); });
  }

  void close_channels(const std::vector<std::string>& channels) {
    const auto close = [this, channels] {
      give({map.open_all, map.close_command(channels)},
           [this] { settled = loop.after(from_seconds(map.settle_s), [this] { stands(); }); });
    };
    if (!leads_moved) return close();
    person("Put the meter's leads back on the scanner, then press Enter.", [this, close] {
      leads_moved = false;
      close();
    });
  }

  void give(std::vector<std::string> commands, std::function<void()> then) {
    scanner->order(std::move(commands),
                   [weak = weak_from_this(), mine = number, then = std::move(then)](const std::string& trouble) {
                     const auto self = weak.lock();
                     if (!self || mine != self->number) return;
                     if (!trouble.empty()) return self->fail("the scanner did not follow: " + trouble);
                     then();
                   });
  }

  void person(const std::string& words, std::function<void()> then) {
    waiting = true;
    ask_person(words, [weak = weak_from_this(), mine = number, then = std::move(then)] {
      const auto self = weak.lock();
      if (!self || mine != self->number) return;
      self->waiting = false;
      then();
    });
  }

  void stands() {
    if (on_done) on_done();
  }

  void fail(const std::string& why) {
    waiting = false;
    if (!on_failed) return;
    loop.post([weak = weak_from_this(), mine = number, why] {
      const auto self = weak.lock();
      if (self && mine == self->number && self->on_failed) self->on_failed(why);
    });
  }

  /// Which relays are closed after a power cut is not known: an open pair would be read where nothing is connected.
  void gone(const std::string& detail) {
    if (!broken.empty()) return;
    broken = "the scanner is gone, so how its relays stand is not known: " + detail.substr(0, detail.find(';'));
    fail(broken);
  }

  Loop& loop;
  ScannerMap map;
  std::map<std::string, std::string> way_to;  ///< words for the person, by position
  AskPerson ask_person;
  Meter* scanner = nullptr;
  int number = 0;
  Arrangement asked_for;
  std::function<void()> on_done;
  std::function<void(std::string)> on_failed;
  std::string knob_at;  ///< where the person was last asked to turn it; empty: not known
  bool leads_moved = false;
  bool waiting = false;
  std::string broken;
  Loop::Timer settled;
};

class ScannerHands final : public Hands {
 public:
  ScannerHands(Loop& loop, const Clock& clock, ScannerMap map, const Profile& profile, Meter* meter, AskPerson ask)
      : work_(std::make_shared<Work>(loop, std::move(map), profile, std::move(ask))) {
    if (!work_->map.port.empty()) {
      MeterCallbacks callbacks;
      callbacks.link = [work = work_.get()](const LinkChange& change) {
        if (change.state == LinkState::lost) work->gone(change.detail);
      };
      own_link_ = open_meter(loop, clock, scanner_definition(work_->map), work_->map.port, callbacks);
      meter = own_link_.get();
    }
    if (!meter)
      throw Error(ErrorKind::usage, "the channel map names no port and no meter switches", work_->map.title,
                  "add port = \"...\"");
    work_->scanner = meter;
  }
  ~ScannerHands() override {
    ++work_->number;
    if (own_link_) own_link_->stop();
  }
  ScannerHands(const ScannerHands&) = delete;
  ScannerHands& operator=(const ScannerHands&) = delete;

  void arrange(const Arrangement& arrangement, std::function<void()> done,
               std::function<void(std::string)> failed) override {
    work_->arrange(arrangement, std::move(done), std::move(failed));
  }
  bool states_contact() const override { return true; }
  bool confirms_itself() const override { return true; }
  bool waits_for_person() const override { return work_->waiting; }
  void meter_lost(const std::string& detail) override {
    if (!own_link_) work_->gone(detail);
  }
  std::string name() const override { return "scanner"; }

 private:
  std::shared_ptr<Work> work_;
  std::unique_ptr<Meter> own_link_;
};

}  // namespace

std::unique_ptr<Hands> scanner_hands(Loop& loop, const Clock& clock, ScannerMap map, const Profile& profile,
                                     Meter* meter, AskPerson ask) {
  return std::make_unique<ScannerHands>(loop, clock, std::move(map), profile, meter, std::move(ask));
}

}  // namespace switchwright
