#include "report/exporters.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright {

namespace {

struct Format {
  const char* name;
  std::unique_ptr<Exporter> (*make)();
};

constexpr Format formats[] = {
    {"text", text_exporter}, {"html", html_exporter}, {"pdf", pdf_exporter},
    {"json", json_exporter}, {"csv", csv_exporter},
};

}  // namespace

std::vector<std::string> export_formats() {
  std::vector<std::string> names;
  for (const Format& format : formats) names.emplace_back(format.name);
  return names;
}

std::string chain_warning(const std::string& fault) {
  return "NOT WHOLE: this record was changed after it was written; do not rely on what it says (" + fault + ")";
}

std::unique_ptr<Exporter> make_exporter(const std::string& format) {
  for (const Format& known : formats)
    if (format == known.name) return known.make();
  throw Error(ErrorKind::usage, "there is no report format \"" + format + "\"", "",
              suggestion(format, export_formats()));
}

}  // namespace switchwright
