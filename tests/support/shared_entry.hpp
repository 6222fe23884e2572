// SPDX-License-Identifier: GPL-3.0-or-later
// shared_entry.hpp: a zip whose directory names one entry many times.
#pragma once
#include <string>

#include "plugin/sources/zip_format.hpp"

namespace airlatch::test {

inline void put_little(std::string& out, std::size_t at, std::uint64_t value, std::size_t bytes) {
  for (std::size_t k = 0; k < bytes; ++k) out[at + k] = static_cast<char>(value >> (8 * k) & 0xff);
}

// `zip`: a plain one without comment, its last entry `prefix` + "1". The same with entries
// prefix + 1 ... prefix + n (below 65535), all of them the last one's bytes.
inline std::string with_shared_entry(const std::string& zip, const std::string& prefix, int n) {
  namespace format = zip_format;
  const auto* bytes = reinterpret_cast<const unsigned char*>(zip.data());
  const std::size_t end = zip.size() - format::kEnd;
  const std::size_t start = format::little(bytes + end + 16, 4);
  const std::uint32_t count = format::little(bytes + end + 10, 2);
  std::size_t last = start;
  for (std::uint32_t k = 0; k + 1 < count; ++k)
    last += format::kEntryHead + format::little(bytes + last + 28, 2) +
            format::little(bytes + last + 30, 2) + format::little(bytes + last + 32, 2);
  std::string out = zip.substr(0, end), tail = zip.substr(end);
  for (int k = 2; k <= n; ++k) {
    const std::string name = prefix + std::to_string(k);
    std::string head = zip.substr(last, format::kEntryHead);
    put_little(head, 28, name.size(), 2);
    put_little(head, 30, 0, 4);  // no extra field, no comment
    out += head + name;
  }
  const auto entries = static_cast<std::uint64_t>(count) + static_cast<std::uint64_t>(n) - 1;
  put_little(tail, 8, entries, 2);
  put_little(tail, 10, entries, 2);
  put_little(tail, 12, out.size() - start, 4);
  return out + tail;
}

}  // namespace airlatch::test
