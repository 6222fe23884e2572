// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/elementary.hpp"

#include <array>
#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <numbers>

namespace airlatch::elementary {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
// ln 2 and pi / 2 in parts, of which all but the last have so few bits that k times one is exact.
constexpr double kLn2_high = 0x1.62e42feep-1, kLn2_low = 0x1.a39ef35793c76p-33;
constexpr double kQuarter_high = 0x1.921fb54p0, kQuarter_middle = 0x1.10b461p-30,
                 kQuarter_low = 0x1.a62633145c06ep-58;
constexpr double kMostTurned = 0x1p24 * 2 * std::numbers::pi;

// 1 / n! for n = first, first + step, ...
template <std::size_t N>
constexpr std::array<double, N> inverse_factorials(int first, int step) {
  std::array<double, N> out = {};
  double factorial = 1;
  int n = 1;
  for (std::size_t k = 0; k < N; ++k) {
    for (const int to = first + static_cast<int>(k) * step; n < to;) factorial *= ++n;
    out[k] = 1 / factorial;  // exact up to 18!, so rounded once
  }
  return out;
}

// Nearest whole number, below 2^51.
double whole(double x) {
  constexpr double kShift = 0x1.8p52;
  return (x + kShift) - kShift;
}

// 2^k, k in -1022 ... 1023.
double power_of_two(std::int64_t k) {
  return std::bit_cast<double>(static_cast<std::uint64_t>(k + 1023) << 52);
}

// sum of c[k] x^k, halves at once: shorter chains than one after the other.
template <std::size_t N>
double series(const std::array<double, N>& c, double x) {
  const double x2 = x * x;
  double even = 0, odd = 0;
  for (std::size_t k = (N + 1) / 2; k-- > 0;) {
    even = even * x2 + c[2 * k];
    if (2 * k + 1 < N) odd = odd * x2 + c[2 * k + 1];
  }
  return even + x * odd;
}

// r in -pi/4 ... pi/4, with what it lacks.
double sin_near(double r, double rest) {
  constexpr auto c = inverse_factorials<8>(3, 2);
  const double r2 = r * r;
  return r - (r2 * r * series(c, -r2) - rest * (1 - r2 / 2));
}
double cos_near(double r, double rest) {
  constexpr auto c = inverse_factorials<7>(4, 2);
  const double r2 = r * r, half = r2 / 2, first = 1 - half;
  return first + (((1 - first) - half) + (r2 * r2 * series(c, -r2) - r * rest));
}

// x in quarter turns and what is left.
struct Turned {
  std::int64_t quarters;
  double left, rest;
};
Turned turned(double x) {
  if (std::abs(x) > kMostTurned) x = std::remainder(x, 2 * std::numbers::pi);
  const double k = whole(x * (2 / std::numbers::pi));
  const double far = x - k * kQuarter_high, middle = k * kQuarter_middle, low = k * kQuarter_low;
  const double near = far - middle, left = near - low;
  return {static_cast<std::int64_t>(k), left, ((far - near) - middle) + ((near - left) - low)};
}

}  // namespace

double exp(double x) {
  if (!(x < 709.8)) return x > 0 ? kInfinity : x;  // the last below that overflow by themselves
  if (x < -745.2) return 0;
  constexpr auto c = inverse_factorials<12>(2, 1);
  const double k = whole(x * std::numbers::log2e);
  const double high = x - k * kLn2_high, low = k * kLn2_low, r = high - low;
  const double y = 1 + (high + (r * r * series(c, r) - low));
  const auto halves = static_cast<std::int64_t>(k) >> 1;  // 2^k itself may be no number
  return y * power_of_two(halves) * power_of_two(static_cast<std::int64_t>(k) - halves);
}

double log(double x) {
  if (x == 0) return -kInfinity;
  if (!(x > 0)) return NAN;
  if (x == kInfinity) return x;
  double k = 0;
  if (x < std::numeric_limits<double>::min()) {
    x *= 0x1p54;
    k = -54;
  }
  // x = m 2^k, m from sqrt(1/2) to sqrt(2).
  constexpr auto kRootHalf = std::bit_cast<std::uint64_t>(std::numbers::sqrt2 / 2);
  const auto bits = std::bit_cast<std::uint64_t>(x);
  const auto power = static_cast<std::int64_t>(bits - kRootHalf) >> 52;
  k += static_cast<double>(power);
  const double f = std::bit_cast<double>(bits - (static_cast<std::uint64_t>(power) << 52)) - 1;
  // log(1 + f) = 2 artanh(s), s = f / (2 + f); 2 s = f - f^2/2 + s f^2/2.
  const double s = f / (2 + f), z = s * s, half = f * f / 2;
  constexpr std::array<double, 10> c = {2.0 / 3,  2.0 / 5,  2.0 / 7,  2.0 / 9,  2.0 / 11,
                                        2.0 / 13, 2.0 / 15, 2.0 / 17, 2.0 / 19, 2.0 / 21};
  return k * kLn2_high - ((half - (s * (half + z * series(c, z)) + k * kLn2_low)) - f);
}

double pow(double x, double y) { return exp(y * log(x)); }

double sin(double x) {
  if (!std::isfinite(x)) return NAN;
  const auto [quarters, left, rest] = turned(x);
  const double v = (quarters & 1) != 0 ? cos_near(left, rest) : sin_near(left, rest);
  return (quarters & 2) != 0 ? -v : v;
}

double cos(double x) {
  if (!std::isfinite(x)) return NAN;
  const auto [quarters, left, rest] = turned(x);
  const double v = (quarters & 1) != 0 ? sin_near(left, rest) : cos_near(left, rest);
  return ((quarters + 1) & 2) != 0 ? -v : v;
}

}  // namespace airlatch::elementary
