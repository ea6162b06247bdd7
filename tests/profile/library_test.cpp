#include "switchwright/profile/library.hpp"

#include <doctest/doctest.h>

#include <random>
#include <string>

#include "switchwright/core/error.hpp"
#include "switchwright/profile/expectation.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/powered.hpp"

using namespace switchwright;

namespace {

const std::filesystem::path shipped = std::filesystem::path(SOURCE_DIR) / "profiles";

/// A whole and sound profile; tests change a part of it. Line numbers in the tests count from its first line.
const std::string sound_profile = R"(schema = 1
title = "demo"
values = "invented"
[rating]
voltage_v = 240
current_a = 15
[terminals]
names = ["A", "B"]
exposed_metal = ["CASE"]
[[position]]
id = "off"
angle_deg = 0
[[position]]
id = "on"
angle_deg = 90
[[contact]]
id = "main"
between = ["A", "B"]
closed_at = ["on"]
[limits]
closed_max_ohm = 2
sound_max_ohm = 0.1
open_min_ohm = 1e6
)";

std::string changed(const std::string& from, const std::string& to) {
  std::string text = sound_profile;
  const auto at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

std::string mistakes_of(const std::string& toml) {
  try {
    parse_profile(toml, "demo.toml");
  } catch (const Error& error) {
    CHECK(error.kind() == ErrorKind::usage);
    return error.what();
  }
  return {};
}

}  // namespace

TEST_CASE("a sound profile loads and keeps the text it came from") {
  const Profile profile = parse_profile(sound_profile, "some/where/demo.toml");
  CHECK(profile.id == "demo");
  CHECK(profile.source_text == sound_profile);
  CHECK(profile.knob == "knob");
  CHECK(profile.positions.at(1).label == "on");
  CHECK(profile.rating.current_a == 15);
  CHECK(profile.pairs().size() == 3);
  CHECK(profile.is_exposed_metal("CASE"));
  CHECK(profile.contacts.at(0).conducts_at("on"));
  CHECK_FALSE(profile.contacts.at(0).conducts_at("off"));
}

TEST_CASE("every shipped profile loads") {
  const auto ids = list_profiles({shipped});
  CHECK(ids.size() >= 3);
  for (const std::string& id : ids) {
    CAPTURE(id);
    const Profile profile = load_profile(id, {shipped});
    CHECK(profile.id == id);
    CHECK(profile.values.find("invented") != std::string::npos);
  }
}

