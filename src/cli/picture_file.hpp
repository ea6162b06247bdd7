// Where a picture is written to: SVG as it is, PNG by way of a converter of the system.
#pragma once

#include <string>

namespace switchwright::cli {

/// By the file's ending, .svg or .png. @throws Error(usage) for another one, or without the converter.
void write_picture(const std::string& file, const std::string& svg);

}  // namespace switchwright::cli
