#include <CLI/CLI.hpp>
#include <memory>

#include "cli/options/option_tables.hpp"
#include "cli/options/option_values.hpp"

namespace switchwright::cli {

void describe_serve(CLI::App& app, std::optional<Command>& chosen) {
  const auto given = std::make_shared<ServeOptions>();
  ServeOptions& options = *given;
  auto* serve =
      app.add_subcommand("serve", "the bench page: the guided work in a browser on this computer or a tablet");
  serve->callback([given, &chosen] { chosen = *given; });
  serve
      ->add_option(
          "--listen", options.listen,
          "address and port; other computers reach only an address that is not 127.0.0.1, and that needs a token")
      ->type_name("ADDRESS:PORT")
      ->capture_default_str();
  serve
      ->add_option("--token-file", options.token_file,
                   "whoever opens the page needs the token in this file; made when it is not there")
      ->type_name("FILE");
  serve->add_option("--tls-cert", options.tls_cert, "certificate chain (PEM): nobody on the network can read along")
      ->type_name("FILE");
  serve->add_option("--tls-key", options.tls_key, "its private key (PEM)")->type_name("FILE");
  serve
      ->add_option("--name", options.names,
                   "a host name that the page is reached by, beside the address; may be repeated")
      ->type_name("NAME");
  auto* demo =
      serve->add_flag("--demo", options.demo, "a simulated switch and meter, with a panel that plays the hands");
  serve->add_option("--profile", options.profile, "the simulated switch of the demonstration")
      ->type_name("ID")
      ->needs(demo);
  serve->add_option("--meter", options.meter, "the simulated meter of the demonstration")
      ->type_name("ID")
      ->capture_default_str()
      ->needs(demo);
  add_amount(*serve, "--rate", options.rate_hz, Amount::hertz, {0.1, 200.0},
             "readings per second of the simulated meter")
      ->type_name("RATE")
      ->needs(demo);
  add_time(*serve, "--settle", options.settle_s, settle_range, "a reading has settled when it agrees for this long")
      ->default_str("0.6s");
  serve->add_option("--store", options.store, "record store (or SWITCHWRIGHT_STORE)")->type_name("PATH");
  serve->footer(
      "Work that waits for a person goes on without any page; a page that comes back finds the same step.\n"
      "With an address that others can reach, give --tls-cert and --tls-key as well: without them everybody on the\n"
      "network can read along, the token too.");
}

}  // namespace switchwright::cli
