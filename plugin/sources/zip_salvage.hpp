// SPDX-License-Identifier: GPL-3.0-or-later
// zip_salvage.hpp: recovers the complete entries of a zip file whose end, with its directory, is
// lost.
//
// In    a zip file that was cut short.
// Out   a temporary copy up to the cut, with a directory of its own, for any reader of zips.
// How   entries are found one after another by their local headers (APPNOTE 6.3, 4.3.7). One that
//       was written before its size was known is inflated to its own end mark.
#pragma once
#include <optional>
#include <string>

#include "plugin/sources/zip_format.hpp"
#include "plugin/system/input_file.hpp"

namespace airlatch {

struct SalvagedZip {
  zip_format::File copy;          // gone when it is closed
  long used = 0, file_bytes = 0;  // how far the entries are whole; what there was of the file
};

// None where no whole entry is left. Throws InputError where there is no room for a copy.
std::optional<SalvagedZip> salvage_zip(const InputFile& input);

}  // namespace airlatch
