// A circuit simulator (Debian package ngspice) as the reference for networks. Many small circuits go into one
// run.
#pragma once

#include <string>
#include <vector>

#include "switchwright/profile/network.hpp"

namespace switchwright::reference {

/// Whether the program is there; when not, prints SKIPPED with the package's name.
bool has_ngspice();

/// One question: the resistance between two nodes of a circuit that connects them.
struct Question {
  std::vector<Resistor> resistors;
  std::string a;
  std::string b;
};

/// Answers in ohm, from one run: a current of 1 A through each pair and the voltage across it.
std::vector<double> ngspice_ohm(const std::vector<Question>& questions);

/// Runs a netlist body (elements only) and returns the values of the expressions, in order.
std::vector<double> ngspice_values(const std::string& elements, const std::vector<std::string>& expressions);

}  // namespace switchwright::reference
