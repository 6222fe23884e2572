// SPDX-License-Identifier: GPL-3.0-or-later
// noise_model.hpp: a channel's noise as it is: white, flicker, hum and a coarse converter.
//
// In    samples of stretches in which the quantity itself stands still (or moves in a straight line).
// Out   one-sided power density S(f) = h0 + h1 / f, the power of hum lines, what a coarse converter
//       hides; from them the variance of a mean, of the difference of two means, and the covariance
//       of means for least squares.
// How   Allan variances over octaves of spacing: h0 / (2 tau) for white and 2 ln 2 h1 for flicker
//       noise (D. W. Allan, Proc. IEEE 54 (1966) 221; IEEE Std 1139-2008, annex B); where the signal
//       drifts, Hadamard's of second differences: h0 / (2 tau), 1/2 ln(256/27) h1 (Riley, NIST SP
//       1065, 2008). A sine of variance v adds 2 v D^2 sin^2(pi f tau), D the mean's response. Fitted
//       by least squares with weights relative to the fitted variances, none below zero. Means of
//       flicker noise have the generalised covariance -h1 ln(2 pi e^gamma f_low t), averaged over both
//       windows in closed form (Mandelbrot and Van Ness, SIAM Review 10 (1968) 422, for such
//       processes); f_low is a tenth of the capture's own lowest frequency: what is slower is the zero's
//       error, which the rig states.
// Cost  4 ns a sample at first, a quarter of one once the fine octaves are known; under 4 kB.
#pragma once
#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

namespace airlatch {

struct NoiseModel {
  struct Line {
    double hz = 0, variance = 0;
  };
  static constexpr std::array<double, 4> kHum_hz = {50, 60, 100, 120};  // mains and its rectified
  double h0 = 0, h1 = 0;                                                // unit^2 / Hz, unit^2
  std::array<Line, 4> hum = {};                                         // variance 0: none
  double hidden = 0;        // variance that no averaging removes: a coarse converter's
  double lowest_hz = 1e-4;  // where the flicker noise is taken to end
  bool learnt = false;      // from quiet stretches; else assumed

  // Of the mean over a_s, about the long-term mean.
  [[nodiscard]] double variance_of_mean(double a_s) const;
  // Of the mean over a_s less the mean over the b_s that ended gap_s before its start.
  [[nodiscard]] double variance_of_difference(double a_s, double b_s, double gap_s) const;
  // Of the means over [t1_s, t1_s + a_s) and [t2_s, t2_s + b_s). REQUIRES: a_s, b_s > 0. `hidden` is
  // left out: how it is shared between two means is their user's to say.
  [[nodiscard]] double covariance(double t1_s, double a_s, double t2_s, double b_s) const;
  // The flicker part of the same, for h1 = 1; depends on the lag t2 - t1 only.
  [[nodiscard]] double flicker_covariance(double lag_s, double a_s, double b_s) const;
};

class NoiseLearner {
 public:
  enum class Signal { kStands, kDrifts };  // kDrifts: what is straight is no noise
  // `period_s`: the samples' spacing; the nominal one where it varies.
  explicit NoiseLearner(double period_s = 0, Signal signal = Signal::kStands)
      : period_s_(period_s), signal_(signal) {}
  // Samples that adjoin the last ones. REQUIRES: all finite.
  void add(std::span<const float> values);
  void add(double value);
  void end_stretch();  // the next sample does not adjoin the last one
  [[nodiscard]] double period_s() const { return period_s_; }
  [[nodiscard]] double learnt_s() const { return static_cast<double>(samples_) * period_s_; }
  // Enough for a model: a spacing of 8 samples has been compared.
  [[nodiscard]] bool enough() const;
  // `step`: the smallest change the channel ever showed; `capture_s`: its length, so far.
  // REQUIRES: enough().
  [[nodiscard]] NoiseModel model(double step, double capture_s) const;

 private:
  static constexpr std::size_t kOctaves = 40, kBlockOctave = 6;
  static constexpr std::size_t kBlock = std::size_t{1} << kBlockOctave;
  static constexpr std::int64_t kKnownBlocks = 256;  // then the octaves below a block are known
  struct Octave {
    double pending = 0, last = 0, before = 0;  // means; of half a block, and the last two
    bool half = false;
    int have = 0;
    double squares_1 = 0, squares_2 = 0;  // of first and second differences
    std::int64_t n_1 = 0, n_2 = 0;
  };
  struct Seen {
    double tau_s = 0, variance = 0, n = 0;
  };
  void push(std::size_t octave, double mean);
  [[nodiscard]] Seen seen(std::size_t octave) const;

  double period_s_ = 0;
  Signal signal_ = Signal::kStands;
  std::array<Octave, kOctaves> octaves_ = {};
  std::int64_t samples_ = 0;
  std::size_t in_block_ = 0;  // samples of the present block, counted from the stretch's start
  bool by_block_ = false;     // fine octaves are known: only sums of blocks from here on
  double block_sum_ = 0;
  double least_ = 0, most_ = 0;
};

// Without a quiet stretch: from the standard deviation of one sample. Stated, common practice, no
// source: flicker as strong as white at 10 Hz, but no more than a quarter of a sample's variance.
NoiseModel assumed_noise(double sd, double step, double period_s, double capture_s);

}  // namespace airlatch
