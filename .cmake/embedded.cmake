# SPDX-License-Identifier: GPL-3.0-or-later
# Writes the files of LANGUAGES ("de;fr") in FOLDER (de.mo, ...) as C++ arrays to OUT.   cmake -P
set(arrays "")
set(rows "")
foreach(language ${LANGUAGES})
  file(READ ${FOLDER}/${language}.mo hex HEX)
  string(REGEX REPLACE "(..)" "0x\\1," bytes "${hex}")
  string(REPEAT "0x..," 16 line)
  string(REGEX REPLACE "(${line})" "\\1\n" bytes "${bytes}")
  string(APPEND arrays "constexpr unsigned char k_${language}[] = {\n${bytes}};\n")
  string(APPEND rows "    {\"${language}\", k_${language}},\n")
endforeach()
file(WRITE ${OUT} "// Made by the build from the catalogues in plugin/report/po.
#include \"plugin/report/catalogue.hpp\"

namespace airlatch {
namespace {
${arrays}constexpr Catalogue kAll[] = {
${rows}};
}  // namespace

std::span<const Catalogue> catalogues() { return kAll; }

}  // namespace airlatch
")
