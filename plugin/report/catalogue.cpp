// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/catalogue.hpp"

#include <cstdint>
#include <cstring>

namespace airlatch {
namespace {

constexpr std::size_t kCount = 8, kMessages = 12, kTranslations = 16;  // where its head says so

std::size_t number_at(std::span<const unsigned char> bytes, std::size_t at) {
  std::uint32_t number = 0;
  std::memcpy(&number, bytes.data() + at, sizeof number);
  return number;
}

// The k-th text of a table of lengths and places.
std::string_view text_at(std::span<const unsigned char> bytes, std::size_t table, std::size_t k) {
  const std::size_t entry = number_at(bytes, table) + 8 * k;
  return {reinterpret_cast<const char*>(bytes.data()) + number_at(bytes, entry + 4),
          number_at(bytes, entry)};
}

}  // namespace

std::string_view translation(const Catalogue& catalogue, std::string_view message) {
  std::size_t low = 0, high = number_at(catalogue.bytes, kCount);
  while (low < high) {
    const std::size_t middle = (low + high) / 2;
    const std::string_view here = text_at(catalogue.bytes, kMessages, middle);
    if (here == message) return text_at(catalogue.bytes, kTranslations, middle);
    if (here < message)
      low = middle + 1;
    else
      high = middle;
  }
  return {};
}

}  // namespace airlatch
