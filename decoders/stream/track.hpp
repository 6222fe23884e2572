// SPDX-License-Identifier: GPL-3.0-or-later
// track.hpp: the last seconds of one role's samples, scaled, for decoders that look back.
//
// In    scaled blocks of one role, slice by slice.
// Out   samples by number or by time, window means, the running noise.
// How   missing samples (NaN) are left out, so what is here is sound; noise is the RMS successive
//       difference over sqrt 2 (von Neumann), which a slow signal does not disturb, and not less
//       than the quantisation step over sqrt 12 (JCGM 100 F.2.2.1). A slow meter shows a run in a
//       few readings: there the median of the last kRecent differences is taken instead. A dense
//       signal's noise is known well enough from the first kLearnt_from samples of each slice.
// Cost  at most 3 kKept_s of samples; 4 bytes each on an even clock, 12 with times of their own.
#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "decoders/stream/sample_block.hpp"
#include "decoders/stream/summary.hpp"

namespace airlatch {

class Track {
 public:
  static constexpr double kKept_s = 4.0;  // longest look-back of any decoder, with room

  // `t0_ns` is the capture's first sample; times below count from it.
  void append(const SampleBlock& scaled, std::int64_t t0_ns);

  // Samples are numbered from 0 at the first ever appended; [begin, end) are still here.
  [[nodiscard]] std::int64_t begin() const { return base_; }
  [[nodiscard]] std::int64_t end() const { return base_ + std::ssize(values_); }
  [[nodiscard]] bool empty() const { return values_.empty(); }
  [[nodiscard]] double time_s(std::int64_t k) const {
    return own_times_ ? times_s_[at(k)] : stretch_of(k).time_s(k);
  }
  [[nodiscard]] double value(std::int64_t k) const { return static_cast<double>(values_[at(k)]); }
  [[nodiscard]] std::int64_t first_at_or_after(double t_s) const;
  // Samples [from, to). REQUIRES: both here.
  [[nodiscard]] std::span<const float> values(std::int64_t from, std::int64_t to) const {
    return std::span(values_).subspan(at(from), static_cast<std::size_t>(to - from));
  }

  // The first of another track's samples that were taken at the instants of [own_from, own_to)
  // here; -1 where they were not.
  [[nodiscard]] std::int64_t beside(std::int64_t own_from, std::int64_t own_to,
                                    const Track& other) const;

  // Mean instant of samples [from, to). REQUIRES: from < to, both here.
  [[nodiscard]] double mean_time_s(std::int64_t from, std::int64_t to) const;

  // The newest samples, those from number `from` on and the one before them, as a whole.
  struct Latest {
    std::int64_t from = 0;
    Extremes extremes = {};  // of all that came, the missing ones too
  };
  [[nodiscard]] const Latest& latest() const { return latest_; }
  // Summaries that rule nothing out: the decoders look at every sample. For the tests' oracle.
  void rule_nothing_out() { plain_ = true; }

  // Mean of the samples in [from_s, to_s), or nothing when there are none.
  struct Mean {
    double value = 0;
    double sd = 0;  // of one sample; 0 when n < 2
    std::int64_t n = 0;
    [[nodiscard]] double u() const;  // sd / sqrt n
  };
  [[nodiscard]] std::optional<Mean> mean(double from_s, double to_s) const;
  // Linear interpolation; held at the ends of what is here. REQUIRES: not empty.
  [[nodiscard]] double at_time(double t_s) const;

  // This track's values at the instants of samples [from, to) of another, `clock`, asked for in
  // rising order. REQUIRES: not empty where asked.
  class Beside {
   public:
    Beside(const Track& track, const Track& clock, std::int64_t from, std::int64_t to);
    double at(std::int64_t k) {
      return shared_ ? track_.value(k + shift_) : later(clock_.time_s(k));
    }

   private:
    double later(double t_s);
    const Track &track_, &clock_;
    bool shared_ = false;     // both were sampled at the same instants
    std::int64_t shift_ = 0;  // from their numbers to these
    bool asked_ = false;
    std::int64_t k_ = 0;  // not after the first sample at or after the last instant asked for
  };

  [[nodiscard]] double period_s() const { return period_s_; }  // nominal or mean recent spacing
  [[nodiscard]] double noise() const;                          // standard deviation of one sample
  // Error of an average that more readings do not take away, standard deviation: a converter whose
  // step is coarse beside the noise answers with the same code while the quantity moves. First
  // harmonic of the dithered quantiser: step / pi exp(-2 pi^2 noise^2 / step^2), over sqrt 2
  // (Widrow and Kollar, Quantization Noise, 2008).
  [[nodiscard]] double quantisation_error() const;
  [[nodiscard]] double step() const { return step_; }  // smallest change ever seen
  // Not one reading has ever differed from the one before it.
  [[nodiscard]] bool stuck() const { return end() >= kStuckAfter && !moved_; }
  static constexpr std::int64_t kStuckAfter = 16;
  [[nodiscard]] bool slow() const { return period_s_ >= kSlowPeriod_s; }
  static constexpr double kSlowPeriod_s = 0.02;  // below 50 readings/s no transient is seen

 private:
  [[nodiscard]] double before(std::int64_t k, double t_s) const;
  struct Stretch {  // samples from number `from` on, evenly spaced
    std::int64_t from = 0;
    double start_s = 0, period_s = 0, rate_hz = 0;
    [[nodiscard]] double time_s(std::int64_t k) const {
      return start_s + static_cast<double>(k - from) * period_s;
    }
  };
  [[nodiscard]] std::size_t at(std::int64_t k) const { return static_cast<std::size_t>(k - base_); }
  [[nodiscard]] const Stretch& stretch_of(std::int64_t k) const {
    const Stretch& newest = stretches_.back();
    return k >= newest.from ? newest : older_stretch_of(k);
  }
  [[nodiscard]] const Stretch& older_stretch_of(std::int64_t k) const;
  void append_even(const SampleBlock& scaled, std::int64_t t0_ns);
  void join(const SampleBlock& scaled, std::int64_t t0_ns, std::size_t i, std::int64_t k);
  void append_own_times(const SampleBlock& scaled, std::int64_t t0_ns);
  void trim();
  [[nodiscard]] double noise_limit() const;
  void learn_noise(std::size_t from, const Extremes& all);
  void learn_slow_noise(std::size_t from);

  std::vector<float> values_;
  std::vector<Stretch> stretches_;  // while all samples lie on clocks
  bool own_times_ = false;          // else, and from then on, each has its time
  std::vector<double> times_s_;
  SampleClock clock_ = {};  // of the newest stretch, and its next index
  std::int64_t next_ = 0;
  Latest latest_ = {};
  bool plain_ = false;
  std::int64_t base_ = 0;
  bool moved_ = false;
  double period_s_ = 0;
  double variance_ = 0;      // of one sample, running
  double step_ = 0;          // smallest change ever seen: the quantisation step or less
  std::int64_t learnt_ = 0;  // successive differences used so far
  static constexpr std::size_t kLearnt_from = 129;
  static constexpr std::size_t kRecent = 33;
  std::vector<double> recent_;  // slow meters: the last differences, magnitude
};

}  // namespace airlatch
