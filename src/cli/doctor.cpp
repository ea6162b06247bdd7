// Is this machine fit for the bench? Looks and never changes anything; each trouble comes with how to mend it. Opening a
// port could reset what hangs on it, so ports are looked at and not opened.
#include <fmt/format.h>
#include <grp.h>
#include <langinfo.h>
#include <sys/statvfs.h>
#include <sys/timex.h>
#include <unistd.h>

#include <clocale>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/ports.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/record/store.hpp"

namespace switchwright::cli {

namespace fs = std::filesystem;

namespace {

enum class Health { good, remark, trouble };

struct Check {
  std::string what;
  Health health = Health::good;
  std::string finding;
  std::string mend;  ///< empty where there is nothing to mend
};

bool in_path(const std::string& program) {
  const char* path = std::getenv("PATH");
  std::string all = path ? path : "";
  for (std::size_t at = 0; at <= all.size();) {
    const std::size_t to = std::min(all.find(':', at), all.size());
    if (to > at && ::access((fs::path{all.substr(at, to - at)} / program).c_str(), X_OK) == 0) return true;
    at = to + 1;
  }
  return false;
}

/// The group that may open serial ports: dialout on Debian and its kin, uucp elsewhere.
Check permissions() {
  if (::geteuid() == 0)
    return {"permissions", Health::remark, "runs as root: every port can be opened, and records will belong to root",
            "work as an ordinary user who is a member of dialout"};
  std::vector<gid_t> groups(static_cast<std::size_t>(std::max(0, ::getgroups(0, nullptr))));
  if (::getgroups(static_cast<int>(groups.size()), groups.data()) < 0) groups.clear();
  std::string wanted;
  for (const char* name : {"dialout", "uucp"}) {
    const group* known = ::getgrnam(name);
    if (!known) continue;
    if (wanted.empty()) wanted = name;
    for (const gid_t mine : groups)
      if (mine == known->gr_gid) return {"permissions", Health::good, fmt::format("member of {}", name), ""};
  }
  if (wanted.empty()) wanted = "dialout";
  return {"permissions", Health::remark,
          "not a member of " + wanted + ": ports open only where a udev rule gives access",
          "sudo usermod -aG " + wanted + " $USER, then log in again"};
}

void ports(std::vector<Check>& checks) {
  const auto all = list_ports();
  if (all.empty()) {
    checks.push_back({"ports", Health::remark, "no serial, HID or USBTMC port is plugged in",
                      "plug the meter's cable in; without a cable use --meter typed"});
    return;
  }
  for (const PortInfo& port : all)
    checks.push_back(
        port.readable
            ? Check{"port", Health::good, port.device + (port.product.empty() ? "" : " " + terminal_safe(port.product)),
                    ""}
            : Check{"port", Health::trouble, port.device + " may not be opened by this user",
                    "install the udev rule (packaging/70-switchwright.rules to /etc/udev/rules.d), plug the cable in "
                    "again; for a serial port: sudo usermod -aG dialout $USER, then log in again"});
}

/// Services that open every new serial port to see whether it is a modem or a braille line, which tears frames apart.
Check grabbers() {
  std::string found;
  std::error_code error;
  for (fs::directory_iterator it("/proc", error), end; !error && it != end; it.increment(error)) {
    std::ifstream in(it->path() / "comm");
    std::string name;
    if (!std::getline(in, name)) continue;
    for (const std::string_view grabber : {"ModemManager", "brltty"})
      if (name.starts_with(grabber)) found += (found.empty() ? "" : ", ") + name;
  }
  if (found.empty()) return {"grabbers", Health::good, "no program that probes every serial port is running", ""};
  return {"grabbers", Health::trouble, terminal_safe(found) + " is running and opens every new serial port",
          "sudo systemctl disable --now " + terminal_safe(found) +
              ", or install the udev rule, which asks it to leave meters alone"};
}

Check store_check(const fs::path& place) {
  try {
    if (!fs::exists(place)) {
      fs::path above = place.parent_path();
      while (!above.empty() && !fs::exists(above)) above = above.parent_path();
      if (::access(above.c_str(), W_OK) != 0)
        return {"store", Health::trouble,
                "it does not exist yet and cannot be made: " + above.string() + " is not writable",
                "choose a place of your own with SWITCHWRIGHT_STORE"};
      return {"store", Health::good, place.string() + " will be made with the first record", ""};
    }
    if (::access(place.c_str(), R_OK | W_OK) != 0)
      return {"store", Health::trouble, place.string() + " cannot be written", "sudo chown $USER " + place.string()};
    const Store store{place};
    return {"store", Health::good, fmt::format("{}: opens", place.string()), ""};
  } catch (const std::exception& error) {
    return {"store", Health::trouble, terminal_safe(error.what()), "see it with: switchwright records --check"};
  }
}

Check disk(fs::path place) {
  while (!place.empty() && !fs::exists(place)) place = place.parent_path();
  struct statvfs room {};
  if (::statvfs(place.c_str(), &room) != 0)
    return {"disk", Health::trouble, "cannot be asked: " + place.string(), "mount it again"};
  const double free_mib = static_cast<double>(room.f_bavail) * static_cast<double>(room.f_frsize) / (1024.0 * 1024.0);
  if ((room.f_flag & ST_RDONLY) != 0)
    return {"disk", Health::trouble, "the store's disk is mounted read-only",
            "mount it writable, or choose another store"};
  const std::string words = fmt::format("{:.0f} MiB free for the store", free_mib);
  if (free_mib < 200.0) return {"disk", Health::trouble, words, "free some space: a day's trace takes some 100 MiB"};
  return {"disk", Health::good, words, ""};
}

Check clock_check() {
  std::time_t now = std::time(nullptr);
  std::tm local{};
  ::localtime_r(&now, &local);
  char words[64];
  std::strftime(words, sizeof words, "%Y-%m-%d %H:%M %Z (UTC%z)", &local);
  timex kernel{};
  const int state = ::adjtimex(&kernel);
  if (local.tm_year + 1900 < 2026)
    return {"clock", Health::trouble, std::string{words} + ": long past",
            "set the clock: sudo timedatectl set-ntp true"};
  if (state < 0) return {"clock", Health::good, words, ""};
  if (state == TIME_ERROR || (kernel.status & STA_UNSYNC) != 0)
    return {"clock", Health::remark, std::string{words} + ", not synchronised",
            "sudo timedatectl set-ntp true; records carry this time"};
  return {"clock", Health::good, std::string{words} + ", synchronised", ""};
}

Check locale_check() {
  const char* kept = std::setlocale(LC_CTYPE, nullptr);
  const std::string before = kept ? kept : "C";
  const bool known = std::setlocale(LC_CTYPE, "") != nullptr;
  const std::string codeset = ::nl_langinfo(CODESET);
  std::setlocale(LC_CTYPE, before.c_str());
  if (known && codeset == "UTF-8") return {"locale", Health::good, "UTF-8", ""};
  return {"locale", Health::remark,
          known ? codeset + ", not UTF-8: signs such as the ohm sign may look wrong"
                : "the locale that is set does not exist here",
          "export LANG=C.UTF-8"};
}

Check terminal_check() {
  const char* term = std::getenv("TERM");
  const std::string name = term ? term : "";
  if (!stdout_is_terminal())
    return {"terminal", Health::remark, "the output is no terminal: the guided work needs one",
            "run it in a terminal window"};
  if (name.empty() || name == "dumb")
    return {"terminal", Health::remark, "a terminal that cannot draw: plain lines are shown",
            "export TERM=xterm-256color"};
  return {"terminal", Health::good, terminal_safe(name), ""};
}

void programs(std::vector<Check>& checks) {
  checks.push_back(in_path("weasyprint")
                       ? Check{"pdf", Health::good, "weasyprint is installed", ""}
                       : Check{"pdf", Health::remark, "PDF reports need weasyprint; HTML, text, JSON and CSV do not",
                               "sudo apt-get install weasyprint"});
  bool browser = false;
  for (const char* name : {"xdg-open", "x-www-browser", "chromium", "firefox"}) browser = browser || in_path(name);
  checks.push_back(browser ? Check{"browser", Health::good, "a browser is installed", ""}
                           : Check{"browser", Health::remark,
                                   "no browser was found: HTML reports are read on another machine",
                                   "sudo apt-get install chromium"});
}

Check library() {
  try {
    const std::size_t meters = list_meter_definitions(meter_places()).size();
    const std::size_t profiles = list_profiles(profile_places()).size();
    if (meters > 0 && profiles > 0)
      return {"library", Health::good, fmt::format("{} meter definitions, {} profiles", meters, profiles), ""};
  } catch (const std::exception& error) {
    return {"library", Health::trouble, terminal_safe(error.what()), "mend or remove that file"};
  }
  return {"library", Health::trouble, "meter definitions or profiles are not where the program looks for them",
          "install the package again"};
}

const char* word_of(Health health) {
  return health == Health::good ? "good" : health == Health::remark ? "remark" : "trouble";
}

}  // namespace

int run(const DoctorOptions& options) {
  std::vector<Check> checks;
  checks.push_back(library());
  checks.push_back(permissions());
  ports(checks);
  checks.push_back(grabbers());
  try {
    const fs::path place = store_place(options.store);
    checks.push_back(store_check(place));
    checks.push_back(disk(place));
  } catch (const Error& error) {
    checks.push_back({"store", Health::trouble, error.what(), "set HOME, or name a store with --store"});
  }
  checks.push_back(clock_check());
  checks.push_back(locale_check());
  checks.push_back(terminal_check());
  programs(checks);

  int troubles = 0;
  for (const Check& check : checks) troubles += check.health == Health::trouble ? 1 : 0;
  if (options.json) {
    for (const Check& check : checks) {
      nlohmann::ordered_json line{
          {"type", "check"}, {"what", check.what}, {"health", word_of(check.health)}, {"finding", check.finding}};
      if (!check.mend.empty()) line["mend"] = check.mend;
      put_line(line.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace));
    }
    put_line(nlohmann::ordered_json{{"type", "doctor"}, {"checks", checks.size()}, {"troubles", troubles}}.dump());
  } else {
    Table table{{"", "what", "found"}};
    for (const Check& check : checks)
      table.add({check.health == Health::good ? "ok" : word_of(check.health), check.what, check.finding});
    put(table.text());
    bool heading = false;
    for (const Check& check : checks) {
      if (check.mend.empty()) continue;
      if (!heading) put_line("\nTo mend:");
      heading = true;
      put_line("  " + check.what + ": " + check.mend);
    }
    put_line(troubles == 0 ? "\nThis machine can do the work."
                           : fmt::format("\n{} to mend before the work.",
                                         troubles == 1 ? "One trouble" : fmt::format("{} troubles", troubles)));
  }
  return troubles == 0 ? 0 : 1;
}

}  // namespace switchwright::cli
