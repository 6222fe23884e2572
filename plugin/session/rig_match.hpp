// SPDX-License-Identifier: GPL-3.0-or-later
// rig_match.hpp: which channel of a capture plays which role.
//
// Rig entries first (by source name, any case), then the contract's default channel names for roles
// the rig leaves free. Order of scaling: the unit written in the file (done by the source), then
// the rig's scale, offset, sign and zero.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "decoders/chain.hpp"
#include "plugin/sources/source.hpp"
#include "plugin/sources/units.hpp"

namespace airlatch {

struct RigMatch {
  std::vector<ChainChannel> channels;       // for a Chain
  std::vector<std::size_t> source_channel;  // of each: its number in the source
  std::vector<std::string> remarks;         // channels left over, rig entries without a channel
};

const char* default_name(Role role);  // "line_kpa" ...

// What the rig says of a channel of that name, or its default name does; nothing: it has no role.
std::optional<Rig::Channel> entry_of(const std::string& name, const Rig& rig);

// Whether values of that dimension can be what the entry says; a scale in it settles any.
bool fits(Dimension dimension, const Rig::Channel& entry);

// Throws InputError (kUnusableData) where a role would be played twice, a written unit contradicts
// its role, or no channel gets a role: then the error lists the channels and shows a rig snippet.
RigMatch match_rig(const std::vector<SourceChannel>& channels, const Rig& rig,
                   const std::string& file);

}  // namespace airlatch
