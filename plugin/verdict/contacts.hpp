// SPDX-License-Identifier: GPL-3.0-or-later
// contacts.hpp: which of three unknown contacts is ground, which blows, which sucks.
//
// In    the voltages of the three contacts against the source's negative terminal, the current and
//       the line's pressure, while the clips were moved from contact to contact.
// Out   for each contact the probability of each use, what is decided, and the next trial.
// How   Bayes over the six ways to name the contacts and the two the pump may be armed in. A trial
//       is a stretch with the clips in place: with the feed on the armed contact and the other clip
//       on ground the motor runs; after its cut-off the other direction is armed; the dead contact
//       is open, while ground and the armed one are joined by the winding, so that a contact nobody
//       clipped follows its partner (common practice, no source). What each trial shows is taken
//       as right in kSure of the cases.
#pragma once
#include <array>
#include <vector>

#include "plugin/message/report.hpp"

namespace airlatch {

struct ContactSample {
  double time_s = 0;
  std::array<double, 3> contact_v = {};
  double current_a = 0, line_kpa = 0;
};

// Samples evenly spaced by 20 to 250 ms. `names`: of the three contacts' channels.
Report::ContactFinding find_contacts(const std::vector<ContactSample>& samples,
                                     const std::array<std::string, 3>& names);

}  // namespace airlatch
