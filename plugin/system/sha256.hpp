// sha256.hpp: what identifies a capture and a report.
#pragma once
#include <string>
#include <string_view>

namespace airlatch {

// 64 hexadecimal digits.
std::string sha256_of(std::string_view bytes);
// Of a file's content; empty where it cannot be read.
std::string sha256_of_file(const std::string& path);

}  // namespace airlatch
