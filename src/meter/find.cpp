#include "switchwright/meter/find.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <tuple>

#include "meter/link/link_meter.hpp"
#include "meter/link/serial_port.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/meter/decoder.hpp"

namespace switchwright {

namespace {

constexpr std::uint64_t frames_to_be_sure = 5;
constexpr double score_to_be_sure = 0.9;
constexpr double introduced_after_s = 3.5;  ///< name and error queue have been asked for by then

/// What one definition's decoder made of the bytes.
struct Trial {
  std::string meter;
  std::shared_ptr<Decoder> decoder;
  bool seven_bits = false;
  std::uint64_t explained_bytes = 0;
  std::optional<Reading> example;
};

/// Gives the same bytes to every decoder; any of them makes the line valid.
class ManyDecoders final : public Decoder {
 public:
  explicit ManyDecoders(std::shared_ptr<std::vector<Trial>> trials) : trials_(std::move(trials)) {}
  void feed(std::string_view bytes, Instant at, std::vector<Reading>& out) override {
    for (Trial& trial : *trials_) {
      std::vector<Reading> readings;
      const std::uint64_t before = trial.decoder->counts().accepted;
      std::string masked;
      if (trial.seven_bits)
        for (const char c : bytes) masked += static_cast<char>(c & 0x7F);
      trial.decoder->feed(trial.seven_bits ? std::string_view{masked} : bytes, at, readings);
      // A frame may hold several readings: its bytes count once.
      const std::uint64_t frames = trial.decoder->counts().accepted - before;
      std::string previous;
      for (const Reading& reading : readings) {
        if (reading.raw != previous || readings.size() == frames) trial.explained_bytes += reading.raw.size();
        previous = reading.raw;
      }
      if (!readings.empty()) trial.example = readings.back();
      out.insert(out.end(), readings.begin(), readings.end());
    }
  }
  void reset() override {
    for (Trial& trial : *trials_) trial.decoder->reset();
  }

 private:
  std::shared_ptr<std::vector<Trial>> trials_;
};

/// One opening of one port: passively for all definitions with one line setting, or asking as one definition
/// asks.
struct Step {
  MeterDefinition line;  ///< what the port is opened with
  std::vector<const MeterDefinition*> definitions;
  bool asks = false;
};

/// Manufacturer, model and serial number at least. A meter of another kind answers a line too: the letters of
/// a question may be its request for a reading.
bool is_full_identity(const std::string& text) { return std::count(text.begin(), text.end(), ',') >= 2; }

bool is_network(const std::string& port) { return port.starts_with("tcp:"); }

auto key_of(const LinkSettings& link) {
  return std::tuple{link.baud, link.data_bits, link.parity, link.stop_bits, link.dtr, link.rts};
}

std::string settings_words(const Step& step, const std::string& port) {
  return is_network(port) || port.starts_with("usbtmc:") ? "" : " at " + line_words(step.line.link);
}

}  // namespace

struct MeterFinder::Impl : std::enable_shared_from_this<Impl> {
  Impl(Loop& the_loop, const Clock& the_clock, FindRequest the_request, std::function<void(FindResult)> the_done,
       std::function<void(const std::string&)> the_progress)
      : loop(the_loop),
        clock(the_clock),
        request(std::move(the_request)),
        done(std::move(the_done)),
        progress(std::move(the_progress)) {}

  /// One port on its way through the steps.
  struct Search {
    std::string port;
    std::vector<Step> steps;
    std::size_t next = 0;
    std::shared_ptr<std::vector<Trial>> trials;
    std::unique_ptr<Meter> meter;
    std::uint64_t bytes = 0;
    std::uint64_t bytes_in_all = 0;
    bool found = false;
    std::string lost;
    Monotonic opened;
    Loop::Timer timer;
    Loop::Timer doubt;
  };

  std::vector<Step> steps_for(const std::string& port) const {
    std::vector<Step> passive;
    std::vector<Step> asking;
    for (const MeterDefinition& definition : request.definitions) {
      if (definition.poll) {
        Step step;
        step.line = definition;
        step.definitions = {&definition};
        step.asks = true;
        if (request.ask && (!port.starts_with("usbtmc:") || definition.decoder.kind == "scpi"))
          asking.push_back(std::move(step));
        continue;
      }
      if (port.starts_with("usbtmc:")) continue;  // it sends nothing by itself
      const auto same = [&](const Step& step) {
        return is_network(port) || key_of(step.line.link) == key_of(definition.link);
      };
      auto step = std::find_if(passive.begin(), passive.end(), same);
      if (step == passive.end()) {
        Step fresh;
        // Nothing but line settings: a definition without commands writes nothing.
        fresh.line.id = "listening";
        fresh.line.link = definition.link;
        if (is_network(port)) fresh.line.link.data_bits = 8;  // who uses seven masks them itself
        step = passive.insert(passive.end(), std::move(fresh));
      }
      step->definitions.push_back(&definition);
    }
    passive.insert(passive.end(), std::make_move_iterator(asking.begin()), std::make_move_iterator(asking.end()));
    return passive;
  }

