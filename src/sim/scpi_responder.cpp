// A bench meter that obeys SCPI-1999 over a line link. What a tool must be able to meet: a header after ';'
// is relative to the path of the one before, an unknown header answers nothing and queues -113, READ? takes
// as long as a conversion takes and whatever is sent meanwhile waits, over-range is +9.9E37 and queues no
// error.
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdlib>
#include <deque>
#include <utility>
#include <vector>

#include "sim/encoder.hpp"

namespace switchwright::sim {

namespace {

constexpr std::size_t longest_message = 4096;
constexpr std::size_t longest_error_queue = 20;
constexpr std::size_t most_units_waiting = 256;

std::string upper(std::string_view text) {
  std::string out{text};
  std::transform(out.begin(), out.end(), out.begin(), [](unsigned char c) { return std::toupper(c); });
  return out;
}

std::string_view trimmed(std::string_view text) {
  const auto is_space = [](unsigned char c) { return c <= ' '; };
  while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_space(text.back())) text.remove_suffix(1);
  return text;
}

std::vector<std::string> split(std::string_view text, char at) {
  std::vector<std::string> parts{""};
  bool quoted = false;
  for (const char c : text) {
    if (c == '"') quoted = !quoted;
    if (c == at && !quoted)
      parts.emplace_back();
    else
      parts.back() += c;
  }
  return parts;
}

/// `word` (upper case) is the short form (the capitals) or the long form of `keyword`, nothing between.
bool is_keyword(const std::string& word, std::string_view keyword) {
  std::string short_form;
  for (const char c : keyword)
    if (!std::islower(static_cast<unsigned char>(c))) short_form += c;
  return word == short_form || word == upper(keyword);
}

/// Header nodes against a pattern such as "SYSTem:ERRor[:NEXT]": a bracketed last or first node may be left
/// out.
bool matches(const std::vector<std::string>& nodes, std::string_view pattern) {
  std::vector<std::pair<std::string, bool>> wanted;  // keyword, optional
  for (std::string part : split(pattern, ':')) {
    const bool optional = part.find('[') != std::string::npos || part.find(']') != std::string::npos;
    std::erase_if(part, [](char c) { return c == '[' || c == ']'; });
    if (!part.empty()) wanted.emplace_back(part, optional);
  }
  std::size_t at = 0;
  for (const auto& [keyword, optional] : wanted) {
    if (at < nodes.size() && is_keyword(nodes[at], keyword))
      ++at;
    else if (!optional)
      return false;
  }
  return at == nodes.size();
}

struct Function {
  std::string_view header;      ///< as it follows CONFigure:
  std::string_view short_form;  ///< as FUNCtion? answers
  Quantity quantity;
};
constexpr Function functions[] = {
    {"VOLTage:[DC]", "VOLT", Quantity::voltage_dc},
    {"VOLTage:AC", "VOLT:AC", Quantity::voltage_ac},
    {"RESistance", "RES", Quantity::resistance},
    {"FRESistance", "FRES", Quantity::resistance_4_wire},
    {"CURRent:[DC]", "CURR", Quantity::current_dc},
    {"CURRent:AC", "CURR:AC", Quantity::current_ac},
    {"FREQuency", "FREQ", Quantity::frequency},
    {"CONTinuity", "CONT", Quantity::continuity},
    {"DIODe", "DIOD", Quantity::diode},
    {"CAPacitance", "CAP", Quantity::capacitance},
    {"TEMPerature", "TEMP", Quantity::temperature},
};

const Function* function_of(const std::vector<std::string>& nodes) {
  for (const Function& function : functions)
    if (matches(nodes, function.header)) return &function;
  return nullptr;
}

/// One unit of a program message, its header made absolute.
struct Unit {
  std::vector<std::string> nodes;  ///< upper case, without the question mark
  bool query = false;
  std::string header;  ///< as sent, for the error text
  std::string parameters;
  bool ends_message = false;
};

class ScpiResponder final : public Encoder {
 public:
  explicit ScpiResponder(const MeterDefinition& definition) : id_(definition.id) {}

