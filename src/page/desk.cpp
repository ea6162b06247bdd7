#include "switchwright/page/desk.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <utility>

#include "page/errands.hpp"
#include "page/files.hpp"
#include "page/library.hpp"
#include "page/work.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright::page {

namespace {

std::shared_ptr<const std::string> packed(const Json& json) {
  return std::make_shared<const std::string>(dumped(json));
}

Response words(int status, std::string text) {
  Response response;
  response.status = status;
  response.body = std::make_shared<const std::string>(std::move(text));
  return response;
}

const char* word_of(Probes probes) {
  switch (probes) {
    case Probes::off: return "off";
    case Probes::shorted: return "shorted";
    case Probes::on_pair: return "pair";
    case Probes::on_known_source: return "known-source";
  }
  return "off";
}

std::string said_of(const Error& error) {
  std::string text = error.what_happened();
  if (!error.where().empty()) text += " (" + error.where() + ")";
  text = sentences({text, error.what_next().empty() ? "" : "Next: " + error.what_next()});
  if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  return text;
}

}  // namespace

struct Desk::Impl : std::enable_shared_from_this<Desk::Impl> {
  Impl(Loop& the_loop, const Clock& the_clock, DeskSettings the_settings, DemoBench* the_demo)
      : loop(the_loop), clock(the_clock), settings(std::move(the_settings)), demo(the_demo), errands(loop) {
    if (demo) panel.position = demo->profile().positions.front().id;
  }

  // ---- what pages are told

  void tell(const Json& json) {
    const auto text = packed(json);
    for (const auto& client : std::set<std::shared_ptr<Client>>(clients)) client->send(text);
  }
  void tell_latest(int slot, const Json& json) {
    const auto text = packed(json);
    for (const auto& client : std::set<std::shared_ptr<Client>>(clients)) client->send_latest(slot, text);
  }
  Voice voice() {
    return {[this](const Json& json) { tell(json); }, [this](int slot, const Json& json) { tell_latest(slot, json); }};
  }

  Json panel_json() const {
    Json json{{"probes", word_of(panel.probes)},
              {"ends", {ends[0], ends[1]}},
              {"position", panel.position},
              {"dial", name_of(panel.dial)},
              {"power", panel.power.value_or(false)},
              {"faults", Json::array()},
              {"current", name_of(panel.current.value_or(CurrentSwitch::off))}};
    for (const Fault& fault : faults) json["faults"].push_back(to_string(fault));
    return json;
  }

  Json hello() const {
    Json json{{"type", "hello"},
              {"version", files_version()},
              {"tool", SWITCHWRIGHT_VERSION},
              {"store", settings.store.string()}};
    json["last"] = settings.last;
    if (demo)
      json["demo"] = Json{{"part", part_json(demo->profile())}, {"meter", demo->meter().id}, {"panel", panel_json()}};
    json["work"] = work ? work->snapshot() : Json{};
    return json;
  }

  // ---- what pages ask for

  void said(const std::shared_ptr<Client>& client, const std::string& text) {
    const Json command = Json::parse(text, nullptr, false);
    Json answer;
    try {
      if (!command.is_object()) throw Refusal("That is no command.");
      obey(command);
      return;
    } catch (const Refusal& refusal) {
      answer = {{"type", "refused"}, {"text", refusal.what()}};
    } catch (const Error& error) {
      answer = {{"type", "refused"}, {"text", said_of(error)}};
    } catch (const std::exception& error) {
      answer = {{"type", "refused"}, {"text", std::string{"That did not work: "} + error.what()}};
    }
    if (const auto re = command.is_object() ? number_of(command, "re") : std::nullopt) answer["re"] = *re;
    client->send(packed(answer));
  }

  void obey(const Json& command) {
    const std::string what = text_of(command, "do");
    if (what == "ping") return;
    if (what == "begin") return begin(command);
    if (what == "leave") return leave();
    if (what == "panel") return move_panel(command);
    if (what == "fault") return put_in(command);
    if (what == "demo-part") return exchange(text_of(command, "profile"));
    if (!work) throw Refusal("Nothing is going on just now.");
    work->obey(command);
  }

  void begin(const Json& command) {
    if (work && work->running())
      throw Refusal("Other work is going on, perhaps on another page. Finish or stop it first.");
    work.reset();
    const std::string kind = text_of(command, "work");
    std::string profile = text_of(command, "profile");
    for (const char* earlier : {"resume", "lot"})
      if (const std::string id = text_of(command, earlier); demo && !id.empty())
        profile = Store{settings.store}.load(id).header.profile_id;  // the part that was on the bench then
    if (demo && kind != "practice" && !profile.empty() && profile != demo->profile().id) exchange(profile);
    const WorkPlace place{loop, clock, settings, demo, voice()};
    if (kind == "trace")
      work = begin_trace(place, command);
    else if (kind == "listen")
      work = begin_listening(place, command);
    else if (kind == "find")
      work = begin_finding(place, command);
    else if (kind == "practice")
      work = begin_practice(place, command);
    else
      work = begin_guided(place, command);
    if (kind != "find" && kind != "practice" && kind != "lot-unit" && text_of(command, "resume").empty())
      remember(command);
    tell({{"type", "work"}, {"work", work->snapshot()}});
  }

  void remember(const Json& command) {
    for (const char* key : {"profile", "meter", "port", "operator", "part"})
      if (const std::string text = text_of(command, key); !text.empty()) settings.last[key] = text;
    if (settings.remember && !demo) settings.remember(settings.last);
  }

  void leave() {
    if (work && work->running()) throw Refusal("The work is still going on; stop it first.");
    work.reset();
    tell({{"type", "work"}, {"work", nullptr}});
  }

