// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/report_file.hpp"

#include <google/protobuf/util/json_util.h>

#include <cerrno>
#include <fstream>

#include "airlatch/v1/report.pb.h"
#include "plugin/message/field_ranges.hpp"
#include "plugin/message/protobuf.hpp"
#include "plugin/message/wire.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kLargest = std::size_t{256} << 20;  // bytes

// Of report.json and of report.pb, whose first field it is.
bool begins_report(char first) { return first == '{' || first == '\n'; }

[[noreturn]] void refuse_no_report(const std::string& path) {
  throw InputError(ExitStatus::kUnusableData, path, "", "this is no report of airlatch",
                   "name a report.json or a report.pb");
}

// Read as far as it can be a report, whatever the source goes on to give.
std::string whole_report(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  const int error = errno;
  if (!file)
    throw InputError(
        error == ENOENT || error == ENOTDIR ? ExitStatus::kNotFound : ExitStatus::kReadWriteFailed,
        path, "", "cannot be opened", "check the name and that you may read it");
  std::string bytes;
  constexpr std::size_t kPiece = std::size_t{1} << 20;
  while (file) {
    const std::size_t before = bytes.size();
    bytes.resize(before + kPiece);
    file.read(bytes.data() + before, kPiece);
    bytes.resize(before + static_cast<std::size_t>(file.gcount()));
    if (file.bad())
      throw InputError(ExitStatus::kReadWriteFailed, path, "", "cannot be read", "check the disk");
    if (bytes.empty() || !begins_report(bytes[0])) refuse_no_report(path);
    if (bytes.size() > kLargest)
      throw InputError(ExitStatus::kUnusableData, path, "", "it is larger than 256 MiB",
                       "a report is far smaller; name a report.json or a report.pb");
  }
  return bytes;
}

bool read_json(const std::string& text, Report& report) {
  v1::Report message;
  google::protobuf::util::JsonParseOptions options;
  options.ignore_unknown_fields = true;
  return google::protobuf::util::JsonStringToMessage(text, &message, options).ok() &&
         from_wire(message.SerializeAsString(), report);
}

}  // namespace

bool looks_like_report(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  char first = '\0';
  return file.get(first) && begins_report(first);
}

Report read_report(const std::string& path) {
  const std::string bytes = whole_report(path);
  Report report;
  const bool json = bytes[0] == '{';
  const bool sound = json ? read_json(bytes, report) : from_wire(bytes, report);
  if (!sound || report.captures.empty()) refuse_no_report(path);
  try {
    check_fields(report);
  } catch (const FieldError& error) {
    throw InputError(ExitStatus::kUnusableData, path, std::string(error.path().front().first),
                     error.what(), "have the report written again");
  }
  return report;
}

std::string report_json(const Report& report) {
  google::protobuf::util::JsonPrintOptions print;
  print.preserve_proto_field_names = true;
  print.always_print_primitive_fields = true;
  print.add_whitespace = true;
  std::string json;
  (void)google::protobuf::util::MessageToJsonString(to_message<v1::Report>(report), &json, print);
  return json_shown(std::move(json));
}

}  // namespace airlatch
