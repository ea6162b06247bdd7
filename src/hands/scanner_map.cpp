#include <fmt/format.h>

#include "core/toml_reader.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/hands/scanner.hpp"

namespace switchwright {

namespace {

using toml_reader::between;
using toml_reader::in_quotes;
using toml_reader::Need;
using toml_reader::saw;
using toml_reader::Section;

/// A channel of SCPI-1999 volume 1, 8.3.2: digits, or several dimensions joined by "!"; here also a module in front ("3(101"
/// is not): digits and ! only.
bool is_channel(const std::string& text) {
  return !text.empty() && text.size() <= 12 && text.find_first_not_of("0123456789!") == std::string::npos;
}

class MapReader {
 public:
  MapReader(const std::string& text, const std::filesystem::path& path)
      : mistakes_(path), root_(toml_reader::parse(text, mistakes_)), file_(root_, "the channel map", mistakes_) {}

  ScannerMap read(const Profile& profile) {
    file_.schema(1);
    map_.title = file_.text("title", Need::required).value_or("");
    map_.port = file_.text("port", Need::optional).value_or("");
    if (const auto baud = file_.whole("baud", Need::optional, 50, 4000000)) map_.baud = static_cast<int>(*baud);
    if (const auto settle = file_.number("settle_s", Need::optional, between(0.0, 60.0))) map_.settle_s = *settle;
    map_.first = lead("first", profile);
    map_.second = lead("second", profile);
    for (const auto& [terminal, channel] : map_.first)
      if (const auto other = map_.second.find(terminal); other != map_.second.end() && other->second == channel)
        mistakes_.add(root_["second"][terminal].node()->source(),
                      fmt::format("expected two channels for terminal {}, one for each lead, saw {} twice",
                                  in_quotes(terminal), channel));
    special();
    commands();
    file_.finish();
    mistakes_.throw_if_any();
    return std::move(map_);
  }

 private:
  std::string channel(const toml::node& node, const std::string& what) {
    std::string text;
    if (const auto* number = node.as_integer()) text = fmt::format("{}", number->get());
    if (const auto* word = node.as_string()) text = word->get();
    if (is_channel(text)) return text;
    mistakes_.add(node.source(), fmt::format("expected a channel number for {}, saw {}", what, saw(node)));
    return {};
  }

  std::map<std::string, std::string> lead(const std::string& name, const Profile& profile) {
    std::map<std::string, std::string> channels;
    const auto table = file_.section(name, Need::required);
    if (!table) return channels;
    const auto terminals = profile.nodes();
    for (const auto& [key, node] : table->table()) {
      const std::string terminal{key.str()};
      if (std::find(terminals.begin(), terminals.end(), terminal) == terminals.end()) {
        const std::string near = suggestion(terminal, terminals);
        mistakes_.add(node.source(), fmt::format("expected a terminal of profile {}, saw {}{}", profile.id,
                                                 in_quotes(terminal), near.empty() ? "" : "; " + near));
      }
      const std::string found = channel(node, terminal);
      for (const auto& [other, taken] : channels)
        if (!found.empty() && taken == found)
          mistakes_.add(node.source(), fmt::format("expected a channel for each terminal, saw {} for {} and {}", found,
                                                   other, terminal));
      channels[terminal] = found;
    }
    for (const std::string& terminal : terminals)
      if (!channels.contains(terminal))
        mistakes_.add(table->at(),
                      fmt::format("expected a channel for terminal {} in [{}], saw none", in_quotes(terminal), name));
    return channels;
  }

  std::vector<std::string> channels_of(Section& table, const char* key) {
    std::vector<std::string> channels;
    table.skip(key);
    if (!table.has(key)) return channels;
    const toml::array* list = table.list(key);
    if (!list || list->empty())
      mistakes_.add(table.at(key), fmt::format("expected a list of channels for {}, saw {}", key,
                                               list ? "an empty one" : saw(*table.table().get(key))));
    if (list)
      for (const toml::node& one : *list) channels.push_back(channel(one, key));
    return channels;
  }

  void special() {
    auto table = file_.section("special", Need::optional);
    if (!table) return;
    map_.shorted = channels_of(*table, "shorted");
    map_.known_source = channels_of(*table, "known_source");
    table->finish();
  }

  void commands() {
    auto table = file_.section("commands", Need::optional);
    if (!table) return;
    map_.open_all = table->text("open_all", Need::optional).value_or(map_.open_all);
    if (const auto close = table->word("close", Need::optional)) {
      map_.close = close->text;
      if (close->text.find("{channels}") == std::string::npos)
        mistakes_.add(close->at, "expected {channels} in close, saw none");
    }
    table->finish();
  }

  toml_reader::Mistakes mistakes_;
  toml::table root_;
  Section file_;
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
  return MapReader(toml_reader::read_file(path, "the scanner's channel map (--hands scanner:FILE.toml)"), path)
      .read(profile);
}

}  // namespace switchwright
