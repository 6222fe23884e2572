// SPDX-License-Identifier: GPL-3.0-or-later
// rig_match.hpp: which channel of a capture plays which role.
//
// Rig entries first (by source name, any case), then the contract's default channel names for roles
// the rig leaves free.
//
// How   quantity = scale * raw + offset, then sign, then zero. The source has applied the unit that
//       the file writes; a file's unit and the rig never multiply:
//         the rig says     raw is
//         nothing          in the file's unit, brought to V, A, kPa or degC
//         unit             in the rig's unit, brought to V, A, kPa or degC, whatever the file says
//         scale only       the number that stands in the file; its unit is left out (and told)
//       An absolute pressure becomes a gauge pressure by the ambient pressure that the rig gives, or
//       by the zero that is learnt at the start. All this ends up in the scale, offset, auto_zero
//       and u_abs of the entries handed out: whoever scales samples needs no more than those.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "decoders/chain.hpp"
#include "plugin/session/rig_unit.hpp"
#include "plugin/sources/source.hpp"

namespace airlatch {

struct RigMatch {
  std::vector<ChainChannel> channels;        // for a Chain
  std::vector<std::size_t> source_channel;   // of each: its number in the source
  std::vector<std::string> remarks = {};     // channels left over, rig entries without a channel
  std::vector<bool> as_written = {};         // of each: a number in the file is the quantity itself
  std::vector<std::string> understood = {};  // of each channel: what it is, by what, in which unit
};

// Whether the rig was written for this capture, so that a source which no channel has is a mistake,
// or for many (a job's, an instrument's), where it may be only absent today.
enum class RigUse { kThisCapture, kMany };

const char* default_name(Role role);  // "line_kpa" ...

// What the rig says of a channel of that name, or its default name does; nothing: it has no role.
std::optional<Rig::Channel> entry_of(const std::string& name, const Rig& rig);

// Throws InputError (kUnusableData) where a role would be played twice, a unit is unknown or
// contradicts its role, or no channel gets a role. A rig's source that no channel has is refused
// where a channel without a role may be meant by it: any, in a rig for this capture; one with a
// name like it, in a rig for many. Otherwise it is a remark.
RigMatch match_rig(const std::vector<SourceChannel>& channels, const Rig& rig,
                   const std::string& file, RigUse use = RigUse::kMany);

}  // namespace airlatch
