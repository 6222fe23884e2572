// SPDX-License-Identifier: GPL-3.0-or-later
// plans.hpp: the built-in plans.
//
// Their limits are our own (common practice, no source) and can be changed: write the plan to a
// file, edit it, and give the file with --plan.
#pragma once
#include <string>
#include <vector>

#include "decoders/setup.hpp"

namespace airlatch {

struct BuiltInPlan {
  const char* name;
  const char* about;
  const char* text;  // protobuf text format
};
const std::vector<BuiltInPlan>& built_in_plans();
// A built-in plan by its name, else a plan file. Throws InputError.
Plan find_plan(const std::string& name_or_file);

}  // namespace airlatch
