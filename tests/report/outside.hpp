// Reference programs that check what the exporters write.
#pragma once

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include "skip.hpp"

namespace outside {

struct Result {
  int code = -1;
  std::string output;  ///< standard output and error
};

inline Result run(const std::string& command) {
  Result result;
  FILE* pipe = ::popen(("( " + command + " ) 2>&1").c_str(), "r");
  if (pipe == nullptr) return result;
  char buffer[4096];
  for (std::size_t n; (n = std::fread(buffer, 1, sizeof buffer, pipe)) > 0;) result.output.append(buffer, n);
  const int status = ::pclose(pipe);
  result.code = status == -1 ? -1 : status / 256;
  return result;
}

inline bool there(const std::string& program) { return run("command -v " + program).code == 0; }

/// The pixels of a page as pdftoppm writes them (binary PPM): red, green, blue, one byte each.
inline std::string pixels_of(const std::filesystem::path& ppm) {
  std::ifstream in(ppm, std::ios::binary);
  std::string magic;
  std::size_t width = 0, height = 0;
  int most = 0;
  in >> magic >> width >> height >> most;
  in.get();
  return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace outside

/// Ends the test case, saying so, when a reference program is missing.
#define REQUIRE_PROGRAM(program, package) \
  if (test::is_missing(program, package)) return