TEST_CASE("each mistake is named at its line with what was expected") {
  struct Row {
    const char* from;
    const char* to;
    const char* message;
  };
  const Row rows[] = {
      {"schema = 1", "schema = 2", "demo.toml:1:10: expected the number 1 for \"schema\" in the profile, saw 2"},
      {"title = \"demo\"\n", "", "expected a text in quotes for \"title\" in the profile, saw nothing"},
      {"voltage_v = 240", "voltage_v = -240", "demo.toml:5:13: expected a number above 0"},
      {"voltage_v = 240", "voltage_v = nan", "demo.toml:5:13: expected a number above 0"},
      {"voltage_v = 240", "voltage_v = \"240\"", "demo.toml:5:13: expected a number above 0"},
      {"voltage_v", "voltage",
       "demo.toml:5:1: expected a key of [rating], saw \"voltage\"; did you mean \"voltage_v\"?"},
      {"names = [\"A\", \"B\"]", "names = [\"A\", \"B\", \"C\"]",
       "demo.toml:8:20: expected a contact or element at every terminal, saw none at \"C\""},
      {"names = [\"A\", \"B\"]", "names = [\"A\", \"B\", \"B\"]",
       "demo.toml:8:20: expected each name once in \"names\" of [terminals], saw \"B\" twice"},
      {"exposed_metal = [\"CASE\"]", "exposed_metal = [\"A\"]",
       "demo.toml:9:18: expected each terminal name once, saw \"A\" again; the first is in line 8"},
      {"names = [\"A\", \"B\"]", "names = [\"A\", \"B-1\"]", "without \"-\", saw \"B-1\""},
      {"id = \"on\"", "id = \"off\"",
       "demo.toml:14:6: expected each position name once, saw \"off\" again; the first is in line 11"},
      {"angle_deg = 90", "angle_deg = 0", "demo.toml:15:13: expected an angle above the 0 of \"off\" before it, saw 0"},
      {"angle_deg = 90", "angle_deg = -90", "demo.toml:15:13: expected an angle above"},
      {"between = [\"A\", \"B\"]", "between = [\"A\", \"A\"]",
       "demo.toml:18:11: expected two different terminals for \"between\" in [[contact]] \"main\", saw \"A\" "
       "twice"},
      {"between = [\"A\", \"B\"]", "between = [\"A\", \"B1\"]",
       "demo.toml:18:17: expected a terminal, saw \"B1\"; did you mean \"B\"?"},
      {"between = [\"A\", \"B\"]", "between = [\"A\"]", "demo.toml:18:11: expected two terminals"},
      {"closed_at = [\"on\"]", "closed_at = [\"om\"]",
       "demo.toml:19:14: expected a position for \"closed_at\" in [[contact]] \"main\", saw \"om\"; did you "
       "mean \"on\"?"},
      {"closed_at = [\"on\"]", "closed_at = [\"on\"]\ncycles_at = [\"on\"]",
       "demo.toml:20:13: expected [[contact]] \"main\" either closed or cycling at \"on\", saw both"},
      {"closed_at = [\"on\"]\n", "",
       "demo.toml:16:1: expected closed_at or cycles_at in [[contact]] \"main\", saw neither"},
      {"closed_at = [\"on\"]", "closed_at = []",
       "demo.toml:19:13: expected a position where [[contact]] \"main\" is closed, saw none"},
      {"closed_at = [\"on\"]", "closed_at = [\"on\"]\nnever_opens = true",
       "demo.toml:20:15: expected every position in closed_at of [[contact]] \"main\", since it never opens, saw 1 of 2"},
      {"open_min_ohm = 1e6", "open_min_ohm = 2",
       "demo.toml:23:16: expected open_min_ohm above closed_max_ohm (2), saw 2"},
      {"sound_max_ohm = 0.1", "sound_max_ohm = 3",
       "demo.toml:22:17: expected sound_max_ohm not above closed_max_ohm (2), saw 3"},
      {"[limits]",
       "[[element]]\nid = \"coil\"\nbetween = [\"A\", \"B\"]\nnominal_ohm = 0\ntolerance_pct = 10\n[limits]",
       "demo.toml:23:15: expected an ohm value above 0 for \"nominal_ohm\" in [[element]] \"coil\", saw 0"},
      {"[limits]",
       "[[element]]\nid = \"main\"\nbetween = [\"A\", \"B\"]\nnominal_ohm = 9\ntolerance_pct = 10\n[limits]",
       "demo.toml:21:6: expected each contact or element name once, saw \"main\" again; the first is in line "
       "17"},
      {"[limits]", "[[timing]]\nposition = \"on\"\non_s = [5, 2]\n[limits]",
       "demo.toml:22:8: expected max not below min for \"on_s\" in [[timing]] number 1, saw [5, 2]"},
      {"[limits]", "[[timing]]\nposition = \"on\"\n[limits]",
       "demo.toml:21:12: expected a position where some contact cycles, saw \"on\""},
      {"[limits]", "[[timing]]\nposition = \"on\"\nduty = [0.5, 1.5]\n[limits]", "each a fraction from 0 to 1"},
      {"[limits]", "[[not_checked]]\npair = [\"A\", \"B\"]\n[limits]", "expected a text in quotes for \"reason\""},
      {"[limits]", "[[inspect]]\nask = \"clean?\"\nseverity = \"mayor\"\n[limits]",
       "demo.toml:22:12: expected one of \"critical\", \"major\", \"minor\" for \"severity\" in [[inspect]] number 1, saw "
       "\"mayor\"; did you mean "
       "\"major\"?"},
      {"[[contact]]", "[contact]", "expected tables headed [[contact]], with two brackets, saw a table"},
      {"title = \"demo\"", "title = \"demo", "demo.toml:2:"},
  };
  for (const Row& row : rows) {
    const std::string message = mistakes_of(changed(row.from, row.to));
    CAPTURE(row.to);
    CAPTURE(message);
    CHECK(message.find(row.message) != std::string::npos);
  }
}

