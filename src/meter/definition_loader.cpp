// From a TOML file to a MeterDefinition, with every mistake of the file at once.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <sstream>

#include "core/toml_table.hpp"
#include "meter/decode/decoder_kind.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/core/words.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright {

namespace {

constexpr std::uintmax_t longest_file = 1U << 20;
constexpr long long schema_known = 1;
/// Speeds that an operating system sets without tricks; 19230 and the like are refused by it much later.
constexpr int speeds[] = {50,     75,     110,     134,     150,     200,     300,     600,     1200,    1800,
                          2400,   4800,   9600,    19200,   38400,   57600,   115200,  230400,  460800,  500000,
                          576000, 921600, 1000000, 1152000, 1500000, 2000000, 2500000, 3000000, 3500000, 4000000};

class Loader {
 public:
  Loader(const std::filesystem::path& path, const toml::table& root)
      : problems_(path.string()), file_(root, "the file", problems_) {}

  MeterDefinition load() {
    head();
    link();
    decoder();
    poll();
    commands();
    functions();
    if (definition_.decoder.kind == "scpi" && definition_.poll && definition_.functions.empty())
      problems_.add(file_.raw().source(),
                    "expected a [[function]] for each quantity, saw none: the numbers of this "
                    "language carry no unit");
    accuracy();
    temperature();
    corrections();
    file_.finish();
    if (!problems_.none()) throw Error(ErrorKind::usage, problems_.text());
    return std::move(definition_);
  }

 private:
  template <typename To, typename From>
  static void put(To& to, const std::optional<From>& from) {
    if (from) to = static_cast<To>(*from);
  }

  void head() {
    put(definition_.schema, file_.whole("schema", schema_known, schema_known, true));
    put(definition_.title, file_.text("title", true));
    put(definition_.provenance, file_.text("provenance", true));
    put(definition_.voltage_input_ohm, file_.real("voltage_input_ohm", {1.0, 1e12, true}, false));
    put(definition_.update_rate_hz, file_.real("update_rate_hz", {0.0, 1000.0, true}, false));
  }

  void link() {
    const toml::table* raw = file_.table("link");
    if (!raw) return;  // 9600 8N1, as LinkSettings says
    TomlTable table(*raw, "[link]", problems_);
    LinkSettings& link = definition_.link;
    if (const auto baud = table.whole("baud", 50, 4000000, false)) {
      link.baud = static_cast<int>(*baud);
      check_speed(*raw->get("baud"), link.baud);
    }
    put(link.data_bits, table.whole("data_bits", 5, 8, false));
    put(link.stop_bits, table.whole("stop_bits", 1, 2, false));
    if (const auto parity = table.choice("parity", {"none", "odd", "even"}, false))
      link.parity = *parity == "odd" ? Parity::odd : *parity == "even" ? Parity::even : Parity::none;
    if (const auto dtr = table.flag("dtr")) link.dtr = dtr;
    if (const auto rts = table.flag("rts")) link.rts = rts;
    put(link.silent_after_s, table.real("silent_after_s", {0.0, 3600.0, true}, false));
    table.finish();
  }

  void check_speed(const toml::node& node, int baud) {
    if (std::find(std::begin(speeds), std::end(speeds), baud) != std::end(speeds)) return;
    const auto nearer = [baud](int a, int b) { return std::abs(a - baud) < std::abs(b - baud); };
    const int nearest = *std::min_element(std::begin(speeds), std::end(speeds), nearer);
    problems_.add(node.source(),
                  fmt::format("expected a usual speed for baud, saw {}; did you mean {}?", baud, nearest));
  }

