// SPDX-License-Identifier: GPL-3.0-or-later
// rig_unit.hpp: the unit of a channel's raw values, where the file writes one, the rig names one, or
// both; absolute pressures.
//
// In    a source's channel, whose file unit is applied already, and its rig entry.
// Out   the entry with the unit and the ambient pressure worked into scale, offset, auto_zero and
//       u_abs (the rules stand in rig_match.hpp), and words about it.
#pragma once
#include <string>

#include "decoders/setup.hpp"
#include "plugin/sources/source.hpp"
#include "plugin/sources/units.hpp"

namespace airlatch {

struct RigUnit {
  Rig::Channel entry;
  std::string words;   // "psi as the rig says, absolute, ambient learnt at the start"
  std::string remark;  // empty: nothing that a reader must know
};

// Throws InputError (kUnusableData) where a unit is unknown or does not fit the role, or where
// something else than a pressure is said to be absolute.
RigUnit settle_unit(const SourceChannel& channel, const Rig::Channel& entry, const Rig& rig,
                    const std::string& file);

// Whether values of that dimension can be what the entry says; a scale in it settles any.
bool fits(Dimension dimension, const Rig::Channel& entry);

}  // namespace airlatch
