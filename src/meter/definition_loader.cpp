// From a TOML file to a MeterDefinition, with every mistake of the file at once.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/toml_reader.hpp"
#include "meter/correction_toml.hpp"
#include "meter/decode/decoder_kind.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/core/words.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

namespace {

using toml_reader::above;
using toml_reader::between;
using toml_reader::in_quotes;
using toml_reader::Need;
using toml_reader::saw;
using toml_reader::Section;

constexpr int schema_known = 1;
/// Speeds that an operating system sets without tricks; 19230 and the like are refused by it much later.
constexpr int speeds[] = {50,     75,     110,     134,     150,     200,     300,     600,     1200,    1800,
                          2400,   4800,   9600,    19200,   38400,   57600,   115200,  230400,  460800,  500000,
                          576000, 921600, 1000000, 1152000, 1500000, 2000000, 2500000, 3000000, 3500000, 4000000};

class Loader {
 public:
  Loader(const std::string& text, const std::filesystem::path& path)
      : mistakes_(path), root_(toml_reader::parse(text, mistakes_)), file_(root_, "the definition", mistakes_) {}

  MeterDefinition load() {
    head();
    link();
    decoder();
    poll();
    commands();
    functions();
    if (definition_.decoder.kind == "scpi" && definition_.poll && definition_.functions.empty())
      mistakes_.add(file_.at(),
                    "expected a [[function]] for each quantity, saw none: the numbers of this "
                    "language carry no unit");
    accuracy();
    temperature();
    corrections();
    file_.finish();
    mistakes_.throw_if_any();
    return std::move(definition_);
  }

 private:
  template <typename To, typename From>
  static void put(To& to, const std::optional<From>& from) {
    if (from) to = static_cast<To>(*from);
  }

  void head() {
    file_.schema(schema_known);
    definition_.schema = schema_known;
    put(definition_.title, file_.text("title", Need::required));
    put(definition_.provenance, file_.text("provenance", Need::required));
    put(definition_.voltage_input_ohm, file_.number("voltage_input_ohm", Need::optional, above(1.0, 1e12)));
    put(definition_.update_rate_hz, file_.number("update_rate_hz", Need::optional, above(0.0, 1000.0)));
  }

  void link() {
    auto table = file_.section("link", Need::optional);
    if (!table) return;  // 9600 8N1, as LinkSettings says
    LinkSettings& link = definition_.link;
    if (const auto baud = table->whole("baud", Need::optional, 50, 4000000)) {
      link.baud = static_cast<int>(*baud);
      check_speed(table->at("baud"), link.baud);
    }
    put(link.data_bits, table->whole("data_bits", Need::optional, 5, 8));
    put(link.stop_bits, table->whole("stop_bits", Need::optional, 1, 2));
    if (const auto parity = table->choice("parity", {"none", "odd", "even"}, Need::optional))
      link.parity = parity->text == "odd" ? Parity::odd : parity->text == "even" ? Parity::even : Parity::none;
    if (const auto dtr = table->truth("dtr")) link.dtr = dtr;
    if (const auto rts = table->truth("rts")) link.rts = rts;
    put(link.silent_after_s, table->number("silent_after_s", Need::optional, above(0.0, 3600.0)));
    table->finish();
  }

  void check_speed(const toml::source_region& at, int baud) {
    if (std::find(std::begin(speeds), std::end(speeds), baud) != std::end(speeds)) return;
    const auto nearer = [baud](int a, int b) { return std::abs(a - baud) < std::abs(b - baud); };
    const int nearest = *std::min_element(std::begin(speeds), std::end(speeds), nearer);
    mistakes_.add(at, fmt::format("expected a usual speed for baud, saw {}; did you mean {}?", baud, nearest));
  }

