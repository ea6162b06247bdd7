// Options of what is kept: records and what stands below it, report, label, bag, keys.
#include <memory>

#include "cli/options/option_tables.hpp"
#include "cli/options/option_values.hpp"

namespace switchwright::cli {

namespace {

template <class Options>
CLI::App* command(CLI::App& parent, const char* name, const char* what, std::shared_ptr<Options> options,
                  std::optional<Command>& chosen) {
  CLI::App* made = parent.add_subcommand(name, what);
  made->callback([made, options, &chosen] {
    if (made->get_subcommands().empty()) chosen = *options;
  });
  return made;
}

void add_store(CLI::App* command, std::string& store) {
  command->add_option("--store", store, "record store (or SWITCHWRIGHT_STORE)")->type_name("PATH");
}

void add_filter(CLI::App* command, RecordFilter& filter) {
  command->add_option("--part", filter.part, "only parts whose name or number has this in it")->type_name("TEXT");
  command->add_option("--serial", filter.serial, "only serial numbers that have this in them")->type_name("TEXT");
  command->add_option("--verdict", filter.verdict, "only this outcome")
      ->check(one_of({"pass", "fail", "undecided", "unfinished", "learned", "accept", "reject", "hold"}));
  command->add_option("--from", filter.from, "only what was begun on this day or later")->type_name("YYYY-MM-DD");
  command->add_option("--to", filter.to, "only what was begun on this day or earlier")->type_name("YYYY-MM-DD");
  command->add_option("--operator", filter.operator_name, "only what this person did")->type_name("TEXT");
  command
      ->add_option("--fault", filter.fault, "only where this is the most probable fault: stuck-closed, open:heater ...")
      ->type_name("TEXT");
  command->add_option("--lot", filter.lot, "only this lot of a supplier")->type_name("TEXT");
  command->add_option("--order", filter.order, "only this work order or claim")->type_name("TEXT");
}

void describe_records(CLI::App& app, std::optional<Command>& chosen) {
  const auto o = std::make_shared<RecordsOptions>();
  auto* records = command(app, "records", "kept records; one in short", o, chosen);
  records->require_subcommand(0, 1);
  records->add_option("ID", o->id, "a record, or the unique beginning of its id");
  records->add_flag("--check", o->check, "recompute the hash chain of the record, or of all");
  records->add_option("--restore", o->restore, "put a rescue file back into the store")->type_name("FILE");
  records->add_flag("--all", o->all, "list every record; without it, the newest ones");
  add_filter(records, o->filter);
  add_store(records, o->store);
  records->add_flag("--json", o->json, "JSON Lines");

  const auto e = std::make_shared<RecordsExportOptions>();
  auto* exported = command(*records, "export", "the list of records as a file: one row each", e, chosen);
  exported->add_option("--format", e->format, "csv, or jsonl for JSON Lines; default: by the file's ending, else csv")
      ->check(one_of({"csv", "jsonl"}));
  exported->add_option("-o,--output", e->output, "file to write; default: standard output")->type_name("FILE");
  add_filter(exported, e->filter);
  add_store(exported, e->store);

  const auto p = std::make_shared<PushOptions>();
  auto* push = command(*records, "push", "send records to a shop's PostgreSQL server", p, chosen);
  push->add_option("ID", p->id, "a record, or the beginning of its id; default: all");
  push->add_option("--to", p->to, "the server, without a password; default: the one remembered with --push")
      ->type_name("postgresql://USER@HOST/DATABASE");
  push->add_flag("--push", p->remember,
                 "remember the server in bench.toml: from now on every record is sent when it ends");
  push->add_flag("--no-push", p->forget, "forget the server again");
  push->add_flag("--sql", p->sql, "print the SQL that makes the server's tables and roles, and do nothing else");
  add_store(push, p->store);
  push->add_flag("--json", p->json, "JSON Lines");

  const auto t = std::make_shared<RecordsTrendOptions>();
  auto* trend =
      command(*records, "trend",
              "many records of one part: contact resistance, heater, duty, period and faults by week, supplier and lot",
              t, chosen);
  add_filter(trend, t->filter);
  trend->add_option("--picture", t->picture, "draw them over time")->type_name("FILE.svg");
  trend->add_flag("--simulated", t->simulated, "of simulated records in the place of real ones");
  add_store(trend, t->store);
  trend->add_flag("--json", t->json, "JSON Lines: one object per group");

  const auto a = std::make_shared<RecordsAddOptions>();
  auto* attach = command(*records, "attach", "add photos and files to a record; what was added stays", a, chosen);
  attach->add_option("ID", a->id, "a record, the unique beginning of its id, or latest")->required();
  attach->add_option("FILE", a->files, "files, each at most 64 MiB")->required();
  attach->add_option("--operator", a->operator_name, "who adds them; default: the login name")->type_name("TEXT");
  add_store(attach, a->store);

  const auto n = std::make_shared<RecordsAddOptions>();
  auto* note =
      command(*records, "note", "add a note to a record; it cannot be edited, only followed by another", n, chosen);
  note->add_option("ID", n->id, "a record, the unique beginning of its id, or latest")->required();
  note->add_option("TEXT", n->note, "the note")->required();
  note->add_option("--operator", n->operator_name, "who writes it; default: the login name")->type_name("TEXT");
  add_store(note, n->store);
}

void describe_report(CLI::App& app, std::optional<Command>& chosen) {
  const auto o = std::make_shared<ReportOptions>();
  auto* report = command(app, "report", "one record as a document, or several joined", o, chosen);
  report->add_option("ID", o->id, "a record, the unique beginning of its id, or latest")->required();
  report->add_option("OTHER", o->other,
                     "with --kind comparison: the record to compare with; with --kind claim: the one to join");
  report
      ->add_option(
          "--kind", o->kind,
          "claim: the newest qualification and trace of the record's serial number under one front page; comparison: "
          "two records side by side; default: the record as it is")
      ->check(one_of({"qualification", "trace", "claim", "comparison"}));
  report->add_option("--format", o->format, "text, html, pdf, json, csv; default: by the file's ending, else text")
      ->check(one_of({"text", "html", "pdf", "json", "csv"}));
  report->add_option("--paper", o->paper, "of a PDF: a4 or letter")
      ->check(one_of({"a4", "letter"}))
      ->capture_default_str();
  report->add_option("-o,--output", o->output, "file to write; default: standard output")->type_name("FILE");
  add_store(report, o->store);
}

void describe_sealing(CLI::App& app, std::optional<Command>& chosen) {
  const auto o = std::make_shared<BagOptions>();
  auto* bag = command(app, "bag", "seal one record as evidence that anybody can check, or check such a bag", o, chosen);
  bag->add_option("ID", o->id, "a record, the unique beginning of its id, or latest");
  bag->add_option("-o,--output", o->output, "folder to make")->type_name("DIR");
  bag->add_option("--key", o->key, "Ed25519 private key to sign with (PEM; switchwright keys new)")->type_name("FILE");
  auto* check = bag->add_option(
      "--check", o->check, "check the bag in this folder, or in a .tar, .tar.gz or .zip; exit 5 when it is not whole");
  check->type_name("DIR");
  bag->add_option("--by", o->by, "public key (PEM) that must have signed the bag that is checked")
      ->type_name("FILE")
      ->needs(check);
  bag->add_option("--paper", o->paper, "of report.pdf in the bag: a4 or letter")
      ->check(one_of({"a4", "letter"}))
      ->capture_default_str();
  bag->add_flag("--without-pdf", o->without_pdf, "seal without report.pdf");
  bag->add_flag("--without-attachments", o->without_attachments,
                "seal without the files attached to the record; the bag says so");
  bag->add_option("--timestamp-request", o->timestamp_request,
                  "write what a time-stamp authority (RFC 3161) is to be sent for the bag that is sealed or checked")
      ->type_name("FILE");
  bag->add_option("--timestamp-response", o->timestamp_response,
                  "put the authority's answer into the bag that is checked; it must be of this very bag")
      ->type_name("FILE")
      ->needs(check);
  bag->add_option("--authority", o->authority,
                  "certificates (PEM) of the authority that must have stamped the bag that is checked")
      ->type_name("FILE")
      ->needs(check);
  add_store(bag, o->store);
  bag->add_flag("--json", o->json, "one JSON object");

  auto* keys = app.add_subcommand("keys", "the key that signs bags");
  keys->require_subcommand(1);
  const auto k = std::make_shared<KeysOptions>();
  auto* fresh = command(*keys, "new", "make one, readable by its owner alone, and show its fingerprint", k, chosen);
  fresh->add_option("FILE", k->file, "the private key (PEM); the public one goes beside it as .pub.pem")->required();
  auto* file = fresh
                   ->add_option("--passphrase-file", k->passphrase_file,
                                "encrypt it; the first line of this file is the passphrase")
                   ->type_name("FILE");
  fresh->add_flag("--passphrase", k->ask_passphrase, "encrypt it; the passphrase is asked for")->excludes(file);

  const auto l = std::make_shared<LabelOptions>();
  auto* label = command(app, "label", "a label of 62 mm for the part, with a QR code", l, chosen);
  label->add_option("ID", l->id, "a record, the unique beginning of its id, or latest")->required();
  label->add_option("-o,--output", l->output, "file to write, .pdf or .png")->type_name("FILE")->required();
  add_store(label, l->store);
}

}  // namespace

void add_claim(CLI::App& command, ClaimOptions& claim) {
  command.add_flag("--claim", claim.ask,
                   "in a terminal: ask for what a claim names; the answers are remembered for the order");
  command.add_option("--order", claim.order, "work order or claim number")->type_name("TEXT");
  command.add_option("--appliance", claim.appliance, "model of the appliance that the part is from")->type_name("TEXT");
  command.add_option("--appliance-serial", claim.appliance_serial, "its serial number")->type_name("TEXT");
  command.add_option("--date-code", claim.date_code, "date code on the part")->type_name("TEXT");
  command.add_option("--supplier", claim.supplier, "who sold the part")->type_name("TEXT");
  command.add_option("--supplier-lot", claim.lot, "the supplier's lot or batch")->type_name("TEXT");
  command.add_option("--remark", claim.remark, "what the customer said")->type_name("TEXT");
}

void describe_keeping(CLI::App& app, std::optional<Command>& chosen) {
  describe_records(app, chosen);
  describe_report(app, chosen);
  describe_sealing(app, chosen);
}

}  // namespace switchwright::cli
