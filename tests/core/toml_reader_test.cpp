// The one way TOML is read. What a file may hold is said by whoever reads it; here: that every mistake has its place.
#include "core/toml_reader.hpp"

#include <doctest/doctest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <functional>

#include "switchwright/core/error.hpp"

namespace switchwright {
namespace {

using namespace toml_reader;
namespace fs = std::filesystem;

std::string complaint(const std::string& text, const std::function<void(Section&)>& read) {
  try {
    Mistakes mistakes("part.toml");
    const toml::table root = parse(text, mistakes);
    Section file(root, "the file", mistakes);
    read(file);
    file.finish();
    mistakes.throw_if_any();
  } catch (const Error& error) {
    CHECK(error.kind() == ErrorKind::usage);
    return error.what_happened();
  }
  return "";
}

struct Folder {
  Folder() {
    std::string name = (fs::temp_directory_path() / "switchwright-toml-XXXXXX").string();
    REQUIRE(::mkdtemp(name.data()) != nullptr);
    path = name;
  }
  ~Folder() { fs::remove_all(path); }
  fs::path path;
};

std::string refused(const fs::path& path) {
  try {
    (void)read_file(path, "a profile");
  } catch (const Error& error) {
    return error.what_happened();
  }
  return "";
}

}  // namespace

TEST_CASE("a table in a table is called by its whole path and a list by its number or its id") {
  CHECK(complaint("[a]\n[[a.b]]\nx = -1\n[[a.b]]\nid = \"second\"\nx = \"one\"\ncolour = 1\n",
                  [](Section& file) {
                    auto a = file.section("a", Need::required);
                    for (Section& b : a->sections("b", Need::required)) {
                      if (const auto id = b.word("id", Need::optional)) b.called(id->text);
                      (void)b.number("x", Need::required, above_zero);
                      b.finish();
                    }
                    a->finish();
                  }) ==
        "part.toml:3:5: expected a number above 0 for \"x\" in [[a.b]] number 1, saw -1\n"
        "part.toml:6:5: expected a number above 0 for \"x\" in [[a.b]] \"second\", saw the text \"one\"\n"
        "part.toml:7:1: expected a key of [[a.b]] \"second\", saw \"colour\"; known: id, x");
}

TEST_CASE("what is missing in an empty file is missing in its first line") {
  CHECK(complaint("",
                  [](Section& file) {
                    file.schema(1);
                    (void)file.section("link", Need::required);
                    (void)file.sections("part", Need::required);
                  }) ==
        "part.toml:1:1: expected the number 1 for \"schema\" in the file, saw nothing; add the line schema = ...\n"
        "part.toml:1:1: expected the table [link] in the file, saw none; add the line [link]\n"
        "part.toml:1:1: expected at least one [[part]] in the file, saw none");
}

TEST_CASE("a hostile text reaches no terminal and fills no line") {
  const std::string all =
      complaint("\"\\u001b[2J\" = 1\nword = \"" + std::string(500, 'x') + "\"\n", [](Section& file) {
        (void)file.choice("word", {"yes", "no"}, Need::required);
      });
  CHECK(all.find('\x1b') == std::string::npos);
  CHECK(all.find("xxx...\"") != std::string::npos);
  CHECK(all.size() < 300);
}

TEST_CASE("a wrong kind of value is named for what it is") {
  for (const auto& [value, said] :
       std::vector<std::pair<std::string, std::string>>{{"\"1\"", "saw the text \"1\""},
                                                        {"true", "saw true"},
                                                        {"[1]", "saw a list"},
                                                        {"{}", "saw a table"},
                                                        {"nan", "saw nan"},
                                                        {"inf", "saw inf"},
                                                        {"2026-01-31", "saw a date or time"}}) {
    CAPTURE(value);
    CHECK(complaint("x = " + value + "\n", [](Section& file) {
            (void)file.number("x", Need::required, any_number);
          }).find(said) != std::string::npos);
  }
}

TEST_CASE("a file that cannot be a small text is refused with the reason") {
  const Folder folder;
  CHECK(refused(folder.path / "none.toml") == "there is no such file, where a profile should be");
  CHECK(refused(folder.path) == "this is not a file");
  std::ofstream(folder.path / "long.toml") << std::string((1U << 20) + 1, '#');
  CHECK(refused(folder.path / "long.toml") == "a file of 1048577 bytes is too long for a profile");
  std::ofstream(folder.path / "short.toml") << "a = 1\n";
  CHECK(read_file(folder.path / "short.toml", "a profile") == "a = 1\n");
  CHECK(complaint("[link\n", [](Section&) {}).find("part.toml:1:") == 0);
}

}  // namespace switchwright
