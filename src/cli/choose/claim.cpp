#include "cli/choose/claim.hpp"

#include <pwd.h>
#include <toml++/toml.h>
#include <unistd.h>

#include <ctime>
#include <fstream>
#include <sstream>

#include "cli/choose/choices.hpp"
#include "cli/choose/places.hpp"
#include "cli/output.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

namespace {

struct Question {
  const char* key;
  const char* words;
  std::string Claim::*member;
};
constexpr Question questions[] = {
    {"appliance", "Appliance model", &Claim::appliance},
    {"appliance_serial", "Appliance serial number", &Claim::appliance_serial},
    {"date_code", "Date code on the part", &Claim::date_code},
    {"supplier", "Supplier", &Claim::supplier},
    {"lot", "Supplier's lot", &Claim::lot},
    {"remark", "Customer's remark", &Claim::remark},
};

std::filesystem::path orders_file() { return bench_file().parent_path() / "orders.toml"; }

toml::table known_orders() {
  if (!std::filesystem::exists(orders_file())) return {};
  try {
    return toml::parse_file(orders_file().string());
  } catch (const toml::parse_error&) {
    say(orders_file().string() + " cannot be read; what is known of orders is not offered");
    return {};
  }
}

void remember_order(toml::table orders, const Claim& claim) {
  toml::table order;
  for (const Question& question : questions)
    if (!(claim.*question.member).empty()) order.insert_or_assign(question.key, claim.*question.member);
  orders.insert_or_assign(claim.order, order);
  std::ostringstream text;
  text
      << "# What was said of each work order or claim; offered again for the same order alone. Safe to edit or delete.\n"
      << orders << "\n";
  try {
    std::error_code ignored;
    std::filesystem::create_directories(orders_file().parent_path(), ignored);
    write_file_durably(orders_file().string(), text.str());
  } catch (const Error&) {
    say("What was said of the order could not be remembered in " + orders_file().string() +
        "; the work is not affected.");
  }
}

}  // namespace

Claim chosen_claim(const ClaimOptions& given) {
  Claim claim{given.order, given.appliance, given.appliance_serial, given.date_code, given.supplier,
              given.lot,   given.remark};
  if (given.ask && interactive()) {
    put_line("\nFor the claim; an empty answer leaves it out.");
    if (claim.order.empty()) claim.order = ask_line("Work order or claim number: ");
    const toml::table orders = claim.order.empty() ? toml::table{} : known_orders();
    const toml::table* known = orders[claim.order].as_table();
    for (const Question& question : questions) {
      std::string& answer = claim.*question.member;
      if (!answer.empty()) continue;
      const std::string offered = known == nullptr ? "" : (*known)[question.key].value_or(std::string{});
      answer = ask_line(std::string(question.words) +
                        (offered.empty() ? "" : " [" + terminal_safe(offered) + ", - for none]") + ": ");
      if (answer.empty()) answer = offered;
      if (answer == "-") answer.clear();
    }
    if (!claim.order.empty()) remember_order(orders, claim);
  }
  return claim;
}

std::string named_operator(const std::string& given) {
  if (!given.empty()) return given;
  const passwd* account = ::getpwuid(::geteuid());
  return account != nullptr && account->pw_name != nullptr ? std::string(account->pw_name) + " (login name)"
                                                           : "user number " + std::to_string(::geteuid());
}

void stamp_zone(RecordHeader& header) {
  const std::time_t at = std::chrono::system_clock::to_time_t(header.started);
  std::tm local{};
  if (::localtime_r(&at, &local) == nullptr) return;
  header.utc_offset_min = static_cast<int>(local.tm_gmtoff / 60);
  header.zone = local.tm_zone == nullptr ? "" : local.tm_zone;
}

}  // namespace switchwright::cli
