// SPDX-License-Identifier: GPL-3.0-or-later
// sha256.hpp: SHA-256 digests, by which captures and reports are identified.
#pragma once
#include <string>
#include <string_view>

namespace airlatch {

// 64 hexadecimal digits.
std::string sha256_of(std::string_view bytes);
// Of a file's content; empty where it cannot be read.
std::string sha256_of_file(const std::string& path);

}  // namespace airlatch
