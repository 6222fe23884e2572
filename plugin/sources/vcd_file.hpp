// SPDX-License-Identifier: GPL-3.0-or-later
// vcd_file.hpp: value change dumps (IEEE Std 1364-2005, clause 18), packed by gzip or not.
//
// In    wires, registers, integers and real numbers, in scopes.
// Out   one channel each, of its name (with its scopes where names are used twice): a bit is 0 or 1,
//       several are a number, what is unknown (x, z) is missing.
// How   the file is read twice: first for the step that all its times are multiples of, then for the
//       values, which hold between changes. The channels' period is that step, but not below
//       kVcdLeast_s, nor below what makes 2^25 values of all (a finer edge is moved by less than
//       that), nor, where a value is not real, above kVcdMost_s, so that what holds is seen to hold.
// Cost  constant memory.
#pragma once
#include <memory>
#include <string>
#include <string_view>

#include "plugin/sources/source.hpp"

namespace airlatch {

inline constexpr double kVcdLeast_s = 1e-5, kVcdMost_s = 1e-3;

bool is_vcd(std::string_view head);
// Throws InputError.
std::unique_ptr<Source> open_vcd(const std::string& path, const OpenOptions& options);

}  // namespace airlatch
