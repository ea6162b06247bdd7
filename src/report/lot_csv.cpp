// The units of a lot, one a line. RFC 4180: comma, CRLF, a header line; what is not known is an empty field.
#include <fmt/format.h>

#include <map>

#include "core/escape.hpp"
#include "switchwright/record/canonical.hpp"
#include "switchwright/report/lot_report.hpp"

namespace switchwright {

namespace {

/// Shares are fractions of 1 and have none.
std::string unit_of(const LotMeasurand& measurand) {
  switch (measurand.in) {
    case LotUnitOfValue::ohm: return " ohm";
    case LotUnitOfValue::second: return " s";
    case LotUnitOfValue::share: break;
  }
  return {};
}

}  // namespace

std::string lot_csv(const LotDocument& document) {
  std::string text = "lot,place,unit,serial,state,severity,plan,record,retested,replaced,work_s,why";
  for (const LotMeasurand& measurand : document.values.measurands)
    text += "," + csv_text(measurand.name + unit_of(measurand)) + "," +
            csv_text(measurand.name + " U" + unit_of(measurand));
  text += ",version\r\n";
  for (const LotPlaceState& place : document.course.places) {
    text += fmt::format("{},{},{},{},{},{},{},{},{},{},{},{}", csv_text(document.lot.lot->lot_number), place.place,
                        place.unit, csv_text(place.serial), to_string(place.state), place.severity, place.plan,
                        place.record, place.retested ? "yes" : "no", place.replaced ? "yes" : "no",
                        place.work_s > 0.0 ? fmt::format("{:.1f}", place.work_s) : "", csv_text(place.why));
    for (const LotMeasurand& measurand : document.values.measurands) {
      std::string value = ",";
      for (const LotValue& one : measurand.values)
        if (one.unit == place.unit) value = canonical_number(one.value) + "," + canonical_number(one.U);
      text += "," + value;
    }
    std::string version;
    for (const LotVersion& one : document.values.versions)
      if (one.unit == place.unit)
        version = one.version.answer == VersionAnswer::neither     ? "neither"
                  : one.version.answer == VersionAnswer::ambiguous ? "ambiguous"
                                                                   : one.version.id;
    text += "," + csv_text(version) + "\r\n";
  }
  return text;
}

}  // namespace switchwright
