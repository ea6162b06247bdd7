#include "report/bag_tables.hpp"

#include <fmt/format.h>

#include <map>
#include <memory>

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

class CycleRows final : public SeriesListener {
 public:
  CycleRows(Rows& rows, std::string begin, bool trusted)
      : rows_(rows), begin_(std::move(begin)), end_(trusted ? ",yes" : ",no") {}
  void on_cycle(const Cycle& cycle) override {
    rows_.add(begin_ +
              fmt::format(",{},{:.6f},{:.6f},{:.6f},{:.6f},{:.6f},{}", cycle.index, cycle.start_s, cycle.on_s,
                          cycle.off_s, cycle.period_s, cycle.duty, cycle.has_gap ? "yes" : "no") +
              end_);
  }

 private:
  Rows& rows_;
  std::string begin_, end_;
};

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
  // Whether cycles are to be trusted is known when all of them are seen; they are not all held until then.
  const TraceAnalysis seen = analyze_trace(record);
  std::vector<std::unique_ptr<CycleRows>> channels(seen.channels.size());
  (void)analyze_trace(record, [&](std::size_t i, const TraceChannelAnalysis& channel, const Survey&) {
    channels[i] = std::make_unique<CycleRows>(rows, of_what(record) + "," + csv_text(channel.name),
                                              seen.channels[i].summary.trusted);
    return channels[i].get();
  });
  rows.end();
}

}  // namespace switchwright
