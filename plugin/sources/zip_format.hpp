// SPDX-License-Identifier: GPL-3.0-or-later
// zip_format.hpp: marks and numbers of a zip file (APPNOTE 6.3), for those who read one themselves.
#pragma once
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <memory>

namespace airlatch::zip_format {

constexpr std::uint32_t kLocalMark = 0x04034b50;       // 4.3.7, before each entry's data
constexpr std::uint32_t kDescriptorMark = 0x08074b50;  // 4.3.9, behind them; optional
constexpr std::uint32_t kEntryMark = 0x02014b50;       // 4.3.12, in the directory
constexpr std::uint32_t kEndMark = 0x06054b50;         // 4.3.16
// Bytes without names, extra fields and comments.
constexpr std::size_t kLocalHead = 30, kEntryHead = 46, kEnd = 22;

inline std::uint32_t little(const unsigned char* at, int bytes) {
  std::uint32_t value = 0;
  for (int k = bytes; k-- > 0;) value = value << 8 | at[k];
  return value;
}

struct Closed {
  void operator()(std::FILE* file) const { std::fclose(file); }
};
using File = std::unique_ptr<std::FILE, Closed>;

}  // namespace airlatch::zip_format
