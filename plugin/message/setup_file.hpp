// SPDX-License-Identifier: GPL-3.0-or-later
// setup_file.hpp: the files a user writes (rig, plan, job), protobuf text format.
//
// Errors are one line: file, line and column, what is wrong, and how to correct it; for an unknown
// field or value the known ones are listed.
#pragma once
#include <string>

#include "decoders/setup.hpp"
#include "plugin/message/report.hpp"

namespace airlatch {

// All throw InputError: kNotFound, kReadWriteFailed, kUnusableData.
Rig read_rig(const std::string& path);
Plan read_plan(const std::string& path);
Job read_job(const std::string& path);

// The same from memory; `name` stands for the file in errors. Binary messages have no places.
enum class SetupFormat { kText, kBinary };
Rig parse_rig(const std::string& bytes, SetupFormat format, const std::string& name);
Plan parse_plan(const std::string& bytes, SetupFormat format, const std::string& name);

}  // namespace airlatch
