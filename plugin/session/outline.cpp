// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/outline.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {

void Outline::take(const SampleBlock& raw, std::int64_t t0_ns) {
  for (std::size_t i = 0; i < raw.values.size(); ++i) {
    const float value = raw.values[i];
    if (!std::isfinite(value)) {
      ++missing_;
      continue;
    }
    add(std::max<std::int64_t>(0, since_ns(raw.time_ns(i), t0_ns)), value);
  }
}

void Outline::add(std::int64_t since_ns, float value) {
  while (since_ns / width_ns_ >= static_cast<std::int64_t>(kBuckets)) halve();
  const auto at = static_cast<std::size_t>(since_ns / width_ns_);
  if (at >= buckets_.size()) buckets_.resize(at + 1);
  Bucket& bucket = buckets_[at];
  bucket.least = std::min(bucket.least, value);
  bucket.most = std::max(bucket.most, value);
  bucket.sum += static_cast<double>(value);
  ++bucket.n;
  ++count_;
  end_ns_ = std::max(end_ns_, since_ns);
  least_ = std::min(least_, static_cast<double>(value));
  most_ = std::max(most_, static_cast<double>(value));
  if (std::isfinite(before_))
    largest_step_ = std::max(largest_step_,
                             std::abs(static_cast<double>(value) - static_cast<double>(before_)));
  before_ = value;
}

void Outline::halve() {
  for (std::size_t k = 0; k < (buckets_.size() + 1) / 2; ++k) {
    Bucket both = buckets_[2 * k];
    if (2 * k + 1 < buckets_.size()) {
      const Bucket& other = buckets_[2 * k + 1];
      both.least = std::min(both.least, other.least);
      both.most = std::max(both.most, other.most);
      both.sum += other.sum;
      both.n += other.n;
    }
    buckets_[k] = both;
  }
  buckets_.resize((buckets_.size() + 1) / 2);
  width_ns_ *= 2;
}

void Outline::widen_to(std::int64_t width_ns) {
  while (width_ns_ < width_ns) halve();
}

std::vector<double> Outline::sorted_means() const {
  std::vector<double> out;
  for (const Bucket& bucket : buckets_)
    if (bucket.n > 0) out.push_back(bucket.mean());
  std::sort(out.begin(), out.end());
  return out;
}

}  // namespace airlatch
