// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/rig_match.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <map>
#include <optional>
#include <utility>

#include "plugin/session/rig_unit.hpp"
#include "plugin/sources/units.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/nearest_word.hpp"

namespace airlatch {
namespace {

constexpr std::array<const char*, static_cast<int>(kRoles)> kDefaultNames = {
    "",         "supply_v",   "feed_a_v", "feed_b_v", "return_v", "motor_a",
    "line_kpa", "branch_kpa", "air_c",    "command",  "fuse_v"};

std::string lower_case(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

bool same_name(const std::string& a, const std::string& b) {
  return lower_case(a) == lower_case(b);
}

// At most twenty of them.
std::string listed(const std::vector<std::string>& names) {
  constexpr std::size_t kMost = 20;
  std::string out;
  for (std::size_t k = 0; k < names.size() && k < kMost; ++k)
    out += fmt::format("{}{}", k ? ", " : "", names[k]);
  return names.size() > kMost ? out + ", ..." : out;
}

// Upper and lower case, blanks, underscores and hyphens are no difference. Of a short name one
// letter is the name: CH1 is not CH2.
std::string nearest_name(const std::string& source, const std::vector<std::string>& names) {
  const auto plain = [](const std::string& name) {
    std::string out;
    for (const char c : lower_case(name))
      if (c != ' ' && c != '_' && c != '-' && c != '.') out += c;
    return out;
  };
  std::vector<std::string> plain_names;
  for (const std::string& name : names) {
    if (plain(name) == plain(source)) return name;
    plain_names.push_back(plain(name));
  }
  const std::string near = nearest_word(plain(source), plain_names);
  constexpr std::size_t kShort = 5;
  if (near.empty() || near.size() < kShort) return "";
  return names[static_cast<std::size_t>(std::find(plain_names.begin(), plain_names.end(), near) -
                                        plain_names.begin())];
}

std::string range_words(const Rig::Channel& entry) {
  if (!entry.range_min && !entry.range_max) return "";
  const auto side = [](const std::optional<double>& limit, const char* none) {
    return limit ? fmt::format("{:.6g}", *limit) : std::string(none);
  };
  return fmt::format("; range {} to {} {}", side(entry.range_min, "any"),
                     side(entry.range_max, "any"), unit_of(entry.role));
}

// The role that a channel's name alone gives it.
std::optional<Role> default_role(const std::string& name) {
  for (int r = 1; r < static_cast<int>(kRoles); ++r) {
    const auto role = static_cast<Role>(r);
    if (lower_case(name) == default_name(role)) return role;
  }
  return std::nullopt;
}

enum class By { kRig, kDefaultName };

// One capture's channels and the roles they get, step by step.
class Matching {
 public:
  Matching(const std::vector<SourceChannel>& channels, const Rig& rig, const std::string& file,
           RigUse use)
      : channels_(channels), rig_(rig), file_(file), use_(use) {}
  void by_rig();
  void by_default_names();  // what the rig leaves free
  void check_absent();      // sources of the rig that the capture does not have
  RigMatch finished();

 private:
  [[noreturn]] void refuse(const std::string& place, const std::string& what,
                           const std::string& mend) const {
    throw InputError(ExitStatus::kUnusableData, file_, place, what, mend);
  }
  [[nodiscard]] std::optional<std::size_t> named(const std::string& source) const;
  void remark_taken(std::size_t channel, Role role, std::size_t by);
  void settle(std::size_t channel, const Rig::Channel& entry);
  [[noreturn]] void refuse_roleless() const;
  const std::vector<SourceChannel>& channels_;
  const Rig& rig_;
  const std::string& file_;
  RigUse use_;
  std::map<Role, std::size_t> taken_;  // role -> channel
  std::map<std::size_t, Rig::Channel> entries_;
  std::map<std::size_t, By> by_;
  std::vector<const Rig::Channel*> absent_;
  std::vector<std::string> by_their_names_;  // and in the role's unit
  RigMatch match_;
};

void Matching::by_rig() {
  for (const Rig::Channel& entry : rig_.channel) {
    if (const auto found = named(entry.source)) {
      taken_.emplace(entry.role, *found);
      entries_.emplace(*found, entry);
      by_.emplace(*found, By::kRig);
    } else {
      absent_.push_back(&entry);
    }
  }
}

void Matching::check_absent() {
  std::vector<std::string> unnamed, free;  // not in the rig; without any role
  for (std::size_t c = 0; c < channels_.size(); ++c) {
    if (!entries_.contains(c)) free.push_back(channels_[c].name);
    if (!entries_.contains(c) || by_.at(c) != By::kRig) unnamed.push_back(channels_[c].name);
  }
  for (const Rig::Channel* entry : absent_) {
    const std::string what = fmt::format("the rig's channel '{}' ({}) is not in the capture",
                                         entry->source, name_of(entry->role));
    const std::string near = nearest_name(entry->source, unnamed);
    if (!near.empty())
      refuse("", what, fmt::format("did you mean '{}'? correct the rig's source", near));
    if (use_ == RigUse::kThisCapture && !free.empty() && !entries_.empty())
      refuse(
          "", what,
          fmt::format("the rig leaves {}: name one of them, or take the entry out", listed(free)));
    match_.remarks.push_back(what);
  }
}

std::optional<std::size_t> Matching::named(const std::string& source) const {
  std::optional<std::size_t> found;
  for (std::size_t c = 0; c < channels_.size(); ++c) {
    if (!same_name(channels_[c].name, source)) continue;
    if (found)
      refuse(fmt::format("channels {} and {}", *found + 1, c + 1),
             fmt::format("both are called '{}', which the rig gives a role", channels_[c].name),
             "give them different names");
    found = c;
  }
  if (found) return found;
  // By all that stands in the header ("Pressure [bar]"), or by the column's number.
  for (std::size_t c = 0; c < channels_.size(); ++c)
    if (same_name(channels_[c].written, source)) return c;
  for (std::size_t c = 0; c < channels_.size(); ++c)
    if (channels_[c].column > 0 && std::to_string(channels_[c].column) == source) return c;
  return std::nullopt;
}

void Matching::by_default_names() {
  for (std::size_t c = 0; c < channels_.size(); ++c) {
    if (entries_.contains(c)) continue;
    const std::string& own = channels_[c].repeats;
    const auto role = default_role(own.empty() ? channels_[c].name : own);
    if (!role) continue;
    if (const auto other = taken_.find(*role); other != taken_.end()) {
      remark_taken(c, *role, other->second);
      continue;
    }
    Rig::Channel entry;
    entry.source = channels_[c].name;
    entry.role = *role;
    taken_.emplace(*role, c);
    entries_.emplace(c, entry);
    by_.emplace(c, By::kDefaultName);
  }
}

// Another channel plays the role: by the rig, which takes precedence, or by the same name.
void Matching::remark_taken(std::size_t channel, Role role, std::size_t by) {
  const std::string& other = channels_[by].name;
  const std::string& name =
      channels_[channel].repeats.empty() ? channels_[channel].name : channels_[channel].repeats;
  if (!entries_.contains(by) || same_name(other, name))
    refuse(fmt::format("channels {} and {}", by + 1, channel + 1),
           fmt::format("both are called '{}'", name),
           "rename one, or give one a role in a rig file");
  match_.remarks.push_back(fmt::format("channel '{}' is not used: the rig gives {} to '{}'", name,
                                       name_of(role), other));
}

// The entry as samples are scaled by it, and what is to be said of it.
void Matching::settle(std::size_t c, const Rig::Channel& entry) {
  const SourceChannel& channel = channels_[c];
  const RigUnit unit = settle_unit(channel, entry, rig_, file_);
  match_.channels.push_back({.rig = unit.entry, .clock = channel.clock, .logic = channel.logic});
  match_.source_channel.push_back(c);
  match_.as_written.push_back(channel.unit_scale == 1 && channel.unit_offset == 0 &&
                              unit.entry.scale.value_or(1) == 1 && unit.entry.offset == 0);
  const bool by_name = by_.at(c) == By::kDefaultName;
  if (by_name && match_.as_written.back() && !unit.entry.absolute)
    by_their_names_.push_back(channel.name);
  else
    match_.understood.push_back(
        fmt::format("'{}' is {} {}: {}{}", channel.name, name_of(entry.role),
                    by_name ? "by its name" : "by the rig", unit.words, range_words(entry)));
  if (!unit.remark.empty()) match_.remarks.push_back(unit.remark);
}

RigMatch Matching::finished() {
  for (std::size_t c = 0; c < channels_.size(); ++c) {
    if (const auto entry = entries_.find(c); entry != entries_.end())
      settle(c, entry->second);
    else
      match_.remarks.push_back(
          fmt::format("channel '{}' has no role and is not used", channels_[c].name));
  }
  if (match_.channels.empty()) refuse_roleless();
  if (!by_their_names_.empty())
    match_.understood.push_back("by their names, as they stand: " + listed(by_their_names_));
  return std::move(match_);
}

void Matching::refuse_roleless() const {
  std::vector<std::string> names;
  for (const SourceChannel& channel : channels_) names.push_back(channel.name);
  std::error_code no_matter;
  const bool a_file = std::filesystem::is_regular_file(file_, no_matter);
  refuse("", fmt::format("none of its channels has a role (it has: {})", listed(names)),
         fmt::format("{}write a rig and give it with --rig, for example: channel {{ source: "
                     "\"{}\" role: LINE_PRESSURE }}",
                     a_file ? "have one proposed by `airlatch rig FILE`, or " : "",
                     channels_.empty() ? "CH1" : channels_[0].name));
}

}  // namespace

const char* default_name(Role role) { return kDefaultNames[static_cast<std::size_t>(role)]; }

std::optional<Rig::Channel> entry_of(const std::string& name, const Rig& rig) {
  for (const Rig::Channel& entry : rig.channel)
    if (same_name(entry.source, name)) return entry;
  const std::optional<Role> role = default_role(name);
  if (!role) return std::nullopt;
  Rig::Channel entry;
  entry.source = name;
  entry.role = *role;
  return entry;
}

RigMatch match_rig(const std::vector<SourceChannel>& channels, const Rig& rig,
                   const std::string& file, RigUse use) {
  Matching matching(channels, rig, file, use);
  matching.by_rig();
  matching.by_default_names();
  matching.check_absent();
  return matching.finished();
}

}  // namespace airlatch
