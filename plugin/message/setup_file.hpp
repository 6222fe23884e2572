// SPDX-License-Identifier: GPL-3.0-or-later
// setup_file.hpp: the files a user writes (rig, plan, job), protobuf text format.
//
// Errors are one line: file, line and column, what is wrong, and how to correct it; for an unknown
// field or value the known ones are listed. A file is UTF-8 and 1 MiB at most: of one that goes on
// for ever no more is read.
#pragma once
#include <string>
#include <vector>

#include "decoders/setup.hpp"
#include "plugin/message/report.hpp"

namespace airlatch {

// All throw InputError: kNotFound, kReadWriteFailed, kUnusableData.
Rig read_rig(const std::string& path);
Plan read_plan(const std::string& path);
// What it says of steps and branches must be among those of the plan that it is judged by.
Job read_job(const std::string& path, const Plan& plan);

// A job's step whose capture shows clips moved among unknown contacts; every plan knows it.
inline constexpr const char* kFindContacts = "find_contacts";

// "left rear, right rear" as two names.
std::vector<std::string> branch_names(const std::string& closed_branch);

// The same from memory; `name` stands for the file in errors. Binary messages have no places.
enum class SetupFormat { kText, kBinary };
Rig parse_rig(const std::string& bytes, SetupFormat format, const std::string& name);
Plan parse_plan(const std::string& bytes, SetupFormat format, const std::string& name);

}  // namespace airlatch
