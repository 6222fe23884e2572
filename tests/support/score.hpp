// SPDX-License-Identifier: GPL-3.0-or-later
// score.hpp: decoded events against the truth of a rehearsal: what was found, missed and invented,
// how far the instants are off, and how many uncertainty intervals hold the truth.
#pragma once
#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <vector>

#include "decoders/chain.hpp"
#include "decoders/event.hpp"
#include "plugin/rehearse/rehearsal.hpp"

namespace airlatch::test {

struct KindScore {
  int found = 0, missed = 0, invented = 0;
  std::vector<double> errors_s;  // decoded minus true, of the instants
  [[nodiscard]] double precision() const {
    return found + invented > 0 ? static_cast<double>(found) / (found + invented) : 1;
  }
  [[nodiscard]] double recall() const {
    return found + missed > 0 ? static_cast<double>(found) / (found + missed) : 1;
  }
  [[nodiscard]] double rms_s() const {
    double sum = 0;
    for (const double e : errors_s) sum += e * e;
    return errors_s.empty() ? 0 : std::sqrt(sum / static_cast<double>(errors_s.size()));
  }
};

struct MeasureScore {
  int covered = 0, total = 0;
  std::vector<double> error;     // decoded minus true
  std::vector<double> relative;  // error over truth
  std::vector<double> z;         // error over u
};

struct Score {
  std::map<Kind, KindScore> kinds;
  std::map<std::string, MeasureScore> measures;  // "KIND.measure", and "KIND.time_s"
};

std::vector<Event> decode_rehearsal(const Rehearsal& r, std::size_t cut = 4096);

// Counts one rehearsal's events.
void add_score(Score& score, const Rehearsal& r, const std::vector<Event>& events);

}  // namespace airlatch::test
