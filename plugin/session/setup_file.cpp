#include "plugin/session/setup_file.hpp"

#include <fmt/format.h>
#include <google/protobuf/io/tokenizer.h>
#include <google/protobuf/text_format.h>
#include <sys/stat.h>

#include <cerrno>
#include <cmath>
#include <cstring>
#include <fstream>
#include <map>
#include <sstream>

#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::FieldDescriptor;
using google::protobuf::TextFormat;

constexpr std::size_t kLargest = 1U << 20;

class FirstError final : public google::protobuf::io::ErrorCollector {
 public:
  void AddError(int line, int column, const std::string& message) override {
    if (!what.empty()) return;
    where = fmt::format("line {}, column {}", line + 1, column + 1);
    what = message;
  }
  std::string where, what;
};

// "pressure, vacuum": the fields of a message, or the values of the enum fields, for the mend.
std::string known_fields(const Descriptor& type) {
  std::string list;
  for (int i = 0; i < type.field_count(); ++i) list += (i ? ", " : "") + type.field(i)->name();
  return list;
}

std::string mend_for(const Descriptor& type, const std::string& message) {
  // protobuf's words: Message type "airlatch.v1.Rig" has no field named "x". / Unknown enumeration
  // value of "x" for field "role".
  const auto quoted = [&](const char* before) -> std::string {
    const std::size_t at = message.find(before);
    if (at == std::string::npos) return {};
    const std::size_t from = at + std::strlen(before), to = message.find('"', from);
    return to == std::string::npos ? std::string() : message.substr(from, to - from);
  };
  const auto* pool = type.file()->pool();
  if (const std::string name = quoted("Message type \""); !name.empty())
    if (const Descriptor* of = pool->FindMessageTypeByName(name))
      return "the fields are " + known_fields(*of);
  if (const std::string name = quoted("for field \""); !name.empty()) {
    const auto search = [&](const auto& self, const Descriptor& in) -> const FieldDescriptor* {
      if (const auto* field = in.FindFieldByName(name); field && field->enum_type()) return field;
      for (int i = 0; i < in.nested_type_count(); ++i)
        if (const auto* field = self(self, *in.nested_type(i))) return field;
      return nullptr;
    };
    if (const FieldDescriptor* field = search(search, type)) {
      std::string list;
      for (int i = 1; i < field->enum_type()->value_count(); ++i)
        list += (i > 1 ? ", " : "") + field->enum_type()->value(i)->name();
      return "the values are " + list;
    }
  }
  return "correct the file there";
}

std::string whole_text(const std::string& path) {
  struct stat about {};
  if (::stat(path.c_str(), &about) != 0)
    throw InputError(
        errno == ENOENT || errno == ENOTDIR ? ExitStatus::kNotFound : ExitStatus::kReadWriteFailed,
        path, "", std::strerror(errno), "check the name and the folder");
  if (S_ISDIR(about.st_mode))
    throw InputError(ExitStatus::kUnusableData, path, "", "this is a folder", "name a file in it");
  if (about.st_size > static_cast<off_t>(kLargest))
    throw InputError(ExitStatus::kUnusableData, path, "", "it is far too large for such a file",
                     "name the rig, plan or job file, not a capture");
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  if (!file)
    throw InputError(ExitStatus::kReadWriteFailed, path, "", "it cannot be read",
                     "check that you may read it");
  return text.str();
}

// Reads `message`; the tree of places serves checks of meaning.
void read_message(const std::string& bytes, SetupFormat format, const std::string& path,
                  google::protobuf::Message& message, TextFormat::ParseInfoTree& places) {
  if (format == SetupFormat::kBinary) {
    if (!message.ParseFromString(bytes))
      throw InputError(ExitStatus::kUnusableData, path, "",
                       "this is no " + message.GetDescriptor()->full_name(),
                       "serialise one, or hand over text");
    return;
  }
  FirstError error;
  TextFormat::Parser parser;
  parser.RecordErrorsTo(&error);
  parser.WriteLocationsTo(&places);
  if (!parser.ParseFromString(bytes, &message))
    throw InputError(ExitStatus::kUnusableData, path, error.where, error.what,
                     mend_for(*message.GetDescriptor(), error.what));
}

[[noreturn]] void refuse(const std::string& path, const TextFormat::ParseInfoTree& places,
                         const Descriptor& type, const char* field, int index,
                         const std::string& what, const std::string& mend) {
  const auto at = places.GetLocation(type.FindFieldByName(field), index);
  throw InputError(
      ExitStatus::kUnusableData, path,
      at.line >= 0 ? fmt::format("line {}, column {}", at.line + 1, at.column + 1) : "", what,
      mend);
}

}  // namespace

