// A label 62 mm wide that goes onto the part: verdict, serial number, date, record, and a QR code that says the same, so
// that the record is found again from the part.
#pragma once

#include <string>

#include "switchwright/record/record.hpp"

namespace switchwright {

class Store;

/// What the QR code says, one "word: value" per line: record, verdict, serial, date, chain head. A serial number longer than
/// 80 bytes is cut; the record's id finds it whole.
std::string label_code_text(const Record& record);
/// @throws Error when weasyprint is missing.
/// @throws Error(usage) when the record is a pass and a later one of the same piece speaks against it.
void require_label_stands(const Store& store, const Record& record);
std::string label_pdf(const Record& record);
/// 300 dots per inch. @throws Error when weasyprint or pdftoppm is missing.
std::string label_png(const Record& record);

}  // namespace switchwright
