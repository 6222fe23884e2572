// SPDX-License-Identifier: GPL-3.0-or-later
// sigrok_file.hpp: libsigrok session files (.sr, versions 1 and 2), by our own reader on libzip.
//
// In    a zip with `version`, `metadata` and data entries logic-1[-M] and analog-1-N-M.
// Out   blocks of all channels side by side in time; logic bits as channels of 0 and 1.
// How   libsigrok's own replay hands out one channel after the other and lets damaged chunks pass
//       as data. Here the size and CRC of every chunk are checked before its samples are handed
//       out, and what is inconsistent is reported: by `damage()`, or by InputError where nothing
//       sound can be read. A file cut short (its directory lost) is read as far as its entries are
//       complete. A channel that ends before the others is ended (Source::next): nothing waits for
//       it. Work and memory are bounded by the file's own size (ZipFile::check_sizes).
// Cost  one chunk a channel in memory while chunks are at most kWholeChunk bytes; larger chunks are
//       checked in a pass of their own and then streamed.
#pragma once
#include <memory>
#include <string>

#include "plugin/sources/source.hpp"
#include "plugin/system/input_file.hpp"

namespace airlatch {

// Throws InputError. `rate_hz` of the options is used where the file gives no rate.
std::unique_ptr<Source> open_sigrok_file(const InputFile& file, const OpenOptions& options);

}  // namespace airlatch