  std::string asked(std::string_view bytes) override {
    for (const char c : bytes) {
      if (c != '\n') {
        received_ += c;
        continue;
      }
      if (received_.size() > longest_message)
        error(-363, "Input buffer overrun");
      else
        take_message(received_);
      received_.clear();
    }
    if (received_.size() > longest_message + 1) received_.resize(longest_message + 1);
    return run();
  }

  std::string shown(const Display& display) override {
    if (!measuring_) return {};
    measuring_ = false;
    last_ = text_of(display);
    if (wants_answer_) answers_.push_back(last_);
    if (wants_answer_) finish(units_.front());
    wants_answer_ = false;
    return run();
  }

  void reset() override {
    received_.clear();
    units_.clear();
    answers_.clear();
    measuring_ = wants_answer_ = false;
  }

  std::optional<Quantity> function() const override { return function_->quantity; }

 private:
  void take_message(std::string_view message) {
    if (trimmed(message).empty()) return;
    if (units_.size() > most_units_waiting) return error(-363, "Input buffer overrun");
    std::vector<std::string> path;
    const auto parts = split(message, ';');
    for (std::size_t i = 0; i < parts.size(); ++i) {
      std::string_view text = trimmed(parts[i]);
      const auto blank = std::min(text.find_first_of(" \t"), text.size());
      Unit unit;
      unit.header = text.substr(0, blank);
      unit.ends_message = i + 1 == parts.size();
      unit.parameters = trimmed(text.substr(blank));
      std::string header = upper(unit.header);
      if (!header.empty() && header.back() == '?') {
        unit.query = true;
        header.pop_back();
      }
      const bool common = header.starts_with("*");
      if (header.starts_with(":")) {
        path.clear();
        header.erase(0, 1);
      }
      if (!common) unit.nodes = path;
      for (const std::string& node : split(header, ':')) unit.nodes.push_back(node);
      if (!common && !header.empty()) path.assign(unit.nodes.begin(), unit.nodes.end() - 1);
      units_.push_back(std::move(unit));
    }
  }

  /// Obeys what is queued until a conversion is awaited; returns the complete answers.
  std::string run() {
    while (!units_.empty() && !wants_answer_) {
      obey(units_.front());
      if (!wants_answer_) finish(units_.front());
    }
    return std::exchange(out_, {});
  }

  void finish(const Unit& unit) {
    if (unit.ends_message && !answers_.empty()) {
      for (std::size_t i = 0; i < answers_.size(); ++i) out_ += (i > 0 ? ";" : "") + answers_[i];
      out_ += '\n';
      answers_.clear();
    }
    units_.pop_front();
  }

  void obey(const Unit& unit) {
    if (unit.header.empty()) return;
    const std::string& first = unit.nodes.front();
    if (first.starts_with("*")) return obey_common(unit, first);
    if (unit.query && matches(unit.nodes, "SYSTem:ERRor:[NEXT]")) return answers_.push_back(next_error());
    if (unit.query && matches(unit.nodes, "SYSTem:VERSion")) return answers_.push_back("1999.0");
    if (!unit.query && (matches(unit.nodes, "SYSTem:REMote") || matches(unit.nodes, "SYSTem:LOCal"))) return;
    if (unit.query && matches(unit.nodes, "READ")) return measure(true);
    if (!unit.query && matches(unit.nodes, "INITiate:[IMMediate]")) return measure(false);
    if (unit.query && matches(unit.nodes, "FETCh")) return fetch();
    if (matches(unit.nodes, "[SENSe]:FUNCtion")) return sense_function(unit);
    if (unit.query && matches(unit.nodes, "CONFigure"))
      return answers_.push_back(fmt::format("\"{}\"", function_->short_form));
    const bool configures = !unit.query && is_keyword(first, "CONFigure");
    const bool measures = unit.query && is_keyword(first, "MEASure");
    if (configures || measures)
      if (const Function* wanted = function_of({unit.nodes.begin() + 1, unit.nodes.end()})) {
        if (!configure(*wanted, unit.parameters) || configures) return;
        return measure(true);
      }
    error(-113, "Undefined header;" + unit.header);
  }

