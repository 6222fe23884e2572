// SPDX-License-Identifier: GPL-3.0-or-later
// mcap_records.hpp: the records of an MCAP file (its published specification), as bytes.
//
// Little-endian; strings and maps carry their length in bytes as 32 bits; a record is an opcode, a
// 64-bit length and its content.
#pragma once
#include <cstdint>
#include <cstring>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace airlatch::mcap {

inline constexpr std::string_view kMagic("\x89MCAP0\r\n", 8);

enum class Op : std::uint8_t {
  kHeader = 1,
  kFooter = 2,
  kSchema = 3,
  kChannel = 4,
  kMessage = 5,
  kChunk = 6,
  kMessageIndex = 7,
  kChunkIndex = 8,
  kStatistics = 11,
  kMetadata = 12,
  kMetadataIndex = 13,
  kSummaryOffset = 14,
  kDataEnd = 15
};

inline constexpr std::size_t kRecordHead = 9;  // opcode and length

class Bytes {  // what is being written
 public:
  template <typename Number>
  Bytes& put(Number value) {
    for (std::size_t k = 0; k < sizeof value; ++k)
      text_ += static_cast<char>(static_cast<std::uint64_t>(value) >> (8 * k) & 0xff);
    return *this;
  }
  Bytes& string(std::string_view text) {
    put(static_cast<std::uint32_t>(text.size()));
    text_ += text;
    return *this;
  }
  Bytes& map(const std::vector<std::pair<std::string, std::string>>& pairs) {
    Bytes inner;
    for (const auto& [key, value] : pairs) inner.string(key).string(value);
    return string(inner.text());
  }
  Bytes& raw(std::string_view bytes) {
    text_ += bytes;
    return *this;
  }
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  std::string text_;
};

inline std::string record(Op op, const Bytes& content) {
  return Bytes()
      .put(static_cast<std::uint8_t>(op))
      .put(static_cast<std::uint64_t>(content.text().size()))
      .raw(content.text())
      .text();
}

class Reader {  // what is being read; `good` turns false where the bytes end too early
 public:
  explicit Reader(std::string_view bytes) : bytes_(bytes) {}
  template <typename Number>
  Number get() {
    std::uint64_t value = 0;
    if (!has(sizeof(Number))) return 0;
    for (std::size_t k = 0; k < sizeof(Number); ++k)
      value |= static_cast<std::uint64_t>(static_cast<unsigned char>(bytes_[k])) << (8 * k);
    bytes_.remove_prefix(sizeof(Number));
    return static_cast<Number>(value);
  }
  std::string_view string() {
    const auto size = get<std::uint32_t>();
    return raw(size);
  }
  std::string_view raw(std::uint64_t size) {
    if (!has(size)) return {};
    const std::string_view out = bytes_.substr(0, size);
    bytes_.remove_prefix(size);
    return out;
  }
  [[nodiscard]] std::string_view rest() const { return bytes_; }
  [[nodiscard]] bool good() const { return good_; }
  [[nodiscard]] bool empty() const { return bytes_.empty(); }

 private:
  bool has(std::uint64_t size) {
    good_ = good_ && size <= bytes_.size();
    return good_;
  }
  std::string_view bytes_;
  bool good_ = true;
};

}  // namespace airlatch::mcap