  void decoder() {
    const toml::node* found = file_.required("decoder", "a table");
    if (!found) return;
    const toml::table* raw = found->as_table();
    if (!raw) return problems_.add(found->source(), "expected the table [decoder], saw " + shown(*found));
    TomlTable table(*raw, "[decoder]", problems_);
    const auto kind = table.choice("kind", decoder_kinds(), true);
    bool sound = true;
    for (const auto& [key, node] : *raw)
      if (key.str() != "kind") sound = setting(std::string(key.str()), node) && sound;
    if (!kind) return;
    definition_.decoder.kind = *kind;
    if (!sound) return;
    for (const SettingProblem& problem : check_settings(*decoder_kind(*kind), definition_.decoder))
      problems_.add(place_of(*raw, problem), problem.text);
  }

  /// An option (kept as text) or a table of texts. False when it is neither.
  bool setting(const std::string& name, const toml::node& node) {
    if (const auto text = option_text(node)) {
      definition_.decoder.options[name] = *text;
      return true;
    }
    const toml::table* table = node.as_table();
    if (!table) {
      problems_.add(node.source(), fmt::format("expected a value or a table for {}, saw {}", name, shown(node)));
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
      problems_.add(value.source(),
                    fmt::format("expected a text for {}.{}, saw {}{}", name, key.str(), shown(value), hint));
      sound = false;
    }
    return sound;
  }

  static std::optional<std::string> option_text(const toml::node& node) {
    if (const auto* text = node.as_string()) return text->get();
    if (node.is_integer() || node.is_boolean() || node.is_floating_point()) return shown(node);
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
    const toml::table* raw = file_.table("poll");
    if (!raw) return;
    TomlTable table(*raw, "[poll]", problems_);
    PollSettings poll;
    put(poll.request, table.text("request", true));
    put(poll.every_s, table.real("every_s", {0.0, 3600.0}, false));
    put(poll.timeout_s, table.real("timeout_s", {0.0, 600.0, true}, false));
    table.finish();
    definition_.poll = poll;
  }

  void commands() {
    const toml::table* raw = file_.table("commands");
    if (!raw) return;
    TomlTable table(*raw, "[commands]", problems_);
    definition_.start_commands = table.texts("start", false);
    definition_.stop_commands = table.texts("stop", false);
    if (raw->contains("function_query")) definition_.function_queries = table.texts("function_query", false);
    table.finish();
  }

  std::optional<Quantity> quantity(TomlTable& table) {
    const auto name = table.choice("quantity", quantity_names(), true);
    return name ? quantity_named(*name) : std::nullopt;
  }

  void functions() {
    for (const toml::table* raw : file_.tables("function")) {
      TomlTable table(*raw, "[[function]]", problems_);
      FunctionCommands function;
      const auto selected = quantity(table);
      put(function.quantity, selected);
      const bool has_request = raw->contains("request");
      function.send = table.texts("send", !has_request);
      put(function.request, table.text("request", false));
      put(function.range, table.real("range", {0.0, 1e12, true}, false));
      if (has_request && !definition_.poll)
        problems_.add(raw->get("request")->source(),
                      "expected the table [poll] with a request of a function, saw none");
      function.is = table.texts("is", false);
      fill_in_range(*raw, function);
      if (selected && definition_.selects(*selected))
        problems_.add(raw->source(),
                      fmt::format("expected each quantity once in [[function]], saw {} again", name_of(*selected)));
      table.finish();
      definition_.functions.push_back(std::move(function));
    }
  }

  /// Puts the range where the commands say {range}; each needs the other.
  void fill_in_range(const toml::table& raw, FunctionCommands& function) {
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
      problems_.add(raw.source(), "expected a range for the {range} in the commands, saw none");
    if (!used && function.range)
      problems_.add(raw.get("range")->source(),
                    "expected {range} in send or request, since a range is given, saw none");
  }

