#include "cli/choose/places.hpp"
#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "switchwright/core/error.hpp"
#include "switchwright/core/text.hpp"
#include "switchwright/meter/decoder.hpp"
#include "switchwright/meter/definition.hpp"

namespace switchwright::cli {

namespace {

/// What is no mistake but will be missed at the bench.
void advise(const MeterDefinition& meter) {
  if (meter.accuracy.empty())
    say("  note: no [[accuracy]] rows: readings from it have no uncertainty and decide nothing");
  else if (!meter.finest(Quantity::resistance) && !meter.finest(Quantity::resistance_4_wire))
    say("  note: no [[accuracy]] row for resistance: it cannot qualify a switch");
}

}  // namespace

int run(const MetersCheckOptions& options) {
  bool good = true;
  for (const std::string& file : options.files) {
    try {
      // A bare file name means the file here, not a definition of that name.
      const std::string path = file.find('/') == std::string::npos ? "./" + file : file;
      const MeterDefinition meter = load_meter_definition(path, {});
      (void)make_decoder(meter);
      put_line(terminal_safe(file) + ": ok: " + meter.decoder.kind + ", " + terminal_safe(meter.title));
      advise(meter);
    } catch (const Error& error) {
      good = false;
      say(error.what());
    }
  }
  return good ? 0 : 2;
}

}  // namespace switchwright::cli