v1::Rig read_rig(const std::string& path) {
  return parse_rig(whole_text(path), SetupFormat::kText, path);
}

v1::Rig parse_rig(const std::string& bytes, SetupFormat format, const std::string& path) {
  v1::Rig rig;
  TextFormat::ParseInfoTree places;
  read_message(bytes, format, path, rig, places);
  const Descriptor& type = *v1::Rig::descriptor();
  const Descriptor& channel_type = *v1::Rig::Channel::descriptor();
  std::map<int, int> roles;
  std::map<std::string, int> sources;
  for (int i = 0; i < rig.channel_size(); ++i) {
    const v1::Rig::Channel& channel = rig.channel(i);
    const auto* tree = places.GetTreeForNested(type.FindFieldByName("channel"), i);
    const auto bad = [&](const char* field, const std::string& what, const std::string& mend) {
      if (tree) refuse(path, *tree, channel_type, field, -1, what, mend);
      refuse(path, places, type, "channel", i, what, mend);
    };
    const auto bad_entry = [&](const std::string& what, const std::string& mend) {
      refuse(path, places, type, "channel", i, what, mend);
    };
    if (channel.source().empty())
      bad_entry("a channel without source", "name the capture's channel: source: \"CH1\"");
    if (channel.role() == v1::ROLE_UNSPECIFIED)
      bad_entry(fmt::format("channel \"{}\" has no role", channel.source()),
                "say what it measures, for example role: LINE_PRESSURE");
    if (!roles.emplace(channel.role(), i).second)
      bad("role", fmt::format("role {} stands twice", v1::Role_Name(channel.role())),
          "keep one channel for it");
    std::string lower = channel.source();
    for (char& c : lower) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    if (!sources.emplace(lower, i).second)
      bad("source", fmt::format("source \"{}\" stands twice", channel.source()),
          "give each channel one role");
    if (channel.has_scale() && (channel.scale() == 0 || !std::isfinite(channel.scale())))
      bad("scale", "scale must be a finite number other than 0",
          "give the role's unit per raw unit, for example scale: 10");
    if (!std::isfinite(channel.offset())) bad("offset", "offset must be finite", "correct it");
    if (channel.has_range_min() && channel.has_range_max() &&
        !(channel.range_min() < channel.range_max()))
      bad("range_min", "range_min is not below range_max", "exchange or correct them");
    if (!(channel.u_abs() >= 0) || !(channel.u_rel() >= 0))
      bad(channel.u_abs() >= 0 ? "u_rel" : "u_abs", "a standard uncertainty is below 0",
          "give the instrument's, 0 or more");
  }
  if (!(rig.line_volume_ml() >= 0) || !(rig.line_volume_u_ml() >= 0))
    refuse(path, places, type, rig.line_volume_ml() >= 0 ? "line_volume_u_ml" : "line_volume_ml",
           -1, "a volume is below 0", "give it in millilitres, or leave it out");
  if (!(rig.nominal_voltage_v() >= 0))
    refuse(path, places, type, "nominal_voltage_v", -1, "the voltage is below 0",
           "give it in volts, or leave it out for 12 V");
  return rig;
}

v1::Plan read_plan(const std::string& path) {
  return parse_plan(whole_text(path), SetupFormat::kText, path);
}

v1::Plan parse_plan(const std::string& bytes, SetupFormat format, const std::string& path) {
  v1::Plan plan;
  TextFormat::ParseInfoTree places;
  read_message(bytes, format, path, plan, places);
  const Descriptor& type = *v1::Plan::descriptor();
  if (plan.has_response_limit_s() && !(plan.response_limit_s() > 0))
    refuse(path, places, type, "response_limit_s", -1, "response_limit_s must be above 0",
           "0.3 is the default");
  if (plan.has_run_limit_s() && !(plan.run_limit_s() > 0))
    refuse(path, places, type, "run_limit_s", -1, "run_limit_s must be above 0",
           "15 is the default");
  return plan;
}

v1::Job read_job(const std::string& path) {
  v1::Job job;
  TextFormat::ParseInfoTree places;
  read_message(whole_text(path), SetupFormat::kText, path, job, places);
  for (int i = 0; i < job.capture_size(); ++i)
    if (job.capture(i).file().empty())
      refuse(path, places, *v1::Job::descriptor(), "capture", i, "a capture without file",
             "name it: file: \"before.sr\"");
  return job;
}

}  // namespace airlatch