  void start() {
    for (const std::string& port : request.ports) {
      auto search = std::make_shared<Search>();
      search->port = port;
      search->steps = steps_for(port);
      searches.push_back(search);
    }
    running = searches.size();
    for (const auto& search : searches) go_on(search);
    if (searches.empty()) finish();
  }

  void go_on(const std::shared_ptr<Search>& search) {
    if (stopped) return;
    // What sends by itself is not asked in other languages.
    while (search->next < search->steps.size() && search->found && search->steps[search->next].asks) ++search->next;
    if (search->next == search->steps.size()) return end_of(*search);
    const Step& step = search->steps[search->next];
    search->bytes = 0;
    search->trials = std::make_shared<std::vector<Trial>>();
    try {
      for (const MeterDefinition* definition : step.definitions)
        search->trials->push_back(
            {definition->id, make_decoder(*definition), drops_eighth_bit(*definition), 0, std::nullopt});
      tell(fmt::format("{}{}",
                       step.asks ? "asking " + search->port + " as " + step.line.id : "listening to " + search->port,
                       settings_words(step, search->port)));
      if (stopped) return;
      MeterCallbacks callbacks;
      callbacks.bytes = [search](std::string_view bytes, Instant) { search->bytes += bytes.size(); };
      callbacks.reading = [this, search](const Reading&) {
        if (sure(*search)) close_step(search);
      };
      callbacks.link = [this, search](const LinkChange& change) {
        if (change.state == LinkState::lost) search->lost = change.detail;
        const bool no_answer = search->steps[search->next].asks && change.state == LinkState::silent;
        if (!search->lost.empty() || no_answer) close_step(search);
      };
      search->meter = open_link_meter(loop, clock, step.line, search->port,
                                      std::make_unique<ManyDecoders>(search->trials), std::move(callbacks));
    } catch (const Error& error) {
      result.notes.push_back({search->port, error.what()});
      search->steps.clear();
      search->next = 0;
      return end_of(*search, true);
    }
    search->opened = std::chrono::steady_clock::now();
    const double patience_s = step.asks ? step.line.poll->timeout_s + 4.0 : request.listen_s;
    search->timer = loop.after(from_seconds(patience_s), [this, search] { close_step(search); });
    if (!step.asks) return;
    search->doubt = loop.after(from_seconds(introduced_after_s), [this, search, number = search->next] {
      if (search->next != number || !search->meter) return;
      if (search->bytes == 0) return close_step(search);  // nobody is there
      if (search->meter->identity().empty()) return;
      const auto accepted = [](const Trial& trial) { return trial.decoder->counts().accepted > 0; };
      const bool reads = std::any_of(search->trials->begin(), search->trials->end(), accepted);
      if (!reads && !is_full_identity(search->meter->identity())) close_step(search);
    });
  }

  bool sure(const Search& search) const {
    const bool asks = search.steps[search.next].asks;
    for (const Trial& trial : *search.trials) {
      const std::uint64_t frames = trial.decoder->counts().accepted;
      if (frames >= (asks ? 2 : frames_to_be_sure) && (asks || share(trial, search) >= score_to_be_sure)) return true;
    }
    return false;
  }

  /// How much of what came the trial explains. While asking, other answers than readings come too: frames are
  /// compared.
  double share_of(const Trial& trial, const Search& search) const {
    const FrameCounts& counts = trial.decoder->counts();
    if (!search.steps[search.next].asks) return share(trial, search);
    const auto all = counts.accepted + counts.rejected_total();
    return all == 0 ? 0.0 : static_cast<double>(counts.accepted) / static_cast<double>(all);
  }

  static double share(const Trial& trial, const Search& search) {
    return search.bytes == 0
               ? 0.0
               : std::min(1.0, static_cast<double>(trial.explained_bytes) / static_cast<double>(search.bytes));
  }

