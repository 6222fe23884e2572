// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/setup_file.hpp"

#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <cerrno>
#include <charconv>
#include <chrono>
#include <cstring>
#include <fstream>
#include <set>
#include <sstream>

#include "plugin/message/field_ranges.hpp"
#include "plugin/message/fields.hpp"
#include "plugin/message/text_format.hpp"
#include "plugin/message/wire.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kLargest = 1U << 20;  // bytes

// At most kLargest bytes, whatever the source goes on to give.
std::string whole_text(const std::string& path) {
  struct stat about {};
  if (::stat(path.c_str(), &about) != 0)
    throw InputError(
        errno == ENOENT || errno == ENOTDIR ? ExitStatus::kNotFound : ExitStatus::kReadWriteFailed,
        path, "", std::strerror(errno), "check the name and the folder");
  if (S_ISDIR(about.st_mode))
    throw InputError(ExitStatus::kUnusableData, path, "", "this is a folder", "name a file in it");
  std::ifstream file(path, std::ios::binary);
  std::string text(kLargest + 1, '\0');
  if (file) file.read(text.data(), static_cast<std::streamsize>(text.size()));
  if (!file && !file.eof())
    throw InputError(ExitStatus::kReadWriteFailed, path, "", "it cannot be read",
                     "check that you may read it");
  text.resize(static_cast<std::size_t>(file.gcount()));
  if (text.size() > kLargest)
    throw InputError(ExitStatus::kUnusableData, path, "",
                     "it is larger than 1 MiB, far too large for such a file",
                     "name the rig, plan or job file, not a capture");
  if (text.starts_with("\xff\xfe") || text.starts_with("\xfe\xff"))
    throw InputError(ExitStatus::kUnusableData, path, "line 1", "this is UTF-16",
                     "save the file as UTF-8");
  constexpr std::string_view kByteOrderMark = "\xef\xbb\xbf";
  return text.starts_with(kByteOrderMark) ? text.substr(kByteOrderMark.size()) : text;
}

std::string words_of(Place at) { return fmt::format("line {}, column {}", at.line, at.column); }

const Places* place_of(const FieldPath& path, const Places& places) {
  const Places* at = &places;
  for (const auto& [field, index] : path) {
    const Places* const within = at->of(field, index);
    if (!within) break;  // not given: the message that lacks it
    at = within;
  }
  return at == &places ? nullptr : at;
}

// Each field within its range (field_ranges); what fields say together is checked by the callers.
template <typename Message>
Message read_message(const std::string& bytes, SetupFormat format, const std::string& path,
                     Places& places) {
  Message message;
  const auto refuse = [&](const std::string& place, const auto& error) {
    throw InputError(ExitStatus::kUnusableData, path, place, error.what(), error.mend());
  };
  if (format == SetupFormat::kBinary && !from_wire(bytes, message))
    throw InputError(ExitStatus::kUnusableData, path, "",
                     "this is not an " + std::string(Fields<Message>::kName),
                     "serialise one, or hand over text");
  try {
    if (format == SetupFormat::kText) message = parse_text<Message>(bytes, &places);
    check_fields(message);
  } catch (const TextError& error) {
    refuse(words_of(error.where()), error);
  } catch (const FieldError& error) {
    const Places* const at = place_of(error.path(), places);
    refuse(at ? words_of(at->at) : "", error);
  }
  return message;
}

// Refuses what fields say together, at the place of one of them. Places are looked up when they are
// needed: a file may have very many entries.
class Checks {
 public:
  Checks(const std::string& path, const Places& places) : path_(path), places_(places) {}
  [[noreturn]] void refuse(const FieldPath& field, const std::string& what,
                           const std::string& mend) const {
    const Places* const at = place_of(field, places_);
    throw InputError(ExitStatus::kUnusableData, path_, at ? words_of(at->at) : "", what, mend);
  }

 private:
  const std::string& path_;
  const Places& places_;
};

void check_channels(const Rig& rig, const Checks& checks) {
  std::set<Role> roles;
  std::set<std::string> sources;
  for (std::size_t i = 0; i < rig.channel.size(); ++i) {
    const Rig::Channel& channel = rig.channel[i];
    const auto refuse = [&](const char* field, const std::string& what, const std::string& mend) {
      checks.refuse({{"channel", i}, {field, 0}}, what, mend);
    };
    if (!roles.insert(channel.role).second)
      refuse("role", fmt::format("role {} is given twice", name_of(channel.role)),
             "keep one channel for it");
    std::string lower = channel.source;
    for (char& c : lower) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    if (!sources.insert(lower).second)
      refuse("source", fmt::format("source \"{}\" is given twice", channel.source),
             "give each channel one role");
    if (channel.scale == 0.0)
      refuse("scale", "scale must be a finite number other than 0",
             "give the role's unit per raw unit, for example scale: 10");
    if (channel.range_min && channel.range_max && !(*channel.range_min < *channel.range_max))
      refuse("range_min", "range_min is not below range_max", "exchange or correct them");
  }
}

