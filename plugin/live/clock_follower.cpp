// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/clock_follower.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "decoders/method/regression.hpp"

namespace airlatch {
namespace {
constexpr std::int64_t kFine = 1'000'000;  // a period is stated to a millionth of a nanosecond
constexpr std::size_t kLeastWindows = 10;
constexpr std::size_t kPieces = 4;
}  // namespace

ClockFollower::ClockFollower(std::int64_t rate_hz, std::int64_t arrival_ns, std::int64_t count)
    : rate_hz_(rate_hz),
      origin_ns_(arrival_ns - SampleClock::of_rate(rate_hz).time_ns(count)),
      pieces_{{0, SampleClock::of_rate(rate_hz, 1, origin_ns_)}} {}

void ClockFollower::arrived(std::int64_t arrival_ns, std::int64_t count) {
  const double now_s = static_cast<double>(arrival_ns - origin_ns_) * 1e-9;
  const Delay delay{now_s, now_s - static_cast<double>(count) / static_cast<double>(rate_hz_)};
  if (!any_ || delay.delay_s < least_.delay_s) least_ = delay;
  any_ = true;
  if (now_s - window_from_s_ < kWindow_s) return;
  windows_.push_back(least_);
  if (windows_.front().time_s < now_s - kMemory_s) windows_.pop_front();
  window_from_s_ = now_s;
  any_ = false;
  if (now_s - steered_s_ >= kSteer_s) steer(now_s, count);
}

void ClockFollower::steer(double now_s, std::int64_t count) {
  steered_s_ = now_s;
  if (windows_.size() < kLeastWindows) return;
  LineAccumulator line;
  for (const Delay& delay : windows_) line.add(delay.time_s, delay.delay_s);
  // Delays of a faster clock shrink: its samples come before their nominal time.
  drift_ppm_ = {-1e6 * line.slope(), 1e6 * line.u_slope()};
  const Piece& now = pieces_.back();
  if (count < now.from) return;  // the last change has not been reached yet
  // The change lies ahead of all channels: a second of samples on.
  const std::int64_t from = std::max(count + rate_hz_, now.from + 1);
  const auto nominal_s = static_cast<double>(from) / static_cast<double>(rate_hz_);
  const std::int64_t start_ns = now.time_ns(from);
  // On the host's clock t = nominal + intercept + slope t.
  const double aim_s = (nominal_s + line.intercept()) / (1 - line.slope());
  const double behind_s = aim_s - static_cast<double>(start_ns - origin_ns_) * 1e-9;
  const double slew = std::clamp(behind_s / kSteer_s, -kMostSlew, kMostSlew);
  const double period_ns = 1e9 / static_cast<double>(rate_hz_) * (1 / (1 - line.slope()) + slew);
  pieces_.push_back(
      {from, {start_ns, std::llround(period_ns * static_cast<double>(kFine)), kFine}});
  if (pieces_.size() > kPieces) pieces_.pop_front();
}

ClockFollower::Piece ClockFollower::piece_of(std::int64_t n, std::int64_t* until) const {
  *until = std::numeric_limits<std::int64_t>::max();
  for (auto piece = pieces_.rbegin(); piece != pieces_.rend(); ++piece) {
    if (n >= piece->from || std::next(piece) == pieces_.rend()) return *piece;
    *until = piece->from;
  }
  return pieces_.front();
}

}  // namespace airlatch
