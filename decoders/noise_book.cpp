// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/noise_book.hpp"

namespace airlatch {
namespace {
constexpr double kMuchMore =
    1.5;  // a standard deviation known from n stretches is known to 1/sqrt n

// A pressure still moves when nothing moves it, and a source recovers from a load.
NoiseLearner::Signal signal_of(Role role) {
  const bool drifts =
      role == Role::LINE_PRESSURE || role == Role::BRANCH_PRESSURE || role == Role::SUPPLY_VOLTAGE;
  return drifts ? NoiseLearner::Signal::kDrifts : NoiseLearner::Signal::kStands;
}
}  // namespace

void NoiseBook::learn(Role role, const Track& track, std::int64_t from, std::int64_t to,
                      bool joins) {
  Page& page = pages_[static_cast<std::size_t>(role)];
  if (!page.begun) page.learner = NoiseLearner(track.period_s(), signal_of(role));
  page.begun = true;
  if (!joins) page.learner.end_stretch();
  page.learner.add(track.values(from, to));
}

const NoiseModel& NoiseBook::of(Role role, const Track& track) const {
  const Page& page = this->page(role);
  const bool learnt = page.begun && page.learner.enough();
  const double known_s = learnt ? page.learner.learnt_s() : 0;
  if (known_s > 0 && known_s <= kMuchMore * page.fitted_s) return page.model;
  const double capture_s = track.empty() ? 0 : track.time_s(track.end() - 1);
  page.model = learnt ? page.learner.model(track.step(), capture_s)
                      : assumed_noise(track.noise(), track.step(), track.period_s(), capture_s);
  page.fitted_s = known_s;
  return page.model;
}

}  // namespace airlatch
