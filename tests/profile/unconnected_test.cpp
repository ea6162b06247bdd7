// A terminal that nothing inside joins must be said to be one: else a forgotten contact would pass for it.
#include <doctest/doctest.h>

#include <string>

#include "switchwright/core/error.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/library.hpp"

using namespace switchwright;

namespace {

std::string part(const std::string& unconnected, const std::string& rest) {
  return "schema = 1\ntitle = \"a part\"\nvalues = \"invented\"\n[rating]\nvoltage_v = 240\ncurrent_a = "
         "15\n[terminals]\n"
         "names = [\"A\", \"B\", \"X\"]\n" +
         unconnected + "[[position]]\nid = \"on\"\n" + rest +
         "[limits]\nclosed_max_ohm = 2.0\nsound_max_ohm = 0.1\nopen_min_ohm = 1e6\n";
}

constexpr const char* contact = "[[contact]]\nid = \"c\"\nbetween = [\"A\", \"B\"]\nclosed_at = [\"on\"]\n";

std::string refusal_of(const std::string& toml) {
  try {
    parse_profile(toml, "part.toml");
  } catch (const Error& error) {
    return error.what();
  }
  return {};
}

}  // namespace

TEST_CASE("a terminal that is said to be unconnected reads open to everything") {
  const Profile profile = parse_profile(part("unconnected = [\"X\"]\n", contact), "part.toml");
  CHECK(expectation(profile, "on", {"A", "X"}).state == PairState::open);
  CHECK(expectation(profile, "on", {"A", "B"}).state == PairState::closed);
}

TEST_CASE("a terminal without a contact that is not said to be unconnected is a mistake that names both ways out") {
  const std::string text = refusal_of(part("", contact));
  CHECK(text.find("\"X\"") != std::string::npos);
  CHECK(text.find("unconnected") != std::string::npos);
}

TEST_CASE("unconnected terminals that are joined or unknown are mistakes") {
  CHECK(refusal_of(part("unconnected = [\"X\", \"A\"]\n", contact)).find("\"A\"") != std::string::npos);
  CHECK(refusal_of(part("unconnected = [\"Y\", \"X\"]\n", contact)).find("\"Y\"") != std::string::npos);
}

TEST_CASE("a part with nothing in it must say so of every terminal") {
  CHECK(parse_profile(part("unconnected = [\"A\", \"B\", \"X\"]\n", ""), "part.toml").contacts.empty());
  CHECK_FALSE(refusal_of(part("", "")).empty());
  CHECK_FALSE(refusal_of(part("unconnected = [\"A\"]\n", "")).empty());
}
