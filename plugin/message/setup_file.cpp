// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/setup_file.hpp"

#include <fmt/format.h>
#include <sys/stat.h>

#include <cerrno>
#include <cmath>
#include <cstring>
#include <fstream>
#include <set>
#include <sstream>

#include "plugin/message/fields.hpp"
#include "plugin/message/text_format.hpp"
#include "plugin/message/wire.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kLargest = 1U << 20;

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

std::string words_of(Place at) { return fmt::format("line {}, column {}", at.line, at.column); }

template <typename Message>
Message read_message(const std::string& bytes, SetupFormat format, const std::string& path,
                     Places& places) {
  if (format == SetupFormat::kBinary) {
    Message message;
    if (!from_wire(bytes, message))
      throw InputError(ExitStatus::kUnusableData, path, "",
                       "this is not an " + std::string(Fields<Message>::kName),
                       "serialise one, or hand over text");
    return message;
  }
  try {
    return parse_text<Message>(bytes, &places);
  } catch (const TextError& error) {
    throw InputError(ExitStatus::kUnusableData, path, words_of(error.where()), error.what(),
                     error.mend());
  }
}

// Refuses what a message says, at its place or that of one of its fields. Places are looked up when
// they are needed: a file may have very many entries.
class Checks {
 public:
  Checks(const std::string& path, const Places& places) : path_(path), places_(places) {}
  // The same for an entry of a field that is repeated.
  Checks(const Checks& whole, const char* field, std::size_t index)
      : path_(whole.path_), places_(whole.places_), field_(field), index_(index) {}
  [[noreturn]] void refuse(const std::string& what, const std::string& mend) const {
    refuse_at(mine(), what, mend);
  }
  [[noreturn]] void refuse(const char* field, const std::string& what,
                           const std::string& mend) const {
    const Places* one = mine();
    refuse_at(one ? one->of(field) : nullptr, what, mend);
  }

 private:
  [[nodiscard]] const Places* mine() const {
    return field_ ? places_.of(field_, index_) : &places_;
  }
  [[noreturn]] void refuse_at(const Places* one, const std::string& what,
                              const std::string& mend) const {
    throw InputError(ExitStatus::kUnusableData, path_, one ? words_of(one->at) : "", what, mend);
  }
  const std::string& path_;
  const Places& places_;
  const char* field_ = nullptr;
  std::size_t index_ = 0;
};

void check_numbers(const Rig::Channel& channel, const Checks& checks) {
  if (channel.scale && (*channel.scale == 0 || !std::isfinite(*channel.scale)))
    checks.refuse("scale", "scale must be a finite number other than 0",
                  "give the role's unit per raw unit, for example scale: 10");
  if (!std::isfinite(channel.offset))
    checks.refuse("offset", "offset must be finite", "correct it");
  if (channel.range_min && channel.range_max && !(*channel.range_min < *channel.range_max))
    checks.refuse("range_min", "range_min is not below range_max", "exchange or correct them");
  if (!(channel.u_abs >= 0) || !(channel.u_rel >= 0))
    checks.refuse(channel.u_abs >= 0 ? "u_rel" : "u_abs", "a standard uncertainty is below 0",
                  "give the instrument's, 0 or more");
}

void check_channels(const Rig& rig, const Checks& checks) {
  std::set<Role> roles;
  std::set<std::string> sources;
  for (std::size_t i = 0; i < rig.channel.size(); ++i) {
    const Rig::Channel& channel = rig.channel[i];
    const Checks here(checks, "channel", i);
    if (channel.source.empty())
      here.refuse("a channel without source", "name the capture's channel: source: \"CH1\"");
    if (channel.role == Role::UNSPECIFIED)
      here.refuse(fmt::format("channel \"{}\" has no role", channel.source),
                  "say what it measures, for example role: LINE_PRESSURE");
    if (!roles.insert(channel.role).second)
      here.refuse("role", fmt::format("role {} is given twice", name_of(channel.role)),
                  "keep one channel for it");
    std::string lower = channel.source;
    for (char& c : lower) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    if (!sources.insert(lower).second)
      here.refuse("source", fmt::format("source \"{}\" is given twice", channel.source),
                  "give each channel one role");
    check_numbers(channel, here);
  }
}

}  // namespace

Rig read_rig(const std::string& path) {
  return parse_rig(whole_text(path), SetupFormat::kText, path);
}

Rig parse_rig(const std::string& bytes, SetupFormat format, const std::string& path) {
  Places places;
  Rig rig = read_message<Rig>(bytes, format, path, places);
  const Checks checks(path, places);
  check_channels(rig, checks);
  if (!(rig.line_volume_ml >= 0) || !(rig.line_volume_u_ml >= 0))
    checks.refuse(rig.line_volume_ml >= 0 ? "line_volume_u_ml" : "line_volume_ml",
                  "a volume is below 0", "give it in millilitres, or leave it out");
  if (!(rig.nominal_voltage_v >= 0))
    checks.refuse("nominal_voltage_v", "the voltage is below 0",
                  "give it in volts, or leave it out for 12 V");
  return rig;
}

Plan read_plan(const std::string& path) {
  return parse_plan(whole_text(path), SetupFormat::kText, path);
}

Plan parse_plan(const std::string& bytes, SetupFormat format, const std::string& path) {
  Places places;
  Plan plan = read_message<Plan>(bytes, format, path, places);
  const Checks checks(path, places);
  if (plan.response_limit_s && !(*plan.response_limit_s > 0))
    checks.refuse("response_limit_s", "response_limit_s must be above 0", "0.3 is the default");
  if (plan.run_limit_s && !(*plan.run_limit_s > 0))
    checks.refuse("run_limit_s", "run_limit_s must be above 0", "15 is the default");
  return plan;
}

Job read_job(const std::string& path) {
  Places places;
  Job job = read_message<Job>(whole_text(path), SetupFormat::kText, path, places);
  const Checks checks(path, places);
  for (std::size_t i = 0; i < job.capture.size(); ++i)
    if (job.capture[i].file.empty())
      Checks(checks, "capture", i).refuse("a capture without file", "name it: file: \"before.sr\"");
  return job;
}

}  // namespace airlatch
