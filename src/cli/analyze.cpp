// A recorded series: cycles, figures with their uncertainty, and a judgement when a profile is given.
#include <fmt/format.h>
#include <unistd.h>

#include <array>
#include <cstdio>
#include <map>
#include <memory>
#include <system_error>

#include "cli/choose/choices.hpp"
#include "cli/choose/places.hpp"
#include "cli/choose/trace_channels.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/verdict_exit.hpp"
#include "switchwright/core/durable_file.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/cycle/analyze_file.hpp"
#include "switchwright/judge/cycling.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/record/result_json.hpp"
#include "switchwright/report/cycle_picture.hpp"
#include "switchwright/report/cycling.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright::cli {

namespace {

/// Lines that may have to be thrown away: whether a series can be trusted is known only at its end. They wait
/// in a file without a name, so memory stays constant.
class Spool {
 public:
  void add(const std::string& line) {
    if (!file_) {
      file_.reset(std::tmpfile());
      if (!file_) throw Error(ErrorKind::store, "no temporary file can be made", "", "free some space or set TMPDIR");
    }
    if (std::fwrite(line.data(), 1, line.size(), file_.get()) != line.size() || std::fputc('\n', file_.get()) == EOF)
      throw Error(ErrorKind::store, "the temporary file cannot be written", "", "free some space");
  }
  void put_all() {
    if (!file_) return;
    if (std::fflush(file_.get()) != 0)
      throw Error(ErrorKind::store, "the temporary file cannot be written", "", "free some space");
    std::rewind(file_.get());
    std::array<char, 65536> block;
    while (const std::size_t got = std::fread(block.data(), 1, block.size(), file_.get()))
      put(std::string_view{block.data(), got});
  }

 private:
  struct Close {
    void operator()(std::FILE* file) const { std::fclose(file); }
  };
  std::unique_ptr<std::FILE, Close> file_;
};

/// One channel's cycles, events and, when wanted, picture.
class Ear final : public SeriesListener {
 public:
  Ear(std::string name, const Survey& survey, bool json, bool picture) : name_(std::move(name)), json_(json) {
    if (picture) picture_ = std::make_unique<PictureMaker>(name_, unit_in(name_), survey);
  }
  bool wants_samples() const override { return picture_ != nullptr; }
  void on_sample(const Sample& sample) override { picture_->on_sample(sample); }
  void on_cycle(const Cycle& cycle) override {
    if (json_) spool_.add(cycle_json(name_, cycle));
    if (picture_) picture_->on_cycle(cycle);
  }
  void on_event(const CycleEvent& event) override {
    events_.add(event);
    if (picture_) picture_->on_event(event);
  }
  void on_edge(const Edge& edge) override {
    if (picture_) picture_->on_edge(edge);
  }
  Spool& spool() { return spool_; }
  const CycleEventLog& events() const { return events_; }
  const PictureMaker* picture() const { return picture_.get(); }

 private:
  std::string name_;
  bool json_;
  Spool spool_;
  CycleEventLog events_;
  std::unique_ptr<PictureMaker> picture_;
};

/// The two passes need a file that can be read again.
class InputFile {
 public:
  explicit InputFile(const std::string& name) : path_(name) {
    if (name != "-") return;
    std::string place = (std::filesystem::temp_directory_path() / "switchwright-input-XXXXXX").string();
    const int descriptor = ::mkstemp(place.data());
    if (descriptor < 0)
      throw Error(ErrorKind::store, "no temporary file can be made", place, "free some space or set TMPDIR");
    path_ = place;
    temporary_ = true;
    std::unique_ptr<std::FILE, int (*)(std::FILE*)> file{::fdopen(descriptor, "wb"), std::fclose};
    std::array<char, 65536> block;
    while (const std::size_t got = std::fread(block.data(), 1, block.size(), stdin))
      if (std::fwrite(block.data(), 1, got, file.get()) != got) fail();
    if (std::fflush(file.get()) != 0) fail();
  }
  ~InputFile() { remove(); }
  InputFile(const InputFile&) = delete;
  InputFile& operator=(const InputFile&) = delete;
  const std::filesystem::path& path() const { return path_; }

 private:
  void remove() {
    std::error_code ignored;
    if (temporary_) std::filesystem::remove(path_, ignored);
  }
  [[noreturn]] void fail() {
    remove();
    throw Error(ErrorKind::store, "standard input cannot be kept in a temporary file", path_.string(),
                "free some space");
  }
  std::filesystem::path path_;
  bool temporary_ = false;
};

/// Documents under each other in one.
std::string stacked(const std::vector<std::string>& documents) {
  if (documents.size() == 1) return documents.front();
  std::string body;
  double y = 0.0;
  for (const std::string& document : documents) {
    const auto at = document.find("height=\"") + 8;
    body += "<svg y=\"" + fmt::format("{:g}", y) + "\"" + document.substr(4);
    y += std::stod(document.substr(at));
  }
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 960 {0:g}\" width=\"960\" "
      "height=\"{0:g}\">\n{1}</svg>\n",
      y, body);
}