  /// The step is over; what follows is done from the loop, since this may be a callback of the meter that is
  /// to end.
  void close_step(const std::shared_ptr<Search>& search) {
    if (!search->meter) return;
    search->timer.cancel();
    search->doubt.cancel();
    const Step& step = search->steps[search->next];
    const double seconds = std::max(0.001, seconds_between(search->opened, std::chrono::steady_clock::now()));
    for (const Trial& trial : *search->trials) {
      const FrameCounts& counts = trial.decoder->counts();
      const std::string identity = search->meter->identity();
      if (counts.accepted == 0 && identity.empty()) continue;
      FindCandidate candidate;
      candidate.meter = trial.meter;
      candidate.port = search->port;
      candidate.frames = counts.accepted;
      candidate.rejected = counts.rejected_total();
      candidate.stray_bytes = search->bytes - std::min(search->bytes, trial.explained_bytes);
      candidate.frames_per_s = static_cast<double>(counts.accepted) / seconds;
      candidate.score = share_of(trial, *search) * (counts.accepted < 2 ? 0.5 : 1.0);
      // It gave its name but no reading yet: the language is right, if that was a name.
      if (counts.accepted == 0) candidate.score = is_full_identity(identity) ? 0.5 : 0.25;
      candidate.asked = step.asks;
      candidate.identity = identity;
      candidate.example = trial.example;
      search->found = search->found || candidate.score >= 0.5;
      result.candidates.push_back(std::move(candidate));
    }
    search->bytes_in_all += search->bytes;
    search->meter.reset();
    ++search->next;
    if (!search->lost.empty()) search->next = search->steps.size();
    loop.post([self = shared_from_this(), search] { self->go_on(search); });
  }

  void end_of(Search& search, bool noted = false) {
    const bool candidate = std::any_of(result.candidates.begin(), result.candidates.end(),
                                       [&](const FindCandidate& c) { return c.port == search.port; });
    if (!noted && !search.lost.empty()) {
      result.notes.push_back({search.port, search.lost});
    } else if (!noted && !candidate) {
      result.notes.push_back(
          {search.port,
           search.bytes_in_all > 0
               ? fmt::format("{} bytes came, but no meter definition finds a frame in them; "
                             "record them with `switchwright read --capture FILE` and see meters/README.md",
                             search.bytes_in_all)
           : request.ask ? std::string{"nothing came and nothing was answered: check the cable, and that the "
                                       "meter is on with its data output on"}
                         : std::string{"nothing came: press the meter's data button; a meter that only "
                                       "answers is found with --ask"}});
    }
    if (--running == 0) finish();
  }

  void finish() {
    std::stable_sort(result.candidates.begin(), result.candidates.end(),
                     [](const FindCandidate& a, const FindCandidate& b) {
                       return std::tie(a.score, a.frames_per_s) > std::tie(b.score, b.frames_per_s);
                     });
    loop.post([self = shared_from_this()] {
      if (!self->stopped) self->done(std::move(self->result));
    });
  }

  void tell(const std::string& text) {
    if (progress) progress(text);
  }

  Loop& loop;
  const Clock& clock;
  const FindRequest request;
  std::function<void(FindResult)> done;
  std::function<void(const std::string&)> progress;
  std::vector<std::shared_ptr<Search>> searches;
  std::size_t running = 0;
  FindResult result;
  bool stopped = false;
};

MeterFinder::MeterFinder(Loop& loop, const Clock& clock, FindRequest request, std::function<void(FindResult)> done,
                         std::function<void(const std::string&)> progress)
    : impl_(std::make_shared<Impl>(loop, clock, std::move(request), std::move(done), std::move(progress))) {
  loop.post([impl = impl_] {
    if (!impl->stopped) impl->start();
  });
}

MeterFinder::~MeterFinder() {
  impl_->stopped = true;
  for (const auto& search : impl_->searches) {
    search->timer.cancel();
    search->doubt.cancel();
    search->meter.reset();
  }
}

std::string left_alone_because(const PortInfo& port) {
  const bool serial = !port.device.starts_with("hid:") && !port.device.starts_with("usbtmc:");
  if (!port.readable)
    return serial
               ? "no permission: add yourself to group dialout and log in again"
               : "no permission: the package's udev rule gives it to who is logged in; `switchwright doctor` checks it";
  if (port.device.starts_with("hid:"))
    return "listening through it means setting its UART up, which is writing: name it with --port " + port.device +
           " if it is the meter's cable";
  if (port.device.starts_with("usbtmc:"))
    return "it speaks only when asked: name it with --ask --port " + port.device + " if it is the meter";
  // Plain USB-to-serial chips and built-in ports carry whatever cable is plugged in. A device with a serial
  // interface of its own is a modem, a controller board or a machine far more often than a meter.
  if (port.driver == "cdc_acm")
    return "a device with a serial interface of its own, perhaps a machine: name it with --port if it is the "
           "meter";
  return {};
}

}  // namespace switchwright
