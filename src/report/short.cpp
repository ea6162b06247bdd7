// A record in a few lines, for whoever asks what it was.
#include <fmt/format.h>

#include <algorithm>

#include "core/escape.hpp"
#include "report/view.hpp"
#include "report/voltages.hpp"
#include "report/wrap.hpp"
#include "switchwright/record/additions.hpp"
#include "switchwright/record/record_json.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright {

std::string record_in_short(const Record& record) {
  const View view(record);
  std::string out;
  if (!record.chain_fault.empty()) out += wrapped("", "  ", line_safe(chain_warning(record.chain_fault)));
  if (record.header.kind == RecordKind::practice) out += "PRACTICE: no part was tested.\n";
  if (record.header.simulated) out += "SIMULATED: not a real part.\n";
  std::string title = view.title();
  std::transform(title.begin(), title.end(), title.begin(),
                 [](unsigned char c) { return static_cast<char>(std::toupper(c)); });
  out += wrapped(title + ": ", "  ", line_safe(view.headline()));
  constexpr std::size_t most = 5;
  std::vector<std::string> deviations;
  for (const Group& group : view.deviations()) deviations.push_back(view.told(group));
  for (const VoltageGroup& group : voltage_deviations(view)) deviations.push_back(told(view, group));
  for (std::size_t i = 0; i < std::min(most, deviations.size()); ++i)
    out += wrapped("  * ", "    ", line_safe(deviations[i]));
  if (deviations.size() > most) out += fmt::format("  * and {} more\n", deviations.size() - most);
  for (const NamedFact& fact : view.identity())
    if (!fact.missing || fact.name == "Operator" || fact.name == "Meter last calibrated")
      out += wrapped(fmt::format("  {:<24} ", fact.name), std::string(27, ' '), line_safe(fact.value));
  out += "  Record                   " + record.header.id + ", chain head " +
         (record.chain_head.empty() ? "none" : record.chain_head.substr(0, 16) + "...") + "\n";
  for (const AddedNote& note : notes_in(record))
    out += wrapped("  Note                     ", std::string(27, ' '),
                   line_safe(local_time_text(note.at, record.header) + ", " + note.who + ": " + note.text));
  for (const Attachment& a : attachments_in(record))
    out += wrapped("  Attached                 ", std::string(27, ' '),
                   line_safe(fmt::format("{}, {} bytes, by {}", a.name, a.bytes, a.who)));
  return out + "In full: switchwright report " + record.header.id + "\n";
}

}  // namespace switchwright
