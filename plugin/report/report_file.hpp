// report_file.hpp: a written report read back, in binary or JSON.
#pragma once
#include <string>

#include "airlatch/v1/report.pb.h"

namespace airlatch {

// By the first byte: JSON's brace, or the tag of the report's first field. No capture begins so.
bool looks_like_report(const std::string& path);

// Fields a newer version wrote are kept (binary) or passed over (JSON). Throws InputError.
v1::Report read_report(const std::string& path);

}  // namespace airlatch