void say_bad_rows(const std::string& name, const FileResult& result) {
  for (const std::string& notice : result.layout.notices) say(name + ": " + terminal_safe(notice));
  for (const BadRow& row : result.first_bad_rows) say(fmt::format("{}:{}: {}", name, row.line, row.reason));
  if (result.bad_rows > result.first_bad_rows.size())
    say(fmt::format("{}: and {} more bad rows", name, result.bad_rows - result.first_bad_rows.size()));
  if (result.bad_rows > 0)
    say(fmt::format("{}: {} of {} rows could not be read and are left out", name, result.bad_rows,
                    result.rows + result.bad_rows));
}

/// @param rms of each channel's values
CyclingJudgement judged(const AnalyzeOptions& options, const Profile& profile, const FileResult& result,
                        const std::map<std::size_t, std::optional<double>>& rms) {
  std::vector<std::string> names;
  for (const ChannelResult& channel : result.channels) names.push_back(channel.name);
  const auto roles = stated_roles(options.roles, names);
  std::vector<CyclingChannel> channels;
  for (std::size_t i = 0; i < result.channels.size(); ++i) {
    const ChannelResult& channel = result.channels[i];
    const auto role = roles.find(channel.name);
    const std::string unit = unit_in(channel.name);
    channels.push_back({channel.name, &channel.summary, channel.survey.min, channel.survey.max, std::nullopt,
                        unit.empty() || unit == "V", rms.at(i),
                        role == roles.end() ? std::nullopt : std::optional{role->second}, unit == "V", unit});
  }
  CyclingConditions conditions;
  conditions.supply_v = options.supply_v;
  conditions.load_ohm = options.load_ohm;
  conditions.span_s = result.span_s;
  conditions.rule = decision_rule(options.rule);
  if (!options.require.empty()) conditions.required = parse_scope_parts(options.require);
  return judge_cycling(profile, options.position, channels, conditions);
}

}  // namespace

int run(const AnalyzeOptions& options) {
  std::optional<Profile> profile;
  if (!options.profile.empty()) {
    profile = load_profile(options.profile, profile_places());
    if (options.position.empty()) {
      std::vector<std::string> known;
      for (const Position& position : profile->positions) known.push_back(position.id);
      throw Error(ErrorKind::usage, "the position of the knob is missing", "",
                  "give it with --position: " + joined_with_and(known));
    }
    if (profile->position(options.position) == nullptr)
      judge_cycling(*profile, options.position, {});  // says which there are
  }

  const InputFile input{options.file};
  const std::string name = options.file == "-" ? "standard input" : terminal_safe(options.file);
  std::map<std::size_t, std::unique_ptr<Ear>> ears;
  std::map<std::size_t, std::optional<double>> rms;
  CycleSettings settings;
  settings.update_s = options.update_s;
  const FileResult result =
      analyze_file(input.path(), settings, options.time_unit_s,
                   [&](std::size_t channel, const std::string& channel_name, const Survey& survey) {
                     rms[channel] = rms_of(survey.histogram());
                     auto& ear = ears[channel];
                     ear = std::make_unique<Ear>(channel_name, survey, options.json, !options.picture.empty());
                     return ear.get();
                   });
  say_bad_rows(name, result);
  if (!options.picture.empty()) {
    std::vector<std::string> documents;
    for (std::size_t i = 0; i < result.channels.size(); ++i)
      documents.push_back(ears[i]->picture()->whole_svg(result.channels[i].summary));
    write_file_durably(options.picture, stacked(documents));
  }

  const auto judgement = profile ? std::optional{judged(options, *profile, result, rms)} : std::nullopt;
  if (options.json) {
    for (std::size_t i = 0; i < result.channels.size(); ++i)
      if (result.channels[i].summary.all.on_s.mean) ears[i]->spool().put_all();
    for (std::size_t i = 0; i < result.channels.size(); ++i)
      put_line(summary_json(result.channels[i].name, result.channels[i].summary, &ears[i]->events(),
                            {{"rows", result.rows}, {"bad_rows", result.bad_rows}}));
    if (judgement) put_line(verdict_json(*judgement, options.position));
  } else {
    for (const ChannelResult& channel : result.channels)
      put((&channel == &result.channels.front() ? "" : "\n") +
          summary_text(channel.name, unit_in(channel.name), channel.summary));
    if (judgement) put("\n" + judgement_text(*judgement));
    put_line(coverage_words());
  }
  if (!options.picture.empty()) say("picture written to " + options.picture);
  return judgement ? exit_code(judgement->outcome) : 0;
}

}  // namespace switchwright::cli
