#define DOCTEST_CONFIG_IMPLEMENT
#include <doctest/doctest.h>

#include <cstdlib>
#include <string>

#include "skip.hpp"

namespace {

bool left_something_out = false;
constexpr int skipped_code = 77;  // SKIP_RETURN_CODE of every C++ test (tests/CMakeLists.txt)

}  // namespace

void test::skip(const std::string& why) {
  left_something_out = true;
  MESSAGE("SKIPPED: " << why);
}

bool test::is_missing(const std::string& program, const std::string& package) {
  if (std::system(("command -v " + program + " >/dev/null 2>&1").c_str()) == 0) return false;
  skip(program + " is missing (Debian package " + package + ")");
  return true;
}

int main(int argc, char** argv) {
  doctest::Context context(argc, argv);
  const int result = context.run();
  if (result != 0 || !left_something_out) return result;
  // ctest runs one test case at a time; whoever runs a whole program by hand reads the messages.
  for (int i = 1; i < argc; ++i)
    if (std::string{argv[i]}.starts_with("--test-case=")) return skipped_code;
  return result;
}
