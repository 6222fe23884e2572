// SPDX-License-Identifier: GPL-3.0-or-later
// rig_proposal.hpp: which channel of a capture probably measures what.
//
// In    a capture's channels, their names and units, and outlines of all their samples.
// Out   for each channel its most probable role and the others that it could play, how certain each
//       is, and on what that rests; an entry for a rig. No role is given twice.
// How   a name or a unit counts before the signal, which decides between the roles left: a supply
//       stays at 9 to 16 V (or twice that); a feed is nothing or its level; a current is nothing at
//       rest and starts with a peak; a return is a little more than nothing while the current flows;
//       a pressure moves steadily; the air's temperature hardly at all. All: common practice.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <vector>

#include "decoders/setup.hpp"
#include "plugin/session/outline.hpp"
#include "plugin/sources/source.hpp"

namespace airlatch {

enum class Certainty { kGuess, kLikely, kSure };
const char* certainty_words(Certainty certainty);

struct Proposal {
  struct Guess {
    Role role = Role::UNSPECIFIED;
    double score = 0;  // 0 to 1
  };
  std::string channel;
  Outline outline = {};
  std::vector<Guess> guesses = {};         // the most probable first
  std::optional<Rig::Channel> entry = {};  // for a rig; nothing: it plays no role
  Certainty certainty = Certainty::kGuess;
  std::string seen = {};     // "0.00 to 8.91 A; starts with a peak"
  std::string because = {};  // "its name, its unit"
  std::string to_do = {};    // what only the user can know; empty: nothing
};

class RigProposer {
 public:
  explicit RigProposer(std::vector<SourceChannel> channels);
  void take(const SampleBlock& block);  // of the source, as they come
  [[nodiscard]] std::vector<Proposal> propose();

 private:
  [[nodiscard]] std::optional<std::size_t> like_the_current(
      const std::vector<Proposal>& proposals) const;
  std::vector<SourceChannel> channels_;
  std::vector<Outline> outlines_;
  std::optional<std::int64_t> t0_ns_;
};

// The entry that gives a channel the role: what has to be said of its unit, too.
Rig::Channel entry_for(const SourceChannel& channel, const Outline& outline, Role role,
                       std::string& to_do);

}  // namespace airlatch