void check_limits(const Plan& plan, std::size_t step, const Checks& checks) {
  for (std::size_t k = 0; k < plan.step[step].limit.size(); ++k) {
    const Plan::Limit& limit = plan.step[step].limit[k];
    const FieldPath here = {{"step", step}, {"limit", k}};
    if (!limit.min && !limit.max)
      checks.refuse(here, fmt::format("the limit of \"{}\" has neither min nor max", limit.measure),
                    "give one of them, or take the limit out");
    if (limit.min && limit.max && *limit.min > *limit.max)
      checks.refuse(here, fmt::format("min is above max for \"{}\"", limit.measure),
                    "exchange or correct them");
  }
}

void check_steps(const Plan& plan, const Checks& checks) {
  std::set<std::string> ids;
  for (std::size_t k = 0; k < plan.step.size(); ++k) {
    const std::string& id = plan.step[k].id;
    if (!id.empty() && !ids.insert(id).second)
      checks.refuse({{"step", k}, {"id", 0}}, fmt::format("two steps have the id \"{}\"", id),
                    "give each step its own");
    check_limits(plan, k, checks);
  }
}

// A day of the calendar, "2026-03-14".
bool is_day(const std::string& text) {
  int year = 0;
  unsigned month = 0, day = 0;
  const auto number = [&](std::size_t from, std::size_t size, auto& into) {
    const char* const to = text.data() + from + size;
    return std::from_chars(text.data() + from, to, into).ptr == to;
  };
  if (text.size() != 10 || text[4] != '-' || text[7] != '-' || !number(0, 4, year) ||
      !number(5, 2, month) || !number(8, 2, day) || year < 1000)
    return false;
  return std::chrono::year_month_day(std::chrono::year(year), std::chrono::month(month),
                                     std::chrono::day(day))
      .ok();
}

std::string listed(const std::vector<std::string>& names) {
  std::string list;
  for (const std::string& name : names) list += (list.empty() ? "" : ", ") + name;
  return list;
}

// What a job names is among what its plan knows. A plan that names none knows any.
void check_known(const Job& job, const Plan& plan, const Checks& checks) {
  std::vector<std::string> steps;
  for (const Plan::Step& step : plan.step) steps.push_back(step.id);
  const auto known = [](const std::vector<std::string>& names, const std::string& name) {
    return names.empty() || std::find(names.begin(), names.end(), name) != names.end();
  };
  for (std::size_t k = 0; k < job.capture.size(); ++k) {
    const Job::Capture& capture = job.capture[k];
    if (!capture.step.empty() && capture.step != kFindContacts && !known(steps, capture.step))
      checks.refuse({{"capture", k}, {"step", 0}},
                    fmt::format("the plan \"{}\" has no step \"{}\"", plan.name, capture.step),
                    "its steps are " + listed(steps));
    for (const std::string& branch : branch_names(capture.closed_branch))
      if (!known(plan.branch, branch))
        checks.refuse({{"capture", k}, {"closed_branch", 0}},
                      fmt::format("the plan \"{}\" has no branch \"{}\"", plan.name, branch),
                      "its branches are " + listed(plan.branch));
  }
}

}  // namespace

Rig read_rig(const std::string& path) {
  return parse_rig(whole_text(path), SetupFormat::kText, path);
}

Rig parse_rig(const std::string& bytes, SetupFormat format, const std::string& path) {
  Places places;
  Rig rig = read_message<Rig>(bytes, format, path, places);
  check_channels(rig, Checks(path, places));
  return rig;
}

Plan read_plan(const std::string& path) {
  return parse_plan(whole_text(path), SetupFormat::kText, path);
}

Plan parse_plan(const std::string& bytes, SetupFormat format, const std::string& path) {
  Places places;
  Plan plan = read_message<Plan>(bytes, format, path, places);
  check_steps(plan, Checks(path, places));
  return plan;
}

Job read_job(const std::string& path, const Plan& plan) {
  Places places;
  Job job = read_message<Job>(whole_text(path), SetupFormat::kText, path, places);
  const Checks checks(path, places);
  if (!job.date.empty() && !is_day(job.date))
    checks.refuse({{"date", 0}}, fmt::format("\"{}\" is no day of the calendar", job.date),
                  "write it as in date: \"2026-03-14\"");
  check_known(job, plan, checks);
  return job;
}

std::vector<std::string> branch_names(const std::string& closed_branch) {
  std::vector<std::string> names;
  std::istringstream list(closed_branch);
  for (std::string name; std::getline(list, name, ',');) {
    const std::size_t from = name.find_first_not_of(' ');
    if (from != std::string::npos)
      names.push_back(name.substr(from, name.find_last_not_of(' ') - from + 1));
  }
  return names;
}

}  // namespace airlatch
