// The exporters, one per file. A new format is one file and one line in exporter.cpp.
#pragma once

#include <memory>

#include "switchwright/report/exporter.hpp"

namespace switchwright {

/// A page for paper, set by weasyprint. @throws Error(usage) when it is not installed.
std::string pdf_of_page(const std::string& html);

std::unique_ptr<Exporter> text_exporter();
std::unique_ptr<Exporter> html_exporter();
std::unique_ptr<Exporter> pdf_exporter(Paper paper);
/// A page on its way to paper, through weasyprint. @throws Error when it is not there.
std::string pdf_of_page(const std::string& html);
std::unique_ptr<Exporter> json_exporter();
std::unique_ptr<Exporter> csv_exporter();

}  // namespace switchwright