  void obey_common(const Unit& unit, const std::string& word) {
    if (unit.query && word == "*IDN") return answers_.push_back("Simulated,Bench meter " + id_ + ",0,1");
    if (unit.query && (word == "*OPC" || word == "*TST")) return answers_.push_back(word == "*OPC" ? "1" : "0");
    if (unit.query && (word == "*ESR" || word == "*STB" || word == "*ESE" || word == "*SRE"))
      return answers_.push_back("0");
    if (!unit.query && word == "*CLS") return errors_.clear();
    if (!unit.query && word == "*RST") {
      function_ = &functions[0];
      fixed_range_.reset();
      return;
    }
    if (!unit.query && (word == "*OPC" || word == "*WAI" || word == "*ESE" || word == "*SRE")) return;
    error(-113, "Undefined header;" + unit.header);
  }

  /// Range and resolution may follow; a number fixes the range, anything else leaves it to the meter.
  bool configure(const Function& wanted, const std::string& parameters) {
    const std::string range = upper(trimmed(split(parameters, ',').front()));
    std::optional<double> fixed;
    if (!range.empty() && range != "AUTO" && range != "DEF" && range != "MIN" && range != "MAX") {
      char* end = nullptr;
      const double value = std::strtod(range.c_str(), &end);
      if (*end != 0) return error(-104, "Data type error"), false;
      if (!(value > 0.0)) return error(-222, "Data out of range"), false;
      fixed = value;
    }
    function_ = &wanted;
    fixed_range_ = fixed;
    last_.clear();
    return true;
  }

  void sense_function(const Unit& unit) {
    if (unit.query) return answers_.push_back(fmt::format("\"{}\"", function_->short_form));
    std::string name = upper(unit.parameters);
    if (name.empty()) return error(-109, "Missing parameter");
    std::erase_if(name, [](char c) { return c == '"' || c == '\''; });
    if (const Function* wanted = function_of(split(name, ':'))) {
      function_ = wanted;
      fixed_range_.reset();
      return last_.clear();
    }
    error(-224, "Illegal parameter value");
  }

  void measure(bool answer) {
    measuring_ = true;
    wants_answer_ = answer;
  }

  /// Repeats the same data; while the meter is converting, waits for it.
  void fetch() {
    if (measuring_)
      wants_answer_ = true;
    else if (last_.empty())
      error(-230, "Data corrupt or stale");
    else
      answers_.push_back(last_);
  }

  std::string text_of(const Display& display) const {
    constexpr double overload = 9.9E37;
    constexpr double not_a_number = 9.91E37;
    double value = display.value();
    if (display.state == ReadingState::not_a_number) value = not_a_number;
    if (display.state == ReadingState::over_range) value = overload;
    if (fixed_range_ && display.state == ReadingState::finite && std::abs(value) > 1.2 * *fixed_range_)
      value = std::copysign(overload, value);
    return fmt::format("{:+.8E}", value);
  }

  void error(int code, std::string_view text) {
    if (errors_.size() < longest_error_queue)
      errors_.push_back(fmt::format("{},\"{}\"", code, text));
    else
      errors_.back() = "-350,\"Queue overflow\"";
  }

  std::string next_error() {
    if (errors_.empty()) return "0,\"No error\"";
    std::string first = std::move(errors_.front());
    errors_.pop_front();
    return first;
  }

  std::string id_;
  std::string received_;
  std::deque<Unit> units_;
  std::vector<std::string> answers_;  ///< of the message being obeyed
  std::string out_;
  std::deque<std::string> errors_;
  const Function* function_ = &functions[0];
  std::optional<double> fixed_range_;
  bool measuring_ = false;
  bool wants_answer_ = false;
  std::string last_;
};

}  // namespace

std::unique_ptr<Encoder> scpi_responder(const MeterDefinition& definition) {
  return std::make_unique<ScpiResponder>(definition);
}

}  // namespace switchwright::sim
