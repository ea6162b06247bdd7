#include "spice.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <set>

#include "skip.hpp"

namespace switchwright::reference {

namespace {

/// The nodes that finite resistors join to `start`.
std::set<std::string> reachable(const std::vector<Resistor>& resistors, const std::string& start) {
  std::set<std::string> found{start};
  for (bool grew = true; grew;) {
    grew = false;
    for (const Resistor& r : resistors)
      if (std::isfinite(r.ohm) && found.contains(r.from) != found.contains(r.to)) {
        found.insert(r.from);
        found.insert(r.to);
        grew = true;
      }
  }
  return found;
}

}  // namespace

bool has_ngspice() { return !test::is_missing("ngspice", "ngspice"); }

std::vector<double> ngspice_values(const std::string& elements, const std::vector<std::string>& expressions) {
  static int run = 0;
  const std::string stem = fmt::format("{}/ngspice-{}-{}", BINARY_DIR, getpid(), ++run);
  {
    std::ofstream deck(stem + ".cir");
    deck << "reference\n" << elements << ".options gmin=1e-30 reltol=1e-12\n.control\nset numdgt=15\nop\n";
    for (const std::string& expression : expressions) deck << "print " << expression << "\n";
    deck << ".endc\n.end\n";
  }
  const int status = std::system(fmt::format("ngspice -b {0}.cir >{0}.out 2>/dev/null", stem).c_str());
  std::ifstream file(stem + ".out");
  std::vector<double> values;
  for (std::string line; std::getline(file, line);) {
    const auto equals = line.find(" = ");
    if (equals != std::string::npos && (line.starts_with("v(") || line.starts_with("i(") || line.starts_with("-")))
      values.push_back(std::strtod(line.c_str() + equals + 3, nullptr));
  }
  CAPTURE(stem);
  CAPTURE(status);
  REQUIRE(values.size() == expressions.size());
  std::filesystem::remove(stem + ".cir");
  std::filesystem::remove(stem + ".out");
  return values;
}

std::vector<double> ngspice_ohm(const std::vector<Question>& questions) {
  std::string elements;
  std::vector<std::string> expressions;
  for (std::size_t q = 0; q < questions.size(); ++q) {
    const Question& question = questions[q];
    const std::set<std::string> in_play = reachable(question.resistors, question.b);
    REQUIRE(in_play.contains(question.a));
    std::map<std::string, std::string> name;
    for (const std::string& node : in_play) name[node] = fmt::format("q{}n{}", q, name.size());
    name.insert_or_assign(question.b, std::string(1, '0'));  // ground
    int part = 0;
    for (const Resistor& r : question.resistors) {
      if (!std::isfinite(r.ohm) || !in_play.contains(r.from) || r.from == r.to) continue;
      // 0 ohm is not a resistor to the reference program; a source of 0 V is the same thing.
      const char kind = r.ohm == 0.0 ? 'V' : 'R';
      elements += fmt::format("{}{}x{} {} {} {}\n", kind, q, part++, name[r.from], name[r.to], r.ohm);
    }
    elements += fmt::format("I{} 0 {} 1\n", q, name[question.a]);
    expressions.push_back(fmt::format("v({})", name[question.a]));
  }
  return ngspice_values(elements, expressions);
}

}  // namespace switchwright::reference
