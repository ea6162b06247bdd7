# Turns the files of a folder into one .cpp: cmake -DFROM=DIR -DTO=FILE.cpp -P embed.cmake
file(GLOB_RECURSE files RELATIVE ${FROM} ${FROM}/*)
list(SORT files)
set(arrays "")
set(rows "")
set(all "")
set(n 0)
foreach(file ${files})
  file(READ ${FROM}/${file} hex HEX)
  string(SHA256 hash "${hex}")
  string(APPEND all "${file}${hash}")
  string(REGEX REPLACE "(..)" "0x\\1," bytes "${hex}")
  string(REGEX REPLACE "(................................................................................)" "\\1\n" bytes "${bytes}")
  get_filename_component(ending ${file} LAST_EXT)
  if(ending STREQUAL ".html")
    set(type "text/html; charset=utf-8")
  elseif(ending STREQUAL ".js")
    set(type "text/javascript; charset=utf-8")
  elseif(ending STREQUAL ".css")
    set(type "text/css; charset=utf-8")
  elseif(ending STREQUAL ".svg")
    set(type "image/svg+xml")
  elseif(ending STREQUAL ".webmanifest")
    set(type "application/manifest+json")
  else()
    message(FATAL_ERROR "embed.cmake: what type is ${file}?")
  endif()
  string(APPEND arrays "constexpr unsigned char file_${n}[] = {\n${bytes}0};\n")
  string(APPEND rows "    {\"/${file}\", \"${type}\", {reinterpret_cast<const char*>(file_${n}), sizeof file_${n} - 1}},\n")
  math(EXPR n "${n} + 1")
endforeach()
string(SHA256 version "${all}")
string(SUBSTRING ${version} 0 12 version)
file(WRITE ${TO} "// Made by embed.cmake from src/page/web; not to be edited.
#include \"page/files.hpp\"

namespace switchwright::page {

namespace {

${arrays}
const File files[] = {
${rows}};

}  // namespace

const File* file_at(const std::string& path) {
  const std::string wanted = path == \"/\" ? \"/index.html\" : path;
  for (const File& file : files)
    if (wanted == file.path) return &file;
  return nullptr;
}

const char* files_version() { return \"${version}\"; }

}  // namespace switchwright::page
")
