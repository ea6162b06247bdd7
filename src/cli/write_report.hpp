// Choosing a record and a format: shared by report, bag and qualify.
#pragma once

#include <string>

#include "switchwright/record/store.hpp"
#include "switchwright/report/exporter.hpp"

namespace switchwright::cli {

/// The export format that a file's ending asks for; text when it has none. @throws Error(usage) for an ending that no
/// format has.
std::string format_for(const std::string& file);
/// Looks, before any work, whether the report that is asked for at its end can be written. @throws Error(usage).
void require_report_place(const std::string& file);
/// Writes it there, whole or not at all. @throws Error(store).
void write_report_file(const std::string& file, const Exporter& exporter, const Record& record);
/// `code`, but 5 when the chain of what was shown does not hold.
int exit_code_of_shown(const Record& record, int code);
/// What Store takes for a record that is named by its id, its beginning, or "latest". @throws Error(usage).
std::string record_named(const Store& store, const std::string& id);
/// A record by id, unique beginning, or "latest"; a chain that does not hold is told on stderr, before anything else.
/// @throws Error(usage).
Record load_record(const Store& store, const std::string& id);
/// The same for work that must not stand on a record that was changed. @throws Error(store) when its chain does not hold.
Record load_whole_record(const Store& store, const std::string& id);

}  // namespace switchwright::cli
