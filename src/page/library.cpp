#include "page/library.hpp"

#include <filesystem>
#include <fstream>
#include <sstream>

#include "page/archive.hpp"
#include "page/lot_unit.hpp"
#include "page/work.hpp"
#include "switchwright/bench/stated_range.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/judge/scope_json.hpp"
#include "switchwright/meter/find.hpp"
#include "switchwright/meter/own.hpp"
#include "switchwright/meter/ports.hpp"
#include "switchwright/profile/fault.hpp"
#include "switchwright/profile/library.hpp"
#include "switchwright/record/store.hpp"
#include "switchwright/report/bag.hpp"
#include "switchwright/report/claim.hpp"
#include "switchwright/report/exporter.hpp"
#include "switchwright/report/label.hpp"
#include "switchwright/report/schematic.hpp"

namespace switchwright::page {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t most_records_listed = 500;

Response of_json(const Json& json) {
  Response response;
  response.type = "application/json";
  response.body = std::make_shared<const std::string>(dumped(json));
  return response;
}

Response of_text(std::string type, std::string text) {
  Response response;
  response.type = std::move(type);
  response.body = std::make_shared<const std::string>(std::move(text));
  return response;
}

/// A file that cannot be read is told with the others; it does not hide them.
Json profiles_json(const DeskSettings& settings) {
  Json all = Json::array();
  for (const std::string& id : list_profiles(settings.profiles)) {
    try {
      const Profile profile = load_profile(id, settings.profiles);
      Json one = part_json(profile);
      one["powered"] = profile.powered.has_value();
      one["timed"] = Json::array();
      for (const Timing& timing : profile.timing) one["timed"].push_back(timing.position);
      one["current_a"] = profile.rating.current_a;
      one["stated"] = Json::array();
      for (const StatedRequirement& wanted : profile.stated)
        one["stated"].push_back({{"id", wanted.id},
                                 {"what", wanted.what},
                                 {"required", wanted.required},
                                 {"needs_U", !wanted.U_pct.has_value()}});
      all.push_back(one);
    } catch (const Error& error) {
      all.push_back({{"profile", id}, {"broken", error.what()}});
    }
  }
  return all;
}

Json meters_json(const DeskSettings& settings) {
  Json all = Json::array();
  for (const std::string& id : list_meter_definitions(settings.meters)) {
    try {
      const MeterDefinition meter = load_meter_definition(id, settings.meters);
      all.push_back({{"meter", id},
                     {"title", meter.title},
                     {"provenance", meter.provenance},
                     {"asks_range", range_must_be_stated(meter)},
                     {"volts_dc", meter.finest(Quantity::voltage_dc) != nullptr},
                     {"volts_ac", meter.finest(Quantity::voltage_ac) != nullptr}});
    } catch (const Error& error) {
      all.push_back({{"meter", id}, {"broken", error.what()}});
    }
  }
  return all;
}

Json own_json(const DeskSettings& settings) {
  const Wall now = SystemClock{}.now().wall;
  Json all = Json::array();
  for (const OwnMeter& own : load_own_meters(settings.own_meters))
    all.push_back({{"name", own.name},
                   {"meter", own.definition},
                   {"serial", own.serial},
                   {"calibration", to_string(calibration_state(own, now))},
                   {"words", calibration_words(own, now)},
                   {"remarks", calibration_remarks(own, now)}});
  return all;
}

Json ports_json() {
  Json all = Json::array();
  for (const PortInfo& port : list_ports())
    all.push_back({{"port", port.by_id.empty() ? port.device : port.by_id},
                   {"device", port.device},
                   {"product", port.product},
                   {"readable", port.readable},
                   {"left_alone", left_alone_because(port)}});
  return all;
}

Json records_json(const DeskSettings& settings) {
  Json all = Json::array();
  if (!fs::exists(settings.store)) return all;
  const Store store{settings.store};
  store.walk([&](const RecordSummary& record) {
    Json one{{"record", record.id},
             {"kind", to_string(record.kind)},
             {"started", iso8601(record.started)},
             {"outcome", record.outcome},
             {"part", record.part},
             {"serial", record.serial},
             {"profile", record.profile_id},
             {"operator", record.operator_name},
             {"simulated", record.simulated}};
    if (record.scope) one["scope"] = scope_json<Json>(*record.scope);
    if (!record.chain_fault.empty()) one["fault"] = record.chain_fault;
    all.push_back(one);
    return all.size() < most_records_listed;
  });
  return all;
}

/// A folder of its own that goes away again.
class Scratch {
 public:
  Scratch() {
    std::string pattern = (fs::temp_directory_path() / "switchwright-bag-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr)
      throw Error(ErrorKind::store, "no place to make the bag", pattern, "set TMPDIR");
    path_ = pattern;
  }
  ~Scratch() {
    std::error_code ignored;
    fs::remove_all(path_, ignored);
  }
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;
  const fs::path& path() const { return path_; }

 private:
  fs::path path_;
};

Response bag_of(const DeskSettings& settings, const std::string& id) {
  const Store store{settings.store};
  const Record record = store.load(id);
  const Scratch scratch;
  const std::string name = "switchwright-" + record.header.id;
  write_bag([&](const auto& take) { store.each_link(record.header.id, take); }, scratch.path() / name,
            {std::nullopt, paper_if_printable(Paper::a4), store.path()});
  Response response = of_text("application/x-tar", tar_of(scratch.path(), name));
  response.file_name = name + ".tar";
  return response;
}

Response document_of(const DeskSettings& settings, const std::string& id, const std::string& format) {
  const Store store{settings.store};
  const Record record = store.load(id, true);
  static const std::map<std::string, std::string> types{{"html", "text/html; charset=utf-8"},
                                                        {"text", "text/plain; charset=utf-8"},
                                                        {"json", "application/json"},
                                                        {"csv", "text/csv; charset=utf-8"},
                                                        {"pdf", "application/pdf"}};
  const auto type = types.find(format);
  if (type == types.end()) throw Error(ErrorKind::usage, "there is no format of that name", format);
  const auto exporter = make_exporter(format);
  Response response = of_text(type->second, exporter->render(record));
  response.report = true;
  if (format != "html" && format != "text")
    response.file_name = "switchwright-" + record.header.id + exporter->extension();
  return response;
}

/// The newest two records of a piece under one front page.
Response claim_of(const DeskSettings& settings, const std::string& id, const std::string& format) {
  const Store store{settings.store};
  Response response = of_text(format == "pdf" ? "application/pdf" : "text/html; charset=utf-8",
                              claim_document(claim_records(store, store.load(id, true)), format));
  response.report = true;
  if (format == "pdf") response.file_name = "switchwright-claim-" + id + ".pdf";
  return response;
}

Response label_of(const DeskSettings& settings, const std::string& id) {
  const Store store{settings.store};
  const Record record = store.load(id, true);
  if (!record.chain_fault.empty())
    throw Error(ErrorKind::store, chain_warning(record.chain_fault), id, "measure the part again");
  require_label_stands(store, record);
  Response response = of_text("application/pdf", label_pdf(record));
  response.file_name = "switchwright-label-" + record.header.id + ".pdf";
  return response;
}

/// The faults that may be put into a simulated part.
Json faults_json(const Profile& profile) {
  Json all = Json::array();
  const auto add = [&](const std::string& fault, const std::string& words) {
    all.push_back({{"fault", fault}, {"words", words}});
  };
  for (const Contact& contact : profile.contacts) {
    add("stuck-open:" + contact.id, "contact " + contact.id + " never closes");
    add("stuck-closed:" + contact.id, "contact " + contact.id + " is welded");
    add("resistive:" + contact.id + "=6", "contact " + contact.id + " is burnt: 6 ohm");
  }
  for (const Element& element : profile.elements) {
    add("open:" + element.id, element.id + " is broken");
    add("shorted:" + element.id, element.id + " is shorted");
  }
  if (profile.terminals.size() >= 2)
    add("swapped:" + profile.terminals[0] + "," + profile.terminals[1],
        "leads " + profile.terminals[0] + " and " + profile.terminals[1] + " are exchanged");
  if (!profile.exposed_metal.empty() && !profile.terminals.empty())
    add("bridged:" + profile.terminals[0] + "," + profile.exposed_metal[0],
        profile.terminals[0] + " touches " + profile.exposed_metal[0]);
  return all;
}

std::string value(const Request& request, const char* key) {
  const auto found = request.query.find(key);
  return found == request.query.end() ? std::string{} : found->second;
}

/// Names of the library only: a path from outside opens no file.
std::string plain_name(const std::string& name) {
  if (name.empty() || name.find('/') != std::string::npos)
    throw Error(ErrorKind::usage, "there is nothing of that name", name);
  return name;
}

}  // namespace

std::function<Response()> errand_for(const Request& request, const DeskSettings& settings, bool demo) {
  if (request.path == "/api/profiles") return [settings] { return of_json(profiles_json(settings)); };
  if (request.path == "/api/meters") return [settings] { return of_json(meters_json(settings)); };
  if (request.path == "/api/own-meters") return [settings] { return of_json(own_json(settings)); };
  if (request.path == "/api/ports") return [] { return of_json(ports_json()); };
  if (request.path == "/api/records") return [settings] { return of_json(records_json(settings)); };
  if (request.path == "/api/lots")
    return
        [settings] { return of_json(fs::exists(settings.store) ? lots_json(Store{settings.store}) : Json::array()); };
  if (request.path == "/api/faults" && demo)
    return [settings, id = value(request, "profile")] {
      return of_json(faults_json(load_profile(plain_name(id), settings.profiles)));
    };
  if (request.path == "/api/schematic")
    return [settings, id = value(request, "profile"), at = value(request, "position")] {
      return of_text("image/svg+xml", schematic_figure(load_profile(plain_name(id), settings.profiles), at));
    };
  // /records/ID/report?format=html, /records/ID/bag
  constexpr std::string_view records = "/records/";
  if (request.path.starts_with(records)) {
    const std::string rest = request.path.substr(records.size());
    const auto slash = rest.find('/');
    if (slash == std::string::npos) return {};
    const std::string id = rest.substr(0, slash);
    if (rest.substr(slash) == "/bag") return [settings, id] { return bag_of(settings, id); };
    if (rest.substr(slash) == "/label") return [settings, id] { return label_of(settings, id); };
    if (rest.substr(slash) == "/claim")
      return [settings, id, format = value(request, "format")] {
        return claim_of(settings, id, format.empty() ? "html" : format);
      };
    if (rest.substr(slash) == "/report")
      return [settings, id, format = value(request, "format")] {
        return document_of(settings, id, format.empty() ? "html" : format);
      };
  }
  return {};
}

}  // namespace switchwright::page
