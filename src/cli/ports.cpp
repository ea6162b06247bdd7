#include "switchwright/meter/ports.hpp"

#include <nlohmann/json.hpp>

#include "cli/options/options.hpp"
#include "cli/output.hpp"
#include "cli/view/table.hpp"
#include "switchwright/core/text.hpp"

namespace switchwright::cli {

int run(const PortsOptions& options) {
  const auto ports = list_ports();
  if (options.json) {
    for (const PortInfo& port : ports)
      put_line(nlohmann::ordered_json{{"type", "port"},
                                      {"port", port.device},
                                      {"by_id", port.by_id},
                                      {"by_path", port.by_path},
                                      {"vendor_id", port.vendor_id},
                                      {"product_id", port.product_id},
                                      {"product", port.product},
                                      {"serial", port.serial},
                                      {"driver", port.driver},
                                      {"readable", port.readable}}
                   .dump(-1, ' ', false, nlohmann::json::error_handler_t::replace));
    return 0;
  }
  if (ports.empty()) {
    say("No port for a meter was found (serial, HID, USBTMC). Plug the meter's USB cable in; in a container or virtual machine the port must be passed "
        "through.");
    return 0;
  }
  Table table{{"port", "usb", "product", "serial", "stable name", ""}};
  for (const PortInfo& port : ports)
    table.add({port.device, port.vendor_id.empty() ? "-" : port.vendor_id + ":" + port.product_id,
               terminal_safe(port.product), terminal_safe(port.serial), port.by_id,
               port.readable ? "" : "no permission: switchwright doctor says how to mend it"});
  put(table.text());
  return 0;
}

}  // namespace switchwright::cli
