// The marks of a display by name, and where a chip puts them: the encoder's view of the same "BYTE.BIT" =
// "word" table of the meter definition that the decoder reads.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/display.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright::sim {

/// Everything lit beside the digits, in the words of the meter definitions: "ohm", "kilo", "auto", "minus",
/// ...
std::vector<std::string> marks_of(const Display& display);

/// The table, empty when the definition has none of that name.
const std::map<std::string, std::string>& table_of(const MeterDefinition& definition, std::string_view name);

class MarkTable {
 public:
  explicit MarkTable(const std::map<std::string, std::string>& symbols);
  /// Calls `light(byte name, bit)` for each mark the chip has; a mark it has not is not lit.
  void light(const std::vector<std::string>& marks,
             const std::function<void(const std::string& byte, unsigned bit)>& light) const;

 private:
  struct Place {
    std::string byte;
    unsigned bit = 0;
  };
  std::map<std::string, Place> places_;
};

}  // namespace switchwright::sim