  void decoder() {
    auto table = file_.section("decoder", Need::required);
    if (!table) return;
    const auto kind = table->choice("kind", decoder_kinds(), Need::required);
    bool sound = true;
    for (const auto& [key, node] : table->table())
      if (key.str() != "kind") sound = setting(std::string(key.str()), node) && sound;
    if (!kind) return;
    definition_.decoder.kind = kind->text;
    if (!sound) return;
    for (const SettingProblem& problem : check_settings(*decoder_kind(kind->text), definition_.decoder))
      mistakes_.add(place_of(table->table(), problem), problem.text);
  }

  /// An option (kept as text) or a table of texts. False when it is neither.
  bool setting(const std::string& name, const toml::node& node) {
    if (const auto text = option_text(node)) {
      definition_.decoder.options[name] = *text;
      return true;
    }
    const toml::table* table = node.as_table();
    if (!table) {
      mistakes_.add(node.source(), fmt::format("expected a value or a table for {}, saw {}", name, saw(node)));
      return false;
    }
    bool sound = true;
    auto& entries = definition_.decoder.tables[name];
    for (const auto& [key, value] : *table) {
      if (const auto text = option_text(value)) {
        entries[std::string(key.str())] = *text;
        continue;
      }
      const char* hint = value.is_table() ? "; a key with a point must stand in quotes" : "";
      mistakes_.add(value.source(),
                    fmt::format("expected a text for {}.{}, saw {}{}", name, key.str(), saw(value), hint));
      sound = false;
    }
    return sound;
  }

  static std::optional<std::string> option_text(const toml::node& node) {
    if (const auto* text = node.as_string()) return text->get();
    if (node.is_integer() || node.is_boolean() || node.is_floating_point()) return saw(node);
    return std::nullopt;
  }

  static toml::source_region place_of(const toml::table& decoder, const SettingProblem& problem) {
    const toml::node* node = &decoder;
    if (!problem.table.empty()) {
      const toml::node* table = decoder.get(problem.table);
      if (table) node = table;
    }
    if (!problem.key.empty())
      if (const toml::table* table = node->as_table())
        if (const toml::node* entry = table->get(problem.key)) node = entry;
    return node->source();
  }

  void poll() {
    auto table = file_.section("poll", Need::optional);
    if (!table) return;
    PollSettings poll;
    put(poll.request, table->text("request", Need::required));
    put(poll.every_s, table->number("every_s", Need::optional, between(0.0, 3600.0)));
    put(poll.timeout_s, table->number("timeout_s", Need::optional, above(0.0, 600.0)));
    table->finish();
    definition_.poll = poll;
  }

  void commands() {
    auto table = file_.section("commands", Need::optional);
    if (!table) return;
    definition_.start_commands = table->texts("start", Need::optional);
    definition_.stop_commands = table->texts("stop", Need::optional);
    if (table->has("function_query")) definition_.function_queries = table->texts("function_query", Need::optional);
    table->finish();
  }

  void functions() {
    for (Section& table : file_.sections("function", Need::optional)) {
      FunctionCommands function;
      const auto selected = read_quantity(table);
      put(function.quantity, selected);
      const bool has_request = table.has("request");
      function.send = table.texts("send", has_request ? Need::optional : Need::required);
      put(function.request, table.text("request", Need::optional));
      put(function.range, table.number("range", Need::optional, above(0.0, 1e12)));
      if (has_request && !definition_.poll)
        mistakes_.add(table.at("request"), "expected the table [poll] with a request of a function, saw none");
      function.is = table.texts("is", Need::optional);
      fill_in_range(table, function);
      if (selected && definition_.selects(*selected))
        mistakes_.add(table.at("quantity"),
                      fmt::format("expected each quantity once in [[function]], saw {} again", name_of(*selected)));
      table.finish();
      definition_.functions.push_back(std::move(function));
    }
  }

