// One record into one document. Each format is one file in src/report and one line in the table of exporters.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "switchwright/record/record.hpp"

namespace switchwright {

/// Takes a document piece by piece.
using DocumentSink = std::function<void(std::string_view)>;
enum class Paper { a4, letter };  ///< for what is printed

class Exporter {
 public:
  virtual ~Exporter() = default;
  virtual std::string format() const = 0;     ///< "text", "html", ...
  virtual std::string extension() const = 0;  ///< ".txt", ...
  /// The whole document. Text that came from outside is escaped for the format.
  virtual std::string render(const Record& record) const = 0;
  /// The same piece by piece, where it may be long.
  virtual void write(const Record& record, const DocumentSink& sink) const { sink(render(record)); }
  /// Before any work: whether this format can be written here at all. @throws Error(usage).
  virtual void require_possible() const {}
};

/// @throws Error(usage) for an unknown format, with the known ones.
std::unique_ptr<Exporter> make_exporter(const std::string& format, Paper paper = Paper::a4);
std::vector<std::string> export_formats();

/// A few lines: verdict, what deviates, what it is of, notes.
std::string record_in_short(const Record& record);

/// "html" or "pdf": the records of one piece under one front page, with a place to sign. @throws Error(usage) for others.
std::string claim_document(const std::vector<Record>& records, const std::string& format, Paper paper = Paper::a4);
/// "html" or "pdf": two records side by side, what changed beyond its uncertainty marked. @throws Error(usage) for others, and
/// for records that cannot be compared.
std::string comparison_document(const Record& first, const Record& second, const std::string& format,
                                Paper paper = Paper::a4);

/// What stands above everything that is shown of a record whose chain does not hold. @param fault Record::chain_fault.
std::string chain_warning(const std::string& fault);

}  // namespace switchwright
