// SPDX-License-Identifier: GPL-3.0-or-later
// two_state.hpp: is a quantity up or down, in spite of noise, spikes and bounce?
//
// In    a track, and two thresholds: it goes up above `up` and down below `down` (up > down).
// Out   confirmed changes, each with the first sample beyond its threshold.
// How   hysteresis; then a majority of the samples in the confirmation time must agree, so that
//       interference shorter than half of it is ignored. Where a meter is slower than that, a
//       single reading is enough: there is nothing else to decide by.
// Cost  O(1) memory; one comparison a sample.
#pragma once
#include <limits>
#include <optional>

#include "decoders/method/uncertainty.hpp"
#include "decoders/stream/track.hpp"

namespace airlatch {

class TwoState {
 public:
  static constexpr double kConfirm_s = 0.003;

  struct Change {
    bool up = false;
    std::int64_t k = 0;  // first sample beyond the threshold
  };
  // How a sample is looked at: |value - zero| for a current that may start either way, with its own
  // sign while it runs, value - zero for voltages.
  struct View {
    double zero = 0;
    bool magnitude = false;
    double sign = 1;
    [[nodiscard]] double of(double value) const {
      const double v = sign * (value - zero);
      return magnitude && v < 0 ? -v : v;
    }
  };

  // Looks at samples from `next()` on, before sample `to`; stops at the first confirmed change.
  // Nothing: all of them are looked at, or a candidate waits for more (unless `last`: no more will
  // come).
  std::optional<Change> advance(const Track& track, const View& view, double up, double down,
                                bool last, std::int64_t to = kAll);
  static constexpr std::int64_t kAll = std::numeric_limits<std::int64_t>::max();
  [[nodiscard]] bool is_up() const { return up_; }
  void set_up(bool up) { up_ = up; }
  [[nodiscard]] std::int64_t next() const { return next_; }
  void skip_to(std::int64_t k) { next_ = k > next_ ? k : next_; }

 private:
  bool up_ = false;
  std::int64_t next_ = 0;
};

// Instant at which the track crosses `level` between samples k-1 and k (IEEE Std 181: linear
// interpolation). Of a step within one sample interval only the interval is known: its middle
// is given, with the interval's rectangular uncertainty. `low` and `high` are the state levels.
// A slow meter's reading is a mean over `average_s`, or over nobody knows how much of its interval:
// the step lies after the last reading that shows nothing of it, and before the next one.
Uncertain crossing_instant(const Track& track, const TwoState::View& view, std::int64_t k,
                           double level, double low, double high, double average_s = 0);

// Contacts that bounce touch for less than a sample's interval: where what rises between samples k - 1
// and k comes down and goes up again, before or after, the first sample that shows a touch. `falls`: of
// the step, the least that is more than ripple.
std::optional<std::int64_t> first_touch(const Track& track, const TwoState::View& view,
                                        std::int64_t k, double low, double high, double falls);
// When the contact touched first, of which sample k shows a part: after the interval that k stands for
// began, and early enough for that part. Whether a sample is its interval's mean nobody says; a point
// would show no part of a step.
Uncertain touch_instant(const Track& track, const TwoState::View& view, std::int64_t k, double low,
                        double high);

}  // namespace airlatch
