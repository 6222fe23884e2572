// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/envelope.hpp"

#include <algorithm>
#include <cmath>

#include "decoders/stream/summary.hpp"

namespace airlatch {

std::int64_t Envelope::bin_of(double t_s) const {
  return static_cast<std::int64_t>(std::floor(t_s / width_s_));
}

void Envelope::add(const SampleBlock& scaled, std::int64_t t0_ns) {
  const double period_s = scaled.times_ns.empty() ? scaled.clock.period_s() : 0;
  const auto time_s = [&](std::size_t i) {
    return static_cast<double>(scaled.time_ns(i) - t0_ns) * 1e-9;
  };
  const std::size_t n = scaled.values.size();
  for (std::size_t i = 0; i < n;) {
    const double t_s = time_s(i);
    std::size_t to = i + 1;
    if (period_s > 0 && width_s_ > 0) {  // all that share its bin, at once
      const std::int64_t here = bin_of(t_s);
      const double left = (static_cast<double>(here + 1) * width_s_ - t_s) / period_s;
      to = i + static_cast<std::size_t>(std::clamp(left, 1.0, static_cast<double>(n - i)));
      while (to > i + 1 && bin_of(time_s(to - 1)) != here) --to;  // by rounding
      while (to < n && bin_of(time_s(to)) == here) ++to;
    }
    const Extremes all = extremes_of(scaled.values.subspan(i, to - i));
    if (all.all_finite) {
      put({t_s, static_cast<double>(all.least), static_cast<double>(all.most)});
    } else {
      for (std::size_t k = i; k < to; ++k)
        if (const auto v = static_cast<double>(scaled.values[k]); std::isfinite(v))
          put({time_s(k), v, v});
    }
    i = to;
  }
}

void Envelope::put(const Bin& bin) {
  if (!bins_.empty() && width_s_ > 0 && bin_of(bins_.back().time_s) == bin_of(bin.time_s)) {
    bins_.back().least = std::min(bins_.back().least, bin.least);
    bins_.back().most = std::max(bins_.back().most, bin.most);
    return;
  }
  bins_.push_back(bin);
  if (bins_.size() <= kMost) return;
  if (width_s_ == 0) width_s_ = (bins_.back().time_s - bins_.front().time_s) / kMost;
  do {
    width_s_ *= 2;
    std::size_t kept = 0;
    for (std::size_t k = 1; k < bins_.size(); ++k) {
      if (bin_of(bins_[kept].time_s) == bin_of(bins_[k].time_s)) {
        bins_[kept].least = std::min(bins_[kept].least, bins_[k].least);
        bins_[kept].most = std::max(bins_[kept].most, bins_[k].most);
      } else {
        bins_[++kept] = bins_[k];
      }
    }
    bins_.resize(kept + 1);
  } while (bins_.size() > kMost);
}

}  // namespace airlatch