TEST_CASE("ten mistakes in one file are named in one message in the order of their lines") {
  const std::string message = mistakes_of(R"(schema = 1
title = 5
values = "invented"
[rating]
voltage_v = 0
current = 15
[terminals]
names = ["A", "B", "B"]
[[position]]
id = "off"
angle_deg = 0
[[position]]
id = "off"
angle_deg = 90
[[contact]]
id = "main"
between = ["A", "A"]
closed_at = ["onn"]
[[element]]
id = "heater"
between = ["A", "B"]
nominal_ohm = -5
tolerance_pct = 15
[limits]
closed_max_ohm = 2
sound_max_ohm = 3
open_min_ohm = 1
)");
  CAPTURE(message);
  const char* in_order[] = {
      "demo.toml:2:9: expected a text in quotes for \"title\"",
      "demo.toml:4:1: expected a number above 0 for \"current_a\"",
      "demo.toml:5:13: expected a number above 0 for \"voltage_v\"",
      "demo.toml:6:1: expected a key of [rating], saw \"current\"",
      "demo.toml:8:20: expected each name once",
      "demo.toml:13:6: expected each position name once",
      "demo.toml:17:11: expected two different terminals",
      "demo.toml:18:14: expected a position for \"closed_at\"",
      "demo.toml:22:15: expected an ohm value above 0",
      "demo.toml:26:17: expected sound_max_ohm not above closed_max_ohm",
      "demo.toml:27:16: expected open_min_ohm above closed_max_ohm",
  };
  std::size_t from = 0;
  for (const char* line : in_order) {
    CAPTURE(line);
    const auto at = message.find(line, from);
    REQUIRE(at != std::string::npos);
    from = at;
  }
}

TEST_CASE("an unknown profile is answered with near names") {
  try {
    load_profile("regulator-shunt-204", {shipped});
    FAIL("loaded");
  } catch (const Error& error) {
    CHECK(error.kind() == ErrorKind::usage);
    CHECK(std::string(error.what()).find("no profile is called \"regulator-shunt-204\"") != std::string::npos);
    CHECK(std::string(error.what()).find("did you mean \"regulator-shunt-2") != std::string::npos);
  }
}

TEST_CASE("a path that cannot be read is one clear error") {
  for (const char* path : {"/no/such/part.toml", "/dev/null/part.toml", SOURCE_DIR "/profiles/"}) {
    CAPTURE(path);
    CHECK_THROWS_AS(load_profile(path, {}), Error);
  }
}

TEST_CASE("text that is no profile is refused without a crash") {
  for (const char* text :
       {"", "=", "[[[", "schema = ", "position = 3", "contact = [1, 2]", "limits = []", "terminals = [[1]]",
        "\xff\xfe\x00", "schema = 1e400", "inspect = \"x\"", "terminals.names = [\"\x1b[2J\"]"}) {
    CAPTURE(text);
    const std::string message = mistakes_of(text);
    CHECK_FALSE(message.empty());
    CHECK(message.find('\x1b') == std::string::npos);
  }
}

TEST_CASE("internal points carry current and no probe reaches them") {
  const Profile profile = load_profile("regulator-series-240", {shipped});
  CHECK(profile.internal == std::vector<std::string>{"BIMETAL"});
  for (const Pair& pair : profile.pairs()) CHECK_FALSE(pair.has("BIMETAL"));
  CHECK(profile.network_nodes().size() == profile.nodes().size() + 1);
}

