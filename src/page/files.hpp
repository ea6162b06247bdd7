// The files of the page, compiled in: everything under src/page/web.
#pragma once

#include <string>
#include <string_view>

namespace switchwright::page {

struct File {
  const char* path;  ///< as a browser asks for it: "/app.js"
  const char* type;
  std::string_view bytes;
};

/// nullptr when there is none; "/" is "/index.html".
const File* file_at(const std::string& path);
/// Another one when any file is another one: a page that is still open from before learns that it is old.
const char* files_version();

}  // namespace switchwright::page
