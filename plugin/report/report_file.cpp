// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/report_file.hpp"

#include <google/protobuf/util/json_util.h>

#include <cerrno>
#include <fstream>

#include "airlatch/v1/report.pb.h"
#include "plugin/message/protobuf.hpp"
#include "plugin/message/wire.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

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
  return file.get(first) && (first == '{' || first == '\n');
}

Report read_report(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  const int error = errno;
  if (!file)
    throw InputError(
        error == ENOENT || error == ENOTDIR ? ExitStatus::kNotFound : ExitStatus::kReadWriteFailed,
        path, "", "cannot be opened", "check the name and that you may read it");
  std::string bytes, piece(1 << 16, '\0');
  while (file.read(piece.data(), static_cast<std::streamsize>(piece.size())), file.gcount() > 0)
    bytes.append(piece, 0, static_cast<std::size_t>(file.gcount()));
  if (file.bad())
    throw InputError(ExitStatus::kReadWriteFailed, path, "", "cannot be read", "check the disk");
  Report report;
  const bool json = !bytes.empty() && bytes[0] == '{';
  const bool sound = json ? read_json(bytes, report) : from_wire(bytes, report);
  if (!sound || report.captures.empty())
    throw InputError(ExitStatus::kUnusableData, path, "", "this is no report of airlatch",
                     "name a report.json or a report.pb");
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
