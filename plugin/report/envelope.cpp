#include "plugin/report/envelope.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {

void Envelope::add(const SampleBlock& scaled, std::int64_t t0_ns) {
  for (std::size_t i = 0; i < scaled.values.size(); ++i) {
    const double v = static_cast<double>(scaled.values[i]);
    if (!std::isfinite(v)) continue;
    const double t_s = static_cast<double>(scaled.time_ns(i) - t0_ns) * 1e-9;
    if (!bins_.empty() && width_s_ > 0 &&
        std::floor(bins_.back().time_s / width_s_) == std::floor(t_s / width_s_)) {
      bins_.back().least = std::min(bins_.back().least, v);
      bins_.back().most = std::max(bins_.back().most, v);
      continue;
    }
    bins_.push_back({t_s, v, v});
    if (bins_.size() <= kMost) continue;
    if (width_s_ == 0) width_s_ = (bins_.back().time_s - bins_.front().time_s) / kMost;
    do {
      width_s_ *= 2;
      std::size_t kept = 0;
      for (std::size_t k = 1; k < bins_.size(); ++k) {
        if (std::floor(bins_[kept].time_s / width_s_) == std::floor(bins_[k].time_s / width_s_)) {
          bins_[kept].least = std::min(bins_[kept].least, bins_[k].least);
          bins_[kept].most = std::max(bins_[kept].most, bins_[k].most);
        } else {
          bins_[++kept] = bins_[k];
        }
      }
      bins_.resize(kept + 1);
    } while (bins_.size() > kMost);
  }
}

}  // namespace airlatch