  void temperature() {
    const toml::table* raw = file_.table("temperature");
    if (!raw) return;
    TomlTable table(*raw, "[temperature]", problems_);
    TemperatureRange& range = definition_.temperature;
    put(range.from_c, table.real("from_c", {-60.0, 100.0}, false));
    put(range.to_c, table.real("to_c", {-60.0, 100.0}, false));
    const auto share = table.real("share_per_kelvin", {0.0, 10.0}, true);
    put(range.share_per_kelvin, share);
    range.given = share.has_value();
    if (range.to_c <= range.from_c)
      problems_.add(raw->source(), fmt::format("expected to_c above from_c {:g}, saw {:g}", range.from_c, range.to_c));
    table.finish();
  }

  void corrections() {
    for (const toml::table* raw : file_.tables("correction")) {
      TomlTable table(*raw, "[[correction]]", problems_);
      Correction row;
      put(row.quantity, quantity(table));
      put(row.from, table.real("from", {0.0, 1e12}, true));
      put(row.to, table.real("to", {0.0, 1e12, true}, true));
      put(row.add, table.real("add", {-1e12, 1e12}, true));
      put(row.U, table.real("U", {0.0, 1e12}, true));
      put(row.k, table.real("k", {1.0, 10.0}, false));
      if (row.to <= row.from)
        problems_.add(raw->source(), fmt::format("expected \"to\" above \"from\" {:g}, saw {:g}", row.from, row.to));
      table.finish();
      definition_.corrections.push_back(row);
    }
  }

  void accuracy() {
    for (const toml::table* raw : file_.tables("accuracy")) {
      TomlTable table(*raw, "[[accuracy]]", problems_);
      AccuracyRow row;
      put(row.quantity, quantity(table));
      const auto full_scale = table.real("full_scale", {0.0, 1e12, true}, true);
      const auto resolution = table.real("resolution", {0.0, 1e12, true}, true);
      put(row.full_scale, full_scale);
      put(row.resolution, resolution);
      put(row.percent_of_reading, table.real("percent_of_reading", {0.0, 100.0}, true));
      put(row.digits, table.real("digits", {0.0, 10000.0}, true));
      if (full_scale && resolution && *resolution >= *full_scale)
        problems_.add(raw->get("resolution")->source(),
                      fmt::format("expected a resolution below the full scale {}, saw {}", *full_scale, *resolution));
      table.finish();
      definition_.accuracy.push_back(row);
    }
  }

  TomlProblems problems_;
  TomlTable file_;
  MeterDefinition definition_;
};

std::string read_file(const std::filesystem::path& path) {
  std::error_code error;
  const bool regular = std::filesystem::is_regular_file(path, error);
  if (error || !std::filesystem::exists(path))
    throw Error(ErrorKind::usage, "there is no such meter definition file", path.string(), "check the path");
  if (!regular) throw Error(ErrorKind::usage, "this is not a file", path.string(), "give the path of a .toml file");
  if (std::filesystem::file_size(path, error) > longest_file)
    throw Error(ErrorKind::usage, "this file is too large to be a meter definition", path.string(),
                "give the path of a .toml file of at most 1 MiB");
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  if (!file) throw Error(ErrorKind::usage, "this file cannot be read", path.string(), "check its permissions");
  return text.str();
}

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
  throw Error(ErrorKind::usage, "no meter definition is called " + shown(id), "", next);
}

}  // namespace

MeterDefinition load_meter_definition(const std::string& id, const SearchPath& where) {
  const std::filesystem::path path = find_definition(id, where);
  return parse_meter_definition(read_file(path), path);
}

MeterDefinition parse_meter_definition(std::string text, const std::filesystem::path& path) {
  try {
    const toml::table root = toml::parse(text, path.string());
    MeterDefinition definition = Loader(path, root).load();
    definition.id = path.stem().string();
    definition.path = path;
    definition.source_text = std::move(text);
    return definition;
  } catch (const toml::parse_error& error) {
    TomlProblems problems(path.string());
    problems.add(error.source(), "expected TOML, saw a mistake in its grammar: " + terminal_safe(error.description()));
    throw Error(ErrorKind::usage, problems.text());
  }
}

}  // namespace switchwright
