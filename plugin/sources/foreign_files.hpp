// SPDX-License-Identifier: GPL-3.0-or-later
// foreign_files.hpp: formats that are not read, by name, so that a refusal says what the file is and
// what to do with it.
#pragma once
#include <optional>
#include <string_view>

namespace airlatch {

struct ForeignFile {
  const char* what;  // "a Parquet file"
  const char* mend;
};
// By the file's first bytes (some hundred of them).
std::optional<ForeignFile> foreign_file(std::string_view head);
// A zip whose first entry is an array of NumPy's.
bool zip_begins_with_an_array(std::string_view head);

}  // namespace airlatch
