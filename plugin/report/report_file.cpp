#include "plugin/report/report_file.hpp"

#include <google/protobuf/util/json_util.h>

#include <fstream>
#include <sstream>

#include "plugin/system/input_error.hpp"

namespace airlatch {

bool looks_like_report(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  char first = '\0';
  return file.get(first) && (first == '{' || first == '\n');
}

v1::Report read_report(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file)
    throw InputError(ExitStatus::kNotFound, path, "", "cannot be opened", "check the name");
  std::ostringstream content;
  content << file.rdbuf();
  const std::string bytes = content.str();
  v1::Report report;
  google::protobuf::util::JsonParseOptions options;
  options.ignore_unknown_fields = true;
  const bool sound = !bytes.empty() && bytes[0] == '{'
                         ? google::protobuf::util::JsonStringToMessage(bytes, &report, options).ok()
                         : report.ParseFromString(bytes);
  if (!sound || report.captures_size() == 0)
    throw InputError(ExitStatus::kUnusableData, path, "", "this is no report of airlatch",
                     "name a report.json or a report.pb");
  return report;
}

}  // namespace airlatch
