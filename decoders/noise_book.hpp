// SPDX-License-Identifier: GPL-3.0-or-later
// noise_book.hpp: each channel's noise, learnt from the capture's own quiet stretches.
//
// In    stretches in which a channel stands still, from the decoder `quiet`.
// Out   a NoiseModel a role; before anything was learnt, or where a capture is never quiet, the wider
//       assumption of method/noise_model.
// How   one NoiseLearner a role, for at most kEnough_s of quiet. A model is fitted when it is asked
//       for and much more is known than last time.
// Cost  under 4 kB a role.
#pragma once
#include <array>

#include "decoders/method/noise_model.hpp"
#include "decoders/setup.hpp"
#include "decoders/stream/track.hpp"

namespace airlatch {

class NoiseBook {
 public:
  static constexpr double kEnough_s = 60;  // longer than any mean whose variance is asked for
  // Samples [from, to) of the track; `joins`: the first follows the last one learnt.
  void learn(Role role, const Track& track, std::int64_t from, std::int64_t to, bool joins);
  [[nodiscard]] bool wants(Role role) const { return page(role).learner.learnt_s() < kEnough_s; }
  [[nodiscard]] const NoiseModel& of(Role role, const Track& track) const;

 private:
  struct Page {
    NoiseLearner learner{0};
    bool begun = false;
    mutable NoiseModel model = {};
    mutable double fitted_s = -1;  // what the model was fitted to
  };
  [[nodiscard]] const Page& page(Role role) const { return pages_[static_cast<std::size_t>(role)]; }
  std::array<Page, kRoles> pages_ = {};
};

}  // namespace airlatch
