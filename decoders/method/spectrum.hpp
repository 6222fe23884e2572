// SPDX-License-Identifier: GPL-3.0-or-later
// spectrum.hpp: the strongest line in a band of an evenly sampled signal.
//
// How   straight line removed, Hann window, Fourier transform; the line's place first by the ratio
//       of the two largest bins of the Hann main lobe (Grandke, IEEE Trans. Instrum. Meas. 32
//       (1983) 350), then at the top of the spectrum between the bins. Uncertainty: the Cramer-Rao
//       bound of a real tone in white noise, 12 / ((2 pi)^2 eta N (N^2 - 1)) per sample squared
//       (Rife and Boorstyn, IEEE Trans. Inf. Theory 20 (1974) 591), times 2.34 in variance for the
//       window.
// Cost  one transform of the window.
#pragma once
#include <optional>
#include <vector>

#include "decoders/method/uncertainty.hpp"

namespace airlatch {

struct SpectralLine {
  Uncertain frequency_hz;
  double amplitude = 0;   // of the sine, in the signal's unit
  double over_floor = 0;  // power of the line's bin over the band's median bin
};

// Nothing where no bin in [low_hz, high_hz] stands kOverFloor above the band's median power.
constexpr double kOverFloor = 30;  // noise alone reaches it once in about 1e8 bins
std::optional<SpectralLine> strongest_line(const std::vector<double>& signal, double rate_hz,
                                           double low_hz, double high_hz);

// Amplitude of the sine at a known frequency (Hann window); u from the noise a few bins
// beside it. Nothing where the signal is shorter than four of its periods.
std::optional<Uncertain> amplitude_at(const std::vector<double>& signal, double rate_hz, double hz);

}  // namespace airlatch
