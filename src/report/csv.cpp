// One row per judged pair and position (or, while a record is unfinished, per reading so far), then what was
// not measured. RFC 4180: comma, CRLF, a header line. Numbers are SI, with a point, never grouped; what is
// not known is an empty field.
#include <cmath>

#include "core/escape.hpp"
#include "report/exporters.hpp"
#include "report/trace_view.hpp"
#include "report/view.hpp"
#include "switchwright/record/canonical.hpp"
#include "switchwright/record/record_json.hpp"

namespace switchwright {

namespace {

constexpr const char* columns =
    "record,position,terminal_1,terminal_2,expected,expected_min_ohm,expected_max_ohm,reading_state,unit,"
    "shown,beyond,"
    "corrected,U,k,outcome,deviation,severity,sound,witness,p_conform,readings,settled_at,sentence,"
    "expected_min_v,expected_max_v\r\n";

class Row {
 public:
  Row& text(std::string_view value) { return add(csv_text(value)); }
  Row& number(double value) { return add(std::isfinite(value) ? canonical_number(value) : ""); }
  Row& number(const std::optional<double>& value) { return value ? number(*value) : none(); }
  Row& none() { return add(""); }
  std::string line() const { return line_ + "\r\n"; }

 private:
  Row& add(const std::string& field) {
    if (!first_) line_ += ',';
    first_ = false;
    line_ += field;
    return *this;
  }
  std::string line_;
  bool first_ = true;
};

const char* state_word(ReadingState state) {
  switch (state) {
    case ReadingState::finite: return "finite";
    case ReadingState::over_range: return "over-range";
    case ReadingState::not_a_number: return "not-a-number";
  }
  return "";
}

std::string row_for(const Record& record, const std::string& position, const Pair& pair, const Cell& cell) {
  Row row;
  row.text(record.header.id).text(position).text(pair.first()).text(pair.second());
  if (const Expectation* expected = cell.expected)
    row.text(word_for(expected->state)).number(expected->ohm.min).number(expected->ohm.max);
  else
    row.none().none().none();
  const Indication* shown = cell.indication;
  if (shown != nullptr) {
    row.text(state_word(shown->state)).text(unit_of(shown->quantity));
    if (shown->state == ReadingState::finite)
      row.number(shown->value);
    else
      row.none();
    row.number(shown->beyond);
  } else {
    row.none().none().none().none();
  }
  if (const Finding* finding = cell.finding) {
    row.number(finding->corrected).number(finding->U).number(record.header.k).text(word_for(finding->outcome));
    row.text(finding->kind ? word_for(*finding->kind) : "").text(finding->severity ? word_for(*finding->severity) : "");
    row.text(finding->sound ? word_for(*finding->sound) : "")
        .text(word_for(finding->witness))
        .number(finding->p_conform);
  } else {
    row.none().none().none().text(shown != nullptr                 ? "not-judged"
                                  : cell.mark == Mark::not_checked ? "not-checked"
                                  : cell.mark == Mark::left_out    ? "left-out"
                                                                   : "not-measured");
    row.none().none().none().none().none();
  }
  if (shown != nullptr)
    row.number(shown->readings).text(iso8601(shown->to.wall));
  else
    row.none().none();
  const std::string sentence = cell.finding != nullptr    ? cell.finding->sentence
                               : cell.expected != nullptr ? cell.expected->reason
                                                          : "";
  // A row may be pasted anywhere, so each one says that it is training.
  row.text(record.header.kind == RecordKind::practice ? "PRACTICE, no part was tested. " + sentence : sentence);
  row.none().none();
  return row.line();
}

/// A voltage under power: the same columns, unit V, limits in the last two. A pair that cycles is right in two bands and
/// has its limits in the sentence alone.
std::string row_for(const Record& record, const VoltageFinding& finding) {
  const VoltageExpectation& expected = finding.expected;
  const Indication& shown = finding.indication;
  Row row;
  row.text(record.header.id).text(expected.position).text(expected.pair.first()).text(expected.pair.second());
  row.text(word_for(expected.state)).none().none();
  row.text(state_word(shown.state)).text(unit_of(shown.quantity));
  if (shown.state == ReadingState::finite)
    row.number(shown.value);
  else
    row.none();
  row.number(shown.beyond)
      .number(finding.volts)
      .number(finding.U)
      .number(record.header.k)
      .text(word_for(finding.outcome));
  row.text(finding.kind ? word_for(*finding.kind) : "").text(finding.severity ? word_for(*finding.severity) : "");
  row.none().none().none().number(shown.readings).text(iso8601(shown.to.wall)).text(finding.sentence);
  if (expected.bands.size() == 1)
    row.number(expected.v.min).number(expected.v.max);
  else if (expected.stray_max_v)
    row.number(0.0).number(*expected.stray_max_v);
  else
    row.none().none();
  return row.line();
}

class CsvExporter final : public Exporter {
 public:
  std::string format() const override { return "csv"; }
  std::string extension() const override { return ".csv"; }
  void write(const Record& record, const DocumentSink& sink) const override {
    if (is_trace(record))
      trace_csv(record, sink);
    else
      sink(readings_csv(record));
  }
  std::string render(const Record& record) const override {
    std::string text;
    write(record, [&](std::string_view piece) { text += piece; });
    return text;
  }

 private:
  static std::string readings_csv(const Record& record) {
    const View view(record);
    std::string document = columns;
    for (const Pair& pair : view.pairs())
      for (const std::string& position : view.positions())
        if (const Cell cell = view.cell(position, pair); cell.mark != Mark::none)
          document += row_for(record, position, pair, cell);
    if (record.verdict) {
      for (const VoltageFinding& finding : record.verdict->supply) document += row_for(record, finding);
      for (const VoltageFinding& finding : record.verdict->voltages) document += row_for(record, finding);
    }
    return document;
  }
};

}  // namespace

std::unique_ptr<Exporter> csv_exporter() { return std::make_unique<CsvExporter>(); }

}  // namespace switchwright