  // ---- the panel of a demonstration

  void require_demo() const {
    if (!demo) throw Refusal("There is no simulated bench here.");
  }

  void move_panel(const Json& command) {
    require_demo();
    Arrangement wanted = panel;
    std::array<std::string, 2> at = ends;
    const auto moved = command.find("ends");
    const bool placed = moved != command.end() && moved->is_array() && moved->size() == 2;
    if (placed)  // a probe that is not named stays where it is
      for (std::size_t i = 0; i < 2; ++i)
        if ((*moved)[i].is_string()) at[i] = (*moved)[i].get<std::string>();
    std::string probes = text_of(command, "probes");
    if (probes.empty() && placed) probes = at[0].empty() || at[1].empty() ? "off" : "pair";
    if (!probes.empty())
      wanted.probes = probes == "shorted"        ? Probes::shorted
                      : probes == "known-source" ? Probes::on_known_source
                      : probes == "pair"         ? Probes::on_pair
                                                 : Probes::off;
    if (wanted.probes == Probes::on_pair && (at[0].empty() || at[1].empty() || at[0] == at[1]))
      wanted.probes = Probes::off;
    if (wanted.probes == Probes::on_pair) wanted.pair = Pair{at[0], at[1]};
    if (const std::string position = text_of(command, "position"); !position.empty()) wanted.position = position;
    if (const auto dial = quantity_named(text_of(command, "dial"))) wanted.dial = *dial;
    if (command.contains("power") && command["power"].is_boolean()) {
      if (!demo->profile().powered && command["power"].get<bool>())
        throw Refusal("This part's profile says nothing about power.");
      wanted.power = command["power"].get<bool>();
    }
    if (const std::string current = text_of(command, "current"); !current.empty())
      wanted.current = current_switch_named(current).value_or(CurrentSwitch::off);
    if (command.contains("amps") && command["amps"].is_number())
      wanted.current_a = std::clamp(command["amps"].get<double>(), 0.0, 100.0);
    const Arrangement before = panel;
    const auto ends_before = ends;
    panel = wanted;
    ends = at;
    tell_panel();
    demo->arrange(wanted, [weak = weak_from_this(), before, ends_before](const std::string& trouble) {
      const auto self = weak.lock();
      if (!self || trouble.empty()) return;
      self->panel = before;
      self->ends = ends_before;
      self->tell_panel();
      self->tell({{"type", "refused"}, {"text", full_stop("The simulated bench: " + trouble)}});
    });
  }

  void put_in(const Json& command) {
    require_demo();
    const std::string text = text_of(command, "fault");
    std::vector<Fault> wanted = text.empty() ? std::vector<Fault>{} : parse_faults(text, demo->profile());
    demo->put_in(wanted);
    faults = std::move(wanted);
    tell_panel();
  }

  void exchange(const std::string& profile) {
    require_demo();
    if (work && work->running()) throw Refusal("A part cannot be exchanged for another kind while work is going on.");
    work.reset();
    demo->exchange(profile);
    faults.clear();
    panel = {};
    ends = {};
    panel.position = demo->profile().positions.front().id;
    tell(hello());
  }

  void tell_panel() { tell({{"type", "panel"}, {"panel", panel_json()}}); }

  // ---- what is looked at

  void answer(const Request& request, std::function<void(Response)> reply) {
    if (const File* file = file_at(request.path)) {
      Response response;
      response.type = file->type;
      response.body = std::make_shared<const std::string>(file->bytes);
      response.etag = std::string{"\""} + files_version() + "\"";
      return reply(std::move(response));
    }
    auto errand = errand_for(request, settings, demo != nullptr);
    if (!errand) return reply(words(404, "There is nothing at this address.\n"));
    errands.answer(std::move(errand), std::move(reply));
  }

  Loop& loop;
  const Clock& clock;
  DeskSettings settings;
  DemoBench* demo;
  Errands errands;
  std::set<std::shared_ptr<Client>> clients;
  std::unique_ptr<Work> work;
  Arrangement panel;
  std::array<std::string, 2> ends;
  std::vector<Fault> faults;
  Loop::Timer stopping;
};

Desk::Desk(Loop& loop, const Clock& clock, DeskSettings settings, DemoBench* demo)
    : impl_(std::make_shared<Impl>(loop, clock, std::move(settings), demo)) {}

Desk::~Desk() { impl_->work.reset(); }

House Desk::house() {
  const std::weak_ptr<Impl> weak = impl_;
  House house;
  house.answer = [weak](const Request& request, std::function<void(Response)> reply) {
    if (const auto self = weak.lock()) self->answer(request, std::move(reply));
  };
  house.joined = [weak](const std::shared_ptr<Client>& client) {
    const auto self = weak.lock();
    if (!self) return;
    self->clients.insert(client);
    client->send(packed(self->hello()));
  };
  house.said = [weak](const std::shared_ptr<Client>& client, const std::string& text) {
    if (const auto self = weak.lock()) self->said(client, text);
  };
  house.left = [weak](const std::shared_ptr<Client>& client) {
    if (const auto self = weak.lock()) self->clients.erase(client);
  };
  return house;
}

void Desk::stop(std::function<void()> done) {
  if (!impl_->work || !impl_->work->running()) return done();
  impl_->work->stop();
  const auto look = std::make_shared<std::function<void()>>();
  *look = [self = impl_, done = std::move(done), weak = std::weak_ptr{look}] {
    const auto again = weak.lock();
    if (!self->work || !self->work->running() || !again) return done();
    self->stopping = self->loop.after(std::chrono::milliseconds{50}, [again] { (*again)(); });
  };
  (*look)();
}

}  // namespace switchwright::page
