#include "switchwright/bench/running_session.hpp"

#include <utility>

namespace switchwright {

namespace {

constexpr std::chrono::milliseconds pulse_every{100};

}  // namespace

struct RunningSession::Impl : std::enable_shared_from_this<RunningSession::Impl> {
  Impl(Loop& the_loop, Store& store, EventStream& events, QualifySession& the_session, const std::string& record_id)
      : loop(the_loop), session(the_session), recorder(store, record_id, events) {}

  void tick() {
    session.on_tick();
    if (pulse) pulse();
    recorder.tick(SystemClock{}.now());
    if (recorder.lost()) session.stop();
    if (live) timer = loop.after(pulse_every, [this] { tick(); });
  }

  /// From the loop, never from inside the event that ended it.
  void tell_end() {
    if (std::exchange(told, true)) return;
    loop.post([weak = weak_from_this()] {
      const auto self = weak.lock();
      if (!self || !self->live) return;
      const auto tell = self->ended;
      tell();
    });
  }

  Loop& loop;
  QualifySession& session;
  Recorder recorder;
  std::function<void()> pulse;
  std::function<void()> ended;
  Loop::Timer timer;
  bool live = true;
  bool told = false;
};

RunningSession::RunningSession(Loop& loop, Store& store, EventStream& events, QualifySession& session,
                               const std::string& record_id)
    : impl_(std::make_shared<Impl>(loop, store, events, session, record_id)) {
  events.subscribe([weak = std::weak_ptr{impl_}](const Event&, Instant) {
    if (const auto self = weak.lock(); self && self->session.ended()) self->tell_end();
  });
}

RunningSession::~RunningSession() {
  impl_->live = false;
  impl_->timer.cancel();
}

void RunningSession::start(const std::optional<Record>& earlier, std::vector<LinkChange> link_so_far,
                           std::function<void()> pulse, std::function<void()> ended) {
  impl_->pulse = std::move(pulse);
  impl_->ended = std::move(ended);
  impl_->tick();
  if (earlier) impl_->session.resume(*earlier);
  impl_->loop.post([weak = std::weak_ptr{impl_}, changes = std::move(link_so_far)] {
    const auto self = weak.lock();
    if (!self || !self->live) return;
    for (const LinkChange& change : changes) self->session.on_link(change);
    self->session.start();
  });
}

void RunningSession::close() {
  impl_->live = false;
  impl_->timer.cancel();
  impl_->recorder.close();
}

RecordHeader header_of(RecordKind kind, const Profile& profile, const MeterDefinition& meter, const std::string& port,
                       const std::string& hands, bool simulated) {
  RecordHeader header;
  header.kind = kind;
  header.started = SystemClock{}.now().wall;
  header.tool_version = SWITCHWRIGHT_VERSION;
  header.profile_id = profile.id;
  header.profile_title = profile.title;
  header.profile_values = profile.values;
  header.profile_text = profile.source_text;
  header.meter_id = meter.id;
  header.meter_title = meter.title;
  header.meter_text = meter.source_text;
  header.port = port;
  header.rule = to_string(DecisionRule::guarded);
  header.hands = hands;
  header.simulated = simulated;
  return header;
}

}  // namespace switchwright
