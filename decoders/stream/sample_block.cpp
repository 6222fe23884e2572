// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/sample_block.hpp"

#include <algorithm>
#include <limits>
#include <numeric>

namespace airlatch {
namespace {
__extension__ using Wide = __int128;  // n * num_ns of a day at 10 MHz does not fit 64 bits
constexpr std::int64_t kSecond_ns = 1'000'000'000;

// Kept within 64 bits, also for clocks so fast that an index would not fit.
std::int64_t floor_div(Wide a, Wide b) {
  constexpr Wide kMost = std::numeric_limits<std::int64_t>::max();
  const Wide q = a / b, floor = a % b != 0 && a < 0 ? q - 1 : q;
  return static_cast<std::int64_t>(std::clamp(floor, -kMost, kMost));
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

std::int64_t SampleClock::time_ns(std::int64_t n) const {
  std::int64_t since_ns = 0;
  if (den == 1 && !__builtin_mul_overflow(n, num_ns, &since_ns)) return start_ns + since_ns;
  const Wide twice = static_cast<Wide>(2) * n * num_ns + den;
  return start_ns + floor_div(twice, static_cast<Wide>(2) * den);
}

std::int64_t SampleClock::index_at_or_after(std::int64_t t_ns) const {
  if (num_ns == 0) return 0;
  if (den == 1) {
    const std::int64_t since_ns = t_ns - start_ns;
    return since_ns / num_ns + (since_ns % num_ns > 0 ? 1 : 0);
  }
  // time_ns(n) >= t  <=>  floor((2 n num + den) / 2 den) >= t - start  <=>  2 n num + den >= 2 den
  // d
  const Wide need = static_cast<Wide>(2) * den * (t_ns - start_ns) - den;
  return -floor_div(-need, static_cast<Wide>(2) * num_ns);
}

double SampleClock::period_s() const {
  return static_cast<double>(num_ns) / static_cast<double>(den) * 1e-9;
}

}  // namespace airlatch