  /// Puts the range where the commands say {range}; each needs the other.
  void fill_in_range(const Section& table, FunctionCommands& function) {
    constexpr std::string_view mark = "{range}";
    const std::string number = function.range ? fmt::format("{:g}", *function.range) : "";
    bool used = false;
    const auto fill = [&](std::string& text) {
      for (std::size_t at; (at = text.find(mark)) != std::string::npos; used = true)
        text.replace(at, mark.size(), number);
    };
    for (std::string& command : function.send) fill(command);
    fill(function.request);
    if (used && !function.range)
      mistakes_.add(table.at(), "expected a range for the {range} in the commands, saw none");
    if (!used && function.range)
      mistakes_.add(table.at("range"), "expected {range} in send or request, since a range is given, saw none");
  }

  void temperature() {
    auto table = file_.section("temperature", Need::optional);
    if (!table) return;
    TemperatureRange& range = definition_.temperature;
    put(range.from_c, table->number("from_c", Need::optional, between(-60.0, 100.0)));
    put(range.to_c, table->number("to_c", Need::optional, between(-60.0, 100.0)));
    const auto share = table->number("share_per_kelvin", Need::required, between(0.0, 10.0));
    put(range.share_per_kelvin, share);
    range.given = share.has_value();
    if (range.to_c <= range.from_c)
      mistakes_.add(table->at("to_c"),
                    fmt::format("expected to_c above from_c {:g}, saw {:g}", range.from_c, range.to_c));
    table->finish();
  }

  void corrections() {
    for (Section& table : file_.sections("correction", Need::optional))
      definition_.corrections.push_back(read_correction(table));
  }

  void accuracy() {
    for (Section& table : file_.sections("accuracy", Need::optional)) {
      AccuracyRow row;
      put(row.quantity, read_quantity(table));
      const auto full_scale = table.number("full_scale", Need::required, above(0.0, 1e12));
      const auto resolution = table.number("resolution", Need::required, above(0.0, 1e12));
      put(row.full_scale, full_scale);
      put(row.resolution, resolution);
      const auto percent = table.number("percent_of_reading", Need::required, between(0.0, 100.0));
      const auto digits = table.number("digits", Need::required, between(0.0, 10000.0));
      put(row.percent_of_reading, percent);
      put(row.digits, digits);
      if (full_scale && resolution && *resolution >= *full_scale)
        mistakes_.add(table.at("resolution"),
                      fmt::format("expected a resolution below the full scale {}, saw {}", *full_scale, *resolution));
      if (percent && digits && *percent <= 0.0 && *digits <= 0.0)
        mistakes_.add(
            table.at("digits"),
            "expected percent_of_reading or digits above 0, saw 0 for both: no meter is without error; take them from "
            "its manual");
      table.finish();
      definition_.accuracy.push_back(row);
    }
  }

  toml_reader::Mistakes mistakes_;
  toml::table root_;
  Section file_;
  MeterDefinition definition_;
};

std::filesystem::path find_definition(const std::string& id, const SearchPath& where) {
  const bool is_path = id.find('/') != std::string::npos || id.ends_with(".toml");
  if (is_path) return id;
  if (!id.empty())
    for (const auto& directory : where.directories) {
      std::error_code error;
      const auto path = directory / (id + ".toml");
      if (std::filesystem::is_regular_file(path, error)) return path;
    }
  const auto known = list_meter_definitions(where);
  std::string next = suggestion(id, known);
  if (next.empty()) next = "\"switchwright meters\" lists the definitions there are";
  throw Error(ErrorKind::usage, "no meter definition is called " + in_quotes(id), "", next);
}

}  // namespace

MeterDefinition load_meter_definition(const std::string& id, const SearchPath& where) {
  const std::filesystem::path path = find_definition(id, where);
  return parse_meter_definition(toml_reader::read_file(path, "a meter definition"), path);
}

MeterDefinition parse_meter_definition(std::string text, const std::filesystem::path& path) {
  MeterDefinition definition = Loader(text, path).load();
  definition.id = path.stem().string();
  definition.path = path;
  definition.source_text = std::move(text);
  return definition;
}

}  // namespace switchwright
