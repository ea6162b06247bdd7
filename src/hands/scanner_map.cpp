#include <fmt/format.h>

#include <fstream>
#include <sstream>

#include "core/toml_table.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/hands/scanner.hpp"

namespace switchwright {

namespace {

/// A channel of SCPI-1999 volume 1, 8.3.2: digits, or several dimensions joined by "!"; here also a module in front ("3(101"
/// is not): digits and ! only.
bool is_channel(const std::string& text) {
  return !text.empty() && text.size() <= 12 && text.find_first_not_of("0123456789!") == std::string::npos;
}

class MapReader {
 public:
  MapReader(const std::filesystem::path& path, const toml::table& root)
      : problems_(path.string()), file_(root, "the file", problems_), root_(root) {}

  ScannerMap read(const Profile& profile) {
    (void)file_.whole("schema", 1, 1, true);
    map_.title = file_.text("title", true).value_or("");
    map_.port = file_.text("port", false).value_or("");
    if (const auto baud = file_.whole("baud", 50, 4000000, false)) map_.baud = static_cast<int>(*baud);
    if (const auto settle = file_.real("settle_s", {0.0, 60.0}, false)) map_.settle_s = *settle;
    map_.first = lead("first", profile);
    map_.second = lead("second", profile);
    for (const auto& [terminal, channel] : map_.first)
      if (const auto other = map_.second.find(terminal); other != map_.second.end() && other->second == channel)
        problems_.add(root_.source(),
                      fmt::format("expected two channels for terminal {}, one for each lead, saw {} twice",
                                  shown(terminal), channel));
    special();
    commands();
    file_.finish();
    if (!problems_.none()) throw Error(ErrorKind::usage, problems_.text());
    return std::move(map_);
  }

 private:
  std::string channel(const toml::node& node, const std::string& what) {
    std::string text;
    if (const auto* number = node.as_integer()) text = fmt::format("{}", number->get());
    if (const auto* word = node.as_string()) text = word->get();
    if (is_channel(text)) return text;
    problems_.add(node.source(), fmt::format("expected a channel number for {}, saw {}", what, shown(node)));
    return {};
  }

  std::map<std::string, std::string> lead(const std::string& name, const Profile& profile) {
    std::map<std::string, std::string> channels;
    const toml::table* table = file_.table(name);
    if (!table) {
      if (!root_.contains(name)) problems_.add(root_.source(), fmt::format("expected the table [{}], saw none", name));
      return channels;
    }
    const auto terminals = profile.nodes();
    for (const auto& [key, node] : *table) {
      const std::string terminal{key.str()};
      if (std::find(terminals.begin(), terminals.end(), terminal) == terminals.end()) {
        const std::string near = suggestion(terminal, terminals);
        problems_.add(node.source(), fmt::format("expected a terminal of profile {}, saw {}{}", profile.id,
                                                 shown(terminal), near.empty() ? "" : "; " + near));
      }
      const std::string found = channel(node, terminal);
      for (const auto& [other, taken] : channels)
        if (!found.empty() && taken == found)
          problems_.add(node.source(), fmt::format("expected a channel for each terminal, saw {} for {} and {}", found,
                                                   other, terminal));
      channels[terminal] = found;
    }
    for (const std::string& terminal : terminals)
      if (!channels.contains(terminal))
        problems_.add(table->source(),
                      fmt::format("expected a channel for terminal {} in [{}], saw none", shown(terminal), name));
    return channels;
  }

  std::vector<std::string> channels_of(const toml::table& table, const char* key) {
    std::vector<std::string> channels;
    const toml::node* node = table.get(key);
    if (!node) return channels;
    const toml::array* list = node->as_array();
    if (!list || list->empty()) {
      problems_.add(node->source(), fmt::format("expected a list of channels for {}, saw {}", key, shown(*node)));
      return channels;
    }
    for (const toml::node& one : *list) channels.push_back(channel(one, key));
    return channels;
  }

  void special() {
    const toml::table* raw = file_.table("special");
    if (!raw) return;
    TomlTable table(*raw, "[special]", problems_);
    (void)table.node("shorted");
    (void)table.node("known_source");
    map_.shorted = channels_of(*raw, "shorted");
    map_.known_source = channels_of(*raw, "known_source");
    table.finish();
  }

  void commands() {
    const toml::table* raw = file_.table("commands");
    if (!raw) return;
    TomlTable table(*raw, "[commands]", problems_);
    if (const auto text = table.text("open_all", false)) map_.open_all = *text;
    if (const auto text = table.text("close", false)) {
      map_.close = *text;
      if (text->find("{channels}") == std::string::npos)
        problems_.add(raw->get("close")->source(), "expected {channels} in close, saw none");
    }
    table.finish();
  }

  TomlProblems problems_;
  TomlTable file_;
  const toml::table& root_;
  ScannerMap map_;
};

}  // namespace

std::string ScannerMap::close_command(const std::vector<std::string>& channels) const {
  std::string text = close;
  const std::string mark = "{channels}";
  if (const auto at = text.find(mark); at != std::string::npos)
    text.replace(at, mark.size(), fmt::format("{}", fmt::join(channels, ",")));
  return text;
}

ScannerMap load_scanner_map(const std::filesystem::path& path, const Profile& profile) {
  std::error_code ignored;
  std::ifstream in(path, std::ios::binary);
  if (!in || !std::filesystem::is_regular_file(path, ignored))
    throw Error(ErrorKind::usage, "the scanner's channel map cannot be read", terminal_safe(path.string()),
                "give it as --hands scanner:FILE.toml");
  std::ostringstream text;
  text << in.rdbuf();
  try {
    const toml::table root = toml::parse(text.str(), path.string());
    return MapReader(path, root).read(profile);
  } catch (const toml::parse_error& error) {
    TomlProblems problems(path.string());
    problems.add(error.source(), "expected TOML, saw a mistake in its grammar: " + terminal_safe(error.description()));
    throw Error(ErrorKind::usage, problems.text());
  }
}

}  // namespace switchwright
