#include "record/lot_json.hpp"

#include "record/json_parts.hpp"

namespace switchwright {

using namespace json_parts;

namespace {

json class_json(const LotClassPlan& plan) {
  json object;
  put(object, "severity", plan.severity);
  if (plan.aql > 0.0) put(object, "aql", plan.aql);
  put(object, "code_letter", plan.code_letter);
  object["sample_size"] = plan.sample_size;
  object["accept"] = plan.accept;
  object["reject"] = plan.reject;
  return object;
}

LotClassPlan class_from(const json& object) {
  return {text_at(object, "severity"),       number_at(object, "aql"),     text_at(object, "code_letter"),
          integer_at(object, "sample_size"), integer_at(object, "accept"), integer_at(object, "reject")};
}

json opening_json(const LotOpening& lot) {
  json object;
  put(object, "supplier", lot.supplier);
  put(object, "order", lot.order);
  put(object, "lot_number", lot.lot_number);
  object["size"] = lot.size;
  put(object, "condition", lot.condition);
  put(object, "level", lot.level);
  put(object, "mode", lot.mode);
  put(object, "mode_reason", lot.mode_reason);
  put(object, "drawing", lot.drawing);
  object["seed"] = lot.seed;
  object["full_every"] = lot.full_every;
  put_rows(object, "classes", lot.classes, class_json);
  object["units"] = lot.units;
  put_rows(object, "references", lot.references, [](const ReferenceResistor& resistor) {
    json one;
    put(one, "name", resistor.name);
    put(one, "ohm", resistor.ohm);
    put(one, "U_ohm", resistor.U_ohm);
    return one;
  });
  if (!lot.versions.empty()) object["versions"] = lot.versions;
  if (lot.reduced_limit) object["reduced_limit"] = *lot.reduced_limit;
  put(object, "resubmits", lot.resubmits);
  put(object, "resubmitted_words", lot.resubmitted_words);
  put(object, "corrective_action", lot.corrective_action);
  return object;
}

LotOpening opening_from(const json& object) {
  LotOpening lot;
  lot.supplier = text_at(object, "supplier");
  lot.order = text_at(object, "order");
  lot.lot_number = text_at(object, "lot_number");
  lot.size = integer_at(object, "size");
  lot.condition = text_at(object, "condition");
  lot.level = text_at(object, "level");
  lot.mode = text_at(object, "mode");
  lot.mode_reason = text_at(object, "mode_reason");
  lot.drawing = text_at(object, "drawing");
  lot.seed = object.value("seed", std::int64_t{0});
  lot.full_every = integer_at(object, "full_every", 0);
  for (const json& one : object.value("classes", json::array())) lot.classes.push_back(class_from(one));
  lot.units = object.value("units", std::vector<int>{});
  for (const json& one : object.value("references", json::array()))
    lot.references.push_back({text_at(one, "name"), number_at(one, "ohm"), number_at(one, "U_ohm")});
  lot.versions = object.value("versions", std::vector<std::string>{});
  if (object.contains("reduced_limit")) lot.reduced_limit = object.value("reduced_limit", 0L);
  lot.resubmits = text_at(object, "resubmits");
  lot.resubmitted_words = text_at(object, "resubmitted_words");
  lot.corrective_action = text_at(object, "corrective_action");
  return lot;
}

json unit_json(const LotUnitRow& row) {
  json object;
  object["place"] = row.place;
  object["unit"] = row.unit;
  put(object, "what", row.what);
  put(object, "serial", row.serial);
  put(object, "record", row.record);
  put(object, "record_head", row.record_head);
  put(object, "plan", row.plan);
  put(object, "outcome", row.outcome);
  put(object, "severity", row.severity);
  put(object, "text", row.text);
  object["retest"] = row.retest;
  if (row.work_s > 0.0) put(object, "work_s", row.work_s);
  put(object, "operator", row.operator_name);
  object["at"] = iso8601(row.at);
  return object;
}

LotUnitRow unit_from(const json& object) {
  LotUnitRow row;
  row.place = integer_at(object, "place");
  row.unit = integer_at(object, "unit");
  row.what = text_at(object, "what");
  row.serial = text_at(object, "serial");
  row.record = text_at(object, "record");
  row.record_head = text_at(object, "record_head");
  row.plan = text_at(object, "plan");
  row.outcome = text_at(object, "outcome");
  row.severity = text_at(object, "severity");
  row.text = text_at(object, "text");
  row.retest = object.value("retest", false);
  row.work_s = number_at(object, "work_s");
  row.operator_name = text_at(object, "operator");
  row.at = parse_iso8601(text_at(object, "at"));
  return row;
}

json check_json(const BenchCheckRow& row) {
  json object;
  put(object, "reference", row.reference);
  put(object, "ohm", row.ohm);
  put(object, "U_ohm", row.U_ohm);
  put(object, "read_ohm", row.read_ohm);
  put(object, "limit_ohm", row.limit_ohm);
  object["in"] = row.in;
  put(object, "record", row.record);
  put(object, "operator", row.operator_name);
  object["at"] = iso8601(row.at);
  return object;
}

BenchCheckRow check_from(const json& object) {
  return {text_at(object, "reference"),        number_at(object, "ohm"),       number_at(object, "U_ohm"),
          maybe_number_at(object, "read_ohm"), number_at(object, "limit_ohm"), object.value("in", false),
          text_at(object, "record"),           text_at(object, "operator"),    parse_iso8601(text_at(object, "at"))};
}

}  // namespace

void put_lot(json& object, const Batch& batch) {
  if (batch.lot) object["lot"] = opening_json(*batch.lot);
  put_rows(object, "lot_units", batch.lot_units, unit_json);
  put_rows(object, "bench_checks", batch.bench_checks, check_json);
  put_rows(object, "lot_decisions", batch.lot_decisions, [](const LotDecisionRow& row) {
    json one;
    put(one, "decision", row.decision);
    put(one, "reason", row.reason);
    put(one, "operator", row.operator_name);
    one["at"] = iso8601(row.at);
    return one;
  });
}

void add_lot_to_record(const json& batch, Batch& record) {
  if (batch.contains("lot")) record.lot = opening_from(batch["lot"]);
  const auto rows = [&](const char* key) { return batch.value(key, json::array()); };
  for (const json& row : rows("lot_units")) record.lot_units.push_back(unit_from(row));
  for (const json& row : rows("bench_checks")) record.bench_checks.push_back(check_from(row));
  for (const json& row : rows("lot_decisions"))
    record.lot_decisions.push_back({text_at(row, "decision"), text_at(row, "reason"), text_at(row, "operator"),
                                    parse_iso8601(text_at(row, "at"))});
}

}  // namespace switchwright
