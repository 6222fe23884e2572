// SPDX-License-Identifier: GPL-3.0-or-later
// report_file.hpp: a written report read back, in binary or JSON.
#pragma once
#include <string>

#include "plugin/message/report.hpp"

namespace airlatch {

// By the first byte: JSON's brace, or the tag of the report's first field. No capture begins so.
bool looks_like_report(const std::string& path);

// Fields that a newer version wrote are passed over. Throws InputError.
Report read_report(const std::string& path);

// The protobuf JSON mapping, proto field names kept, defaults printed.
std::string report_json(const Report& report);

}  // namespace airlatch
