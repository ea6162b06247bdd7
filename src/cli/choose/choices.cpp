#include "cli/choose/choices.hpp"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <sstream>

#include "cli/choose/places.hpp"
#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "cli/view/terminal.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/ports.hpp"
#include "switchwright/meter/typed.hpp"
#include "switchwright/profile/library.hpp"

namespace switchwright::cli {

namespace {

/// What belongs to one piece alone is never offered for the next, and so never kept: a record under the serial number of the part
/// before it would be evidence about the wrong part.
bool is_of_one_piece(std::string_view key) { return key == "serial"; }

constexpr const char* look_for_meter = "find";

}  // namespace

void refuse_near_command(const std::string& word, const std::vector<std::string>& ids,
                         const std::vector<std::string>& commands, const std::string& of) {
  const auto near = near_names(word, commands);
  if (near.empty() || !near_names(word, ids).empty() || word.find_first_of("/.") != std::string::npos) return;
  throw Error(ErrorKind::usage, "\"" + terminal_safe(word) + "\" is neither listed by " + of + " nor a command of it",
              of, "did you mean \"" + of + " " + near.front() + "\"?");
}

std::string ask_line(const std::string& prompt) {
  put(prompt);
  flush_output();
  std::string line;
  if (!std::getline(std::cin, line)) throw Error(ErrorKind::interrupted, "input ended");
  const auto first = line.find_first_not_of(" \t");
  return first == std::string::npos ? std::string{} : line.substr(first, line.find_last_not_of(" \t\r") - first + 1);
}

Choices::Choices() {
  std::ifstream file{bench_file()};
  if (!file) return;
  try {
    const toml::table table = toml::parse(file, bench_file().string());
    for (const auto& [key, value] : table)
      if (const auto text = value.value<std::string>(); text && !is_of_one_piece(key.str()))
        last_[std::string{key.str()}] = *text;
  } catch (const toml::parse_error& error) {
    say(fmt::format("{}:{}:{}: {}; the remembered answers are not used", bench_file().string(),
                    error.source().begin.line, error.source().begin.column, error.description()));
  }
}

std::string Choices::last(const std::string& key) const {
  const auto found = last_.find(key);
  return found == last_.end() ? std::string{} : found->second;
}

void Choices::set(const std::string& key, const std::string& value) {
  if (value.empty())
    last_.erase(key);
  else
    last_[key] = value;
}

void Choices::remember() {
  toml::table table;
  for (const auto& [key, value] : last_)
    if (!is_of_one_piece(key)) table.insert_or_assign(key, value);
  std::error_code ignored;
  std::filesystem::create_directories(bench_file().parent_path(), ignored);
  std::ostringstream text;
  text << "# What this bench used last; offered first the next time. Safe to edit or delete.\n" << table << "\n";
  try {
    write_file_durably(bench_file().string(), text.str());
  } catch (const Error&) {
    say("The answers could not be remembered in " + bench_file().string() + "; the work is not affected.");
  }
}

std::string Choices::choose(const std::string& key, const std::string& option, const std::string& question,
                            std::vector<std::string> offers, const std::vector<std::string>& comments) {
  if (!interactive()) throw Error(ErrorKind::usage, question + " is missing", "", "give it with " + option);
  asked_ = true;
  std::size_t widest = 0;
  for (const std::string& offer : offers) widest = std::max(widest, width_of(offer));
  std::vector<std::string> lines;
  for (std::size_t i = 0; i < offers.size(); ++i)
    lines.push_back(offers[i] + (i < comments.size() && !comments[i].empty()
                                     ? std::string(widest - width_of(offers[i]) + 2, ' ') + comments[i]
                                     : ""));
  if (const auto last = last_.find(key); last != last_.end()) {
    const auto found = std::find(offers.begin(), offers.end(), last->second);
    if (found != offers.end()) {
      const auto index = found - offers.begin();
      std::rotate(offers.begin(), offers.begin() + index, offers.begin() + index + 1);
      std::rotate(lines.begin(), lines.begin() + index, lines.begin() + index + 1);
    } else {
      offers.insert(offers.begin(), last->second);
      lines.insert(lines.begin(), last->second + "  used last");
    }
  }
  put_line("\n" + question + "?");
  for (std::size_t i = 0; i < lines.size(); ++i)
    put(paragraph(fmt::format("  {:2}  ", i + 1), terminal_safe(lines[i]), terminal_size().columns));
  for (;;) {
    const std::string answer = ask_line(offers.empty() ? "Type it: " : "Number, or type another [1]: ");
    if (answer.empty() && !offers.empty()) return last_[key] = offers.front();
    if (answer.empty()) continue;
    if (answer.find_first_not_of("0123456789") == std::string::npos) {
      const auto number = std::strtoul(answer.c_str(), nullptr, 10);
      if (number >= 1 && number <= offers.size()) return last_[key] = offers[number - 1];
      put_line(fmt::format("There is no number {}: 1 to {}.", answer, offers.size()));
      continue;
    }
    return last_[key] = answer;
  }
}

/// A name that nobody knows is asked for again; what it was meant to be is said.
template <class Load>
auto Choices::chosen(const std::string& key, const std::string& option, const std::string& question,
                     const std::vector<std::string>& offers, const std::vector<std::string>& comments, const Load& load)
    -> decltype(load(std::string{})) {
  for (;;) {
    try {
      return load(choose(key, option, question, offers, comments));
    } catch (const Error& error) {
      if (error.kind() != ErrorKind::usage || !interactive()) throw;
      put_line(terminal_safe(error.what()));
      last_.erase(key);
    }
  }
}

MeterDefinition Choices::meter(const std::string& given) {
  if (is_typed(given)) return typed_definition(last_["meter"] = given, meter_places());
  if (!given.empty()) return load_meter_definition(last_["meter"] = given, meter_places());
  std::vector<std::string> ids = list_meter_definitions(meter_places());
  std::vector<std::string> titles;
  if (interactive())
    for (const std::string& id : ids) titles.push_back(load_meter_definition(id, meter_places()).title);
  ids.emplace_back(look_for_meter);
  titles.emplace_back("not sure: look which meter is plugged in (only listens)");
  return chosen("meter", "--meter", "Which meter definition", ids, titles, [&](const std::string& answer) {
    if (is_typed(answer)) return typed_definition(answer, meter_places());
    if (answer != look_for_meter) return load_meter_definition(answer, meter_places());
    last_.erase("meter");
    const auto found = find_plugged_meter();
    if (!found)
      throw Error(ErrorKind::usage, "no meter was recognised", "",
                  "switch its data output on and look again, or choose by the meter's manual");
    found_port_ = found->port;
    put_line("Found: " + terminal_safe(found->meter) + " at " + terminal_safe(found->port));
    return load_meter_definition(last_["meter"] = found->meter, meter_places());
  });
}

std::string Choices::port(const std::string& given) {
  if (!given.empty()) return last_["port"] = given;
  if (!found_port_.empty()) return last_["port"] = found_port_;
  std::vector<std::string> devices;
  std::vector<std::string> products;
  for (const PortInfo& port : list_ports()) {
    devices.push_back(port.by_id.empty() ? port.device : port.by_id);
    products.push_back(port.product);
  }
  return choose("port", "--port", "Which port", devices, products);
}

Profile Choices::profile(const std::string& given) {
  if (!given.empty()) return load_profile(last_["profile"] = given, profile_places());
  std::vector<std::string> ids = list_profiles(profile_places());
  std::vector<std::string> titles;
  if (interactive())
    for (const std::string& id : ids) titles.push_back(load_profile(id, profile_places()).title);
  return chosen("profile", "--profile", "Which profile", ids, titles,
                [](const std::string& answer) { return load_profile(answer, profile_places()); });
}

std::string Choices::text(const std::string& key, const std::string& question, const std::string& given) {
  if (!given.empty()) return last_[key] = given;
  if (!interactive()) return {};
  asked_ = true;
  const std::string last = last_.contains(key) && !is_of_one_piece(key) ? last_[key] : std::string{};
  const std::string answer = ask_line(question + (last.empty() ? ": " : " [" + terminal_safe(last) + "]: "));
  return last_[key] = answer.empty() ? last : answer;
}

}  // namespace switchwright::cli