TEST_CASE("a terminal that is left out leaves out all its pairs") {
  const Profile profile = load_profile("contactor-two-pole", {shipped});
  for (const Expectation& expected : expectations(profile)) {
    CAPTURE(expected.position);
    CAPTURE(expected.pair.text());
    const bool coil = expected.pair.has("A1") || expected.pair.has("A2");
    CHECK((expected.state == PairState::not_checked) == (coil && expected.position == "energised"));
  }
}

TEST_CASE("what a fault means is found for its very value or for any") {
  const Profile profile = load_profile("regulator-shunt-240", {shipped});
  const auto meaning = [&](const char* text) {
    const Consequence* found = consequence_of(profile, parse_fault(text, profile));
    return found ? found->means : std::string{};
  };
  CHECK(meaning("stuck-closed:cycling").find("Full heat") == 0);
  CHECK(meaning("resistive:line=5").find("Heat at the line terminal") == 0);
  CHECK(meaning("clocked=2").find("The knob sits") == 0);
  CHECK(meaning("swapped:L1,P").empty());
}

TEST_CASE("every shipped profile says what each of its contacts stuck closed means") {
  for (const std::string& id : list_profiles({shipped})) {
    const Profile profile = load_profile(id, {shipped});
    for (const Contact& contact : profile.contacts) {
      CAPTURE(id);
      CAPTURE(contact.id);
      CHECK(consequence_of(profile, {FaultKind::stuck_closed, contact.id, {}, {}}) != nullptr);
    }
  }
}

TEST_CASE("mistakes in the later parts are named too") {
  struct Row {
    const char* added;
    const char* message;
  };
  const Row rows[] = {
      {"[[consequence]]\nfault = \"stuck-closed:mian\"\nmeans = \"x\"\n", "did you mean \"main\"?"},
      {"[[consequence]]\nfault = \"stuck-closed:main\"\n", "expected a text in quotes for \"means\""},
      {"[[not_checked]]\nterminal = \"C\"\nreason = \"x\"\n", "demo.toml:25:12: expected a terminal, saw \"C\""},
      {"[[not_checked]]\nterminal = \"A\"\npair = [\"A\", \"B\"]\nreason = \"x\"\n", "either pair or terminal"},
      {"[[not_checked]]\nreason = \"x\"\n", "expected a list of texts in quotes for \"pair\""},
  };
  for (const Row& row : rows) {
    const std::string message = mistakes_of(sound_profile + row.added);
    CAPTURE(row.added);
    CAPTURE(message);
    CHECK(message.find(row.message) != std::string::npos);
  }
}

TEST_CASE("positions without angles keep the order of the file") {
  const Profile profile = load_profile("interlock-door", {shipped});
  CHECK(profile.knob == "door");
  CHECK(profile.positions.at(0).id == "open");
  CHECK(profile.positions.at(0).angle_deg < profile.positions.at(1).angle_deg);
}

TEST_CASE("a profile damaged at random is refused or read and never crashes") {
  std::mt19937 random(16);
  const std::string pieces[] = {"\"",    "[",   "]",           "=",  "\n",   "0", "-1",
                                "1e300", "nan", "[[contact]]", "L1", "\x01", "#", ","};
  for (const std::string& id : list_profiles({shipped})) {
    const std::string sound = load_profile(id, {shipped}).source_text;
    for (int i = 0; i < 150; ++i) {
      std::string text = sound;
      for (std::size_t n = 1 + random() % 3; n > 0; --n) {
        const std::size_t at = random() % text.size();
        if (random() % 2)
          text.replace(at, random() % 8, pieces[random() % std::size(pieces)]);
        else
          text.erase(at, random() % 40);
      }
      try {
        const Profile profile = parse_profile(text, "demo.toml");
        CHECK(expectations(profile).size() == profile.pairs().size() * profile.positions.size());
        if (profile.powered) voltage_expectations(profile);
      } catch (const Error& error) {
        CHECK(error.kind() == ErrorKind::usage);
      }
    }
  }
}
