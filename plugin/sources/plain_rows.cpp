// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/plain_rows.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cstring>

#include "decoders/method/simd.hpp"
#include "decoders/stream/sample_block.hpp"

#if defined(__x86_64__)
#include <immintrin.h>
#endif

namespace airlatch {
namespace {

static_assert(std::endian::native == std::endian::little);
constexpr std::size_t kWidth = 16;
constexpr std::size_t kMostCharacters = 15;  // of a cell, without the sign: below 2^53
using Bytes = unsigned char __attribute__((vector_size(kWidth)));
using LongBytes = unsigned char __attribute__((vector_size(2 * kWidth)));
using Pairs = std::uint16_t __attribute__((vector_size(kWidth)));
using Fours = std::uint32_t __attribute__((vector_size(kWidth)));
using Eights = std::uint64_t __attribute__((vector_size(kWidth)));
constexpr std::size_t kLanes = 4;
using Wholes = std::uint64_t __attribute__((vector_size(kLanes * 8)));
using Doubles = double __attribute__((vector_size(kLanes * 8)));
using Floats = float __attribute__((vector_size(kLanes * 4)));
using Row = std::array<unsigned char, kWidth>;

// The last n characters are kept.
constexpr std::array<Row, kWidth> kept = [] {
  std::array<Row, kWidth> out = {};
  for (std::size_t n = 0; n < kWidth; ++n)
    for (std::size_t i = 0; i < kWidth; ++i) out[n][i] = i + n >= kWidth ? 0xff : 0;
  return out;
}();

// The mark at place p is closed up, from before; p = 16: there is none.
constexpr std::array<Row, kWidth + 1> without_mark = [] {
  std::array<Row, kWidth + 1> out = {};
  for (std::size_t p = 0; p <= kWidth; ++p)
    for (std::size_t i = 0; i < kWidth; ++i)
      out[p][i] = static_cast<unsigned char>(p < kWidth && i <= p && i > 0 ? i - 1 : i);
  return out;
}();

// By the place of the mark; kWidth: there is none.
template <typename T>
using ByMark = std::array<T, kWidth + 1>;
constexpr ByMark<double> kPower = {1e15, 1e14, 1e13, 1e12, 1e11, 1e10, 1e9, 1e8, 1e7,
                                   1e6,  1e5,  1e4,  1e3,  1e2,  1e1,  1e0, 1e0};
constexpr ByMark<std::int64_t> kStep_ns = {  // 0: more digits than a nanosecond has
    0,
    0,
    0,
    0,
    0,
    0,
    1,
    10,
    100,
    1'000,
    10'000,
    100'000,
    1'000'000,
    10'000'000,
    100'000'000,
    1'000'000'000,
    1'000'000'000};

constexpr std::uint32_t kEight = 100'000'000;  // ten to the eighth
struct Number {
  std::uint64_t eights = 0;  // the digits, the first eight in the low half
  std::size_t mark = 0;      // its place; kWidth: there is none
  bool negative = false;
  [[nodiscard]] std::int64_t digits() const {
    return static_cast<std::int64_t>((eights & 0xffffffff) * std::uint64_t{kEight} +
                                     (eights >> 32));
  }
};

// Places in the text that are still to be used.
constexpr std::size_t kMostCells = 1025, kLook = 4096;
struct Places {
  std::array<std::uint32_t, kMostCells + kLook + 8> at;
  std::size_t next = 0, n = 0;
};

// Digits and what they are over (with the sign), of a few rows, column by column: divided many at
// once.
constexpr std::size_t kMostHeld = 64;  // rows
struct Held {
  std::array<std::uint64_t, kLanes * kMostCells> eights, over;
};

// One binary for old and new processors. Both ways give the same numbers.
namespace any {
#include "plugin/sources/plain_rows_body.hpp"
}  // namespace any
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__)
// The compiler's own macro does not follow the pragma when only preprocessing.
#define AIRLATCH_AVX2
#pragma GCC push_options
#pragma GCC target("avx2,bmi,popcnt")
namespace simd {
#include "plugin/sources/plain_rows_body.hpp"
}  // namespace simd
#pragma GCC pop_options
#endif

}  // namespace

PlainRows take_plain_rows(std::string_view text, const PlainLayout& layout,
                          std::span<const PlainColumn> columns, std::int64_t* times_ns,
                          std::int64_t after_ns, std::size_t most, [[maybe_unused]] bool narrow) {
#if defined(AIRLATCH_AVX2)
  static const bool has_simd = __builtin_cpu_supports("avx2") && __builtin_cpu_supports("bmi") &&
                               __builtin_cpu_supports("popcnt");
  if (has_simd && !narrow) return simd::take(text, layout, columns, times_ns, after_ns, most);
#endif
  return any::take(text, layout, columns, times_ns, after_ns, most);
}

}  // namespace airlatch
