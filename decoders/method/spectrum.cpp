#include "decoders/method/spectrum.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <unsupported/Eigen/FFT>

#include "decoders/method/regression.hpp"

namespace airlatch {

namespace {
// Variance of the top of a Hann-windowed spectrum over the Cramer-Rao bound:
// int w^2 x^2 int x^2 / (int w x^2)^2 over the window, x from its middle.
constexpr double kHannLoss = 2.343;

// The straight line removed, the Hann window applied.
std::vector<double> hann_windowed(const std::vector<double>& signal) {
  const std::size_t n = signal.size();
  LineAccumulator trend;
  for (std::size_t i = 0; i < n; ++i) trend.add(static_cast<double>(i), signal[i]);
  std::vector<double> windowed(n);
  for (std::size_t i = 0; i < n; ++i) {
    const double x = static_cast<double>(i);
    const double hann = 0.5 - 0.5 * std::cos(2 * std::numbers::pi * x / static_cast<double>(n));
    windowed[i] = hann * (signal[i] - trend.intercept() - trend.slope() * x);
  }
  return windowed;
}

// Logarithm of the spectrum's power at a fractional bin.
double log_power(const std::vector<double>& signal, double bin) {
  const std::complex<double> step =
      std::polar(1.0, -2 * std::numbers::pi * bin / static_cast<double>(signal.size()));
  std::complex<double> sum = 0, turn = 1;
  for (const double v : signal) {
    sum += v * turn;
    turn *= step;
  }
  return std::log(std::norm(sum));
}
}  // namespace

std::optional<SpectralLine> strongest_line(const std::vector<double>& signal, double rate_hz,
                                           double low_hz, double high_hz) {
  const std::size_t n = signal.size();
  if (n < 32) return std::nullopt;
  const std::vector<double> windowed = hann_windowed(signal);
  std::vector<std::complex<double>> bins;
  Eigen::FFT<double> fft;
  fft.SetFlag(Eigen::FFT<double>::HalfSpectrum);
  fft.fwd(bins, windowed);
  const double bin_hz = rate_hz / static_cast<double>(n);
  const auto low = static_cast<std::size_t>(std::max(3.0, std::ceil(low_hz / bin_hz)));
  const std::size_t last = n / 2 - 2;
  const auto high = static_cast<std::size_t>(
      std::clamp(std::floor(high_hz / bin_hz), 0.0, static_cast<double>(last)));
  if (high < low + 8) return std::nullopt;
  std::vector<double> power;
  for (std::size_t k = low; k <= high; ++k) power.push_back(std::norm(bins[k]));
  const auto top =
      low + static_cast<std::size_t>(std::max_element(power.begin(), power.end()) - power.begin());
  std::nth_element(power.begin(), power.begin() + std::ssize(power) / 2, power.end());
  const double median = std::max(power[power.size() / 2], 1e-300);
  SpectralLine line;
  line.over_floor = std::norm(bins[top]) / median;
  if (line.over_floor < kOverFloor) return std::nullopt;
  const double left = std::abs(bins[top - 1]), here = std::abs(bins[top]),
               right = std::abs(bins[top + 1]);
  const bool up = right >= left;
  const double r = (up ? right : left) / here;
  const double delta = (2 * r - 1) / (r + 1) * (up ? 1 : -1);
  const double place =
      std::abs(delta) < 1e-9
          ? 1
          : std::sin(std::numbers::pi * delta) / (std::numbers::pi * delta) / (1 - delta * delta);
  const auto count = static_cast<double>(n);
  line.amplitude = 4 * here / count / place;
  // The two-bin ratio is where to begin; the top of the windowed spectrum itself, by parabolas
  // through its logarithm, is less noisy.
  double at = static_cast<double>(top) + delta;
  for (const double h : {0.2, 0.05}) {
    const double l = log_power(windowed, at - h), m = log_power(windowed, at),
                 u = log_power(windowed, at + h);
    const double bend = l - 2 * m + u;
    if (bend < 0) at += std::clamp(h / 2 * (l - u) / bend, -h, h);
  }
  line.frequency_hz.value = at * bin_hz;
  // Noise: an exponentially distributed power has its median at ln 2 of its mean; the Hann window
  // passes 3/8 of the noise power.
  const double variance = median / std::numbers::ln2 / (count * 3.0 / 8.0);
  const double eta = line.amplitude * line.amplitude / (2 * variance);
  const double bound2 =
      12 / (4 * std::numbers::pi * std::numbers::pi * eta * count * (count * count - 1));
  line.frequency_hz.u = rate_hz * std::sqrt(kHannLoss * bound2);
  return line;
}

std::optional<Uncertain> amplitude_at(const std::vector<double>& signal, double rate_hz,
                                      double hz) {
  const auto n = static_cast<double>(signal.size());
  const double bin = hz / rate_hz * n;
  if (bin < 4) return std::nullopt;
  const std::vector<double> windowed = hann_windowed(signal);
  double beside = 0;
  for (const double offset : {-4.0, -3.0, 3.0, 4.0})
    beside += std::exp(log_power(windowed, bin + offset)) / 4;
  return Uncertain{4 / n * std::exp(0.5 * log_power(windowed, bin)), 4 / n * std::sqrt(beside / 2)};
}

}  // namespace airlatch
