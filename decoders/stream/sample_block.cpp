// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/sample_block.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace airlatch {
namespace {
__extension__ using Wide = __int128;  // n * num_ns of a day at 10 MHz does not fit 64 bits
constexpr std::int64_t kSecond_ns = 1'000'000'000;

Wide floor_div(Wide a, Wide b) {
  const Wide q = a / b;
  return a % b != 0 && a < 0 ? q - 1 : q;
}

std::int64_t saturated(Wide value) {
  constexpr Wide kMost = std::numeric_limits<std::int64_t>::max();
  return static_cast<std::int64_t>(std::clamp(value, -kMost, kMost));
}
}  // namespace

SampleClock SampleClock::of_rate(std::int64_t rate_num, std::int64_t rate_den,
                                 std::int64_t start_ns) {
  const Wide num = static_cast<Wide>(kSecond_ns) * rate_den;
  // gcd(1e9 * d, n) in two steps, so that std::gcd need not know 128-bit integers.
  const std::int64_t g1 = std::gcd(kSecond_ns, rate_num);
  const std::int64_t g2 = std::gcd(rate_den, rate_num / g1);
  return {start_ns, static_cast<std::int64_t>(num / g1 / g2), rate_num / g1 / g2};
}

std::optional<SampleClock> SampleClock::of_rate_hz(double rate_hz) {
  constexpr std::int64_t kMillionths = 1'000'000;
  if (!(rate_hz >= kLeastRate_hz && rate_hz <= kMostRate_hz)) return std::nullopt;
  return of_rate(std::llround(rate_hz * kMillionths), kMillionths);
}

bool SampleClock::sound() const {
  constexpr std::int64_t kMostPart = 1'000'000'000'000'000'000, kMostPerNanosecond = 1'000,
                         kLongest_ns = 1'000'000'000'000'000;
  return countable(start_ns) && num_ns > 0 && den > 0 && num_ns <= kMostPart && den <= kMostPart &&
         den / kMostPerNanosecond <= num_ns && num_ns / den <= kLongest_ns;
}

std::int64_t SampleClock::time_ns(std::int64_t n) const {
  std::int64_t since_ns = 0, time_ns = 0;
  if (den == 1 && !__builtin_mul_overflow(n, num_ns, &since_ns) &&
      !__builtin_add_overflow(start_ns, since_ns, &time_ns))
    return time_ns;
  const Wide whole = static_cast<Wide>(n) * num_ns, floor = floor_div(whole, den);
  const bool up = 2 * (whole - floor * den) >= den;
  return saturated(start_ns + floor + (up ? 1 : 0));
}

std::int64_t SampleClock::index_at_or_after(std::int64_t t_ns) const {
  if (num_ns == 0) return 0;
  std::int64_t since_ns = 0;
  if (den == 1 && !__builtin_sub_overflow(t_ns, start_ns, &since_ns))
    return since_ns / num_ns + (since_ns % num_ns > 0 ? 1 : 0);
  // time_ns(n) >= t  <=>  floor((2 n num + den) / 2 den) >= t - start  <=>  2 n num + den >= 2 den
  // d
  const Wide need = static_cast<Wide>(2) * den * (static_cast<Wide>(t_ns) - start_ns) - den;
  return saturated(-floor_div(-need, static_cast<Wide>(2) * num_ns));
}

double SampleClock::period_s() const {
  return static_cast<double>(num_ns) / static_cast<double>(den) * 1e-9;
}

bool SampleBlock::sound() const {
  if (values.empty()) return true;
  if (!times_ns.empty())
    return times_ns.size() == values.size() && countable(times_ns.front()) &&
           countable(times_ns.back());
  return clock.sound() && countable(first) && countable(std::ssize(values)) &&
         countable(time_ns(0)) && countable(time_ns(values.size() - 1));
}

}  // namespace airlatch
