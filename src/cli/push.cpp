#include "switchwright/record/push.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "cli/choose/choices.hpp"
#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/push_after_work.hpp"
#include "switchwright/core/error.hpp"

namespace switchwright::cli {

namespace {

constexpr const char* push_choice = "push";

void remember(const std::string& url) {
  Choices choices;
  choices.set(push_choice, url);
  choices.remember();
}

}  // namespace

int run(const PushOptions& options) {
  if (options.sql) {
    put(server_sql());
    return 0;
  }
  if (options.forget) {
    remember({});
    say("Records are no longer sent when they end.");
    return 0;
  }
  const std::string to = options.to.empty() ? Choices{}.last(push_choice) : options.to;
  if (to.empty())
    throw Error(ErrorKind::usage, "no server is named", "--to",
                "name it: --to postgresql://USER@HOST/DATABASE; --push remembers it");
  if (!names_server(to))
    throw Error(ErrorKind::usage, "this is no address of a server", to, "begin it with postgresql://");
  const Store store{store_place(options.store)};
  const Pushed pushed = push_records(store, to, options.id, [](const std::string& text) { say(text); });
  if (options.remember) remember(to);
  if (options.json)
    put_line(nlohmann::ordered_json{{"type", "pushed"},
                                    {"records", pushed.records},
                                    {"batches", pushed.links},
                                    {"already_there", pushed.already_there}}
                 .dump());
  else
    put_line(fmt::format("{} records sent ({} batches); {} were there already.", pushed.records, pushed.links,
                         pushed.already_there));
  return 0;
}

void push_after_work(const std::string& place) {
  const std::string to = Choices{}.last(push_choice);
  if (to.empty()) return;
  try {
    const Store store{store_place(place)};
    const Pushed pushed = push_records(store, to);
    if (pushed.records > 0)
      say(fmt::format("sent to the server: {} record{}", pushed.records, pushed.records == 1 ? "" : "s"));
  } catch (const std::exception& error) {
    say(std::string{"Not sent to the server yet, and nothing is lost: "} + error.what() +
        ". What is missing there is sent after the next record, or with: switchwright records push");
  }
}

}  // namespace switchwright::cli
