#include "report/bag_tables.hpp"

#include <fmt/format.h>

#include <functional>
#include <map>
#include <memory>
#include <utility>
#include <vector>

#include "core/escape.hpp"
#include "switchwright/analysis/trace_analysis.hpp"
#include "switchwright/record/canonical.hpp"

namespace switchwright {

namespace {

/// Gathers rows and hands them on in pieces.
class Rows {
 public:
  Rows(const DocumentSink& sink, std::string header) : sink_(sink), piece_(std::move(header)) { piece_ += "\r\n"; }
  ~Rows() = default;
  Rows(const Rows&) = delete;
  Rows& operator=(const Rows&) = delete;
  void add(const std::string& row) {
    piece_ += row;
    piece_ += "\r\n";
    if (piece_.size() < (1U << 16U)) return;
    end();
  }
  void end() {
    sink_(piece_);
    piece_.clear();
  }

 private:
  const DocumentSink& sink_;
  std::string piece_;
};

const char* word_for(ReadingState state) {
  switch (state) {
    case ReadingState::finite: return "finite";
    case ReadingState::over_range: return "over-range";
    case ReadingState::not_a_number: return "not-a-number";
  }
  return "";
}

std::string words_for(const ReadingFlags& flags) {
  std::string words;
  const std::pair<bool, const char*> all[] = {{flags.hold, "hold"},
                                              {flags.relative, "relative"},
                                              {flags.low_battery, "low-battery"},
                                              {flags.autorange, "autorange"},
                                              {flags.min_max, "min-max"}};
  for (const auto& [set, word] : all)
    if (set) words += (words.empty() ? "" : " ") + std::string(word);
  return words;
}

std::string hexadecimal(const std::string& bytes) {
  std::string text;
  for (const char c : bytes) text += fmt::format("{:02x}", static_cast<unsigned char>(c));
  return text;
}

/// "record,part,serial": what every row begins with, so that a row may be pasted anywhere.
std::string of_what(const Record& record) {
  return csv_text(record.header.id) + "," + csv_text(record.header.part) + "," + csv_text(record.header.serial);
}

std::string row_of(const std::string& begin, const Cycle& cycle, bool trusted) {
  return begin + fmt::format(",{},{:.6f},{:.6f},{:.6f},{:.6f},{:.6f},{},{}", cycle.index, cycle.start_s, cycle.on_s,
                             cycle.off_s, cycle.period_s, cycle.duty, cycle.has_gap ? "yes" : "no",
                             trusted ? "yes" : "no");
}

class CycleEar final : public SeriesListener {
 public:
  explicit CycleEar(std::function<void(const Cycle&)> take) : take_(std::move(take)) {}
  void on_cycle(const Cycle& cycle) override { take_(cycle); }

 private:
  std::function<void(const Cycle&)> take_;
};

/// Goes over the samples and hands on each cycle with the number of its channel.
TraceAnalysis each_cycle(const Record& record, const std::function<void(std::size_t, const Cycle&)>& take) {
  std::vector<std::unique_ptr<CycleEar>> ears(record.channels.size());
  return analyze_trace(record, [&](std::size_t i, const TraceChannelAnalysis&, const Survey&) {
    ears[i] = std::make_unique<CycleEar>([&take, i](const Cycle& cycle) { take(i, cycle); });
    return ears[i].get();
  });
}

}  // namespace

void every_reading_csv(const Record& record, const DocumentSink& sink) {
  Rows rows(sink,
            "record,part,serial,step,step_kind,placement,terminal_1,terminal_2,position,at,quantity,unit,state,value,"
            "beyond,resolution,flags,raw");
  std::map<int, const StepRow*> steps;
  for (const StepRow& step : record.steps) steps[step.step] = &step;
  const std::string what = of_what(record);
  for (const ReadingRow& row : record.readings) {
    const Reading& r = row.reading;
    const auto found = steps.find(row.step);
    const StepRow none, &step = found == steps.end() ? none : *found->second;
    rows.add(what + "," + fmt::format("{}", row.step) + "," + csv_text(step.kind) + "," +
             (step.placement > 0 ? fmt::format("{}", step.placement) : "") + "," + csv_text(step.pair_first) + "," +
             csv_text(step.pair_second) + "," + csv_text(step.position) + "," + iso8601(r.at.wall) + "," +
             csv_text(name_of(r.quantity)) + "," + csv_text(unit_of(r.quantity)) + "," + word_for(r.state) + "," +
             (r.finite() ? canonical_number(r.value) : "") + "," + (r.beyond ? canonical_number(*r.beyond) : "") + "," +
             (r.resolution > 0.0 ? canonical_number(r.resolution) : "") + "," + words_for(r.flags) + "," +
             hexadecimal(r.raw));
  }
  rows.end();
}

void cycles_csv(const Record& record, const DocumentSink& sink) {
  Rows rows(sink, "record,part,serial,channel,cycle,start_s,on_s,off_s,period_s,duty,gap,trusted");
  // Whether cycles are to be trusted is known when all of them are seen. Not all are held until then: where there are too many,
  // the samples are gone over once more.
  constexpr std::size_t most_held = 100'000;
  std::vector<std::pair<std::size_t, Cycle>> held;
  std::size_t all = 0;
  const TraceAnalysis seen = each_cycle(record, [&](std::size_t channel, const Cycle& cycle) {
    if (++all <= most_held) held.emplace_back(channel, cycle);
  });
  std::vector<std::string> begins;
  for (const TraceChannelAnalysis& channel : seen.channels)
    begins.push_back(of_what(record) + "," + csv_text(channel.name));
  const auto write = [&](std::size_t channel, const Cycle& cycle) {
    rows.add(row_of(begins[channel], cycle, seen.channels[channel].summary.trusted));
  };
  if (all <= most_held)
    for (const auto& [channel, cycle] : held) write(channel, cycle);
  else
    (void)each_cycle(record, write);
  rows.end();
}

}  // namespace switchwright
