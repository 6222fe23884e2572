// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/rig_match.hpp"

#include <fmt/format.h>

#include <array>
#include <map>
#include <optional>
#include <utility>

#include "plugin/sources/units.hpp"
#include "plugin/system/input_error.hpp"

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

// The role that a channel's name alone gives it.
std::optional<Role> default_role(const std::string& name) {
  for (int r = 1; r < static_cast<int>(kRoles); ++r) {
    const auto role = static_cast<Role>(r);
    if (lower_case(name) == default_name(role)) return role;
  }
  return std::nullopt;
}

// One capture's channels and the roles they get, step by step.
class Matching {
 public:
  Matching(const std::vector<SourceChannel>& channels, const std::string& file)
      : channels_(channels), file_(file) {}
  void by_rig(const Rig& rig);
  void by_default_names();  // what the rig leaves free
  RigMatch finished();

 private:
  [[noreturn]] void refuse(const std::string& place, const std::string& what,
                           const std::string& mend) const {
    throw InputError(ExitStatus::kUnusableData, file_, place, what, mend);
  }
  [[nodiscard]] std::optional<std::size_t> named(const std::string& source) const;
  void remark_taken(std::size_t channel, Role role, std::size_t by);
  void check_unit(const SourceChannel& channel, const Rig::Channel& entry) const;
  [[noreturn]] void refuse_roleless() const;
  const std::vector<SourceChannel>& channels_;
  const std::string& file_;
  std::map<Role, std::size_t> taken_;  // role -> channel
  std::map<std::size_t, Rig::Channel> entries_;
  RigMatch match_;
};

void Matching::by_rig(const Rig& rig) {
  for (const Rig::Channel& entry : rig.channel) {
    if (const auto found = named(entry.source)) {
      taken_.emplace(entry.role, *found);
      entries_.emplace(*found, entry);
    } else {
      match_.remarks.push_back(fmt::format("the rig's channel '{}' ({}) is not in the capture",
                                           entry.source, name_of(entry.role)));
    }
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

void Matching::check_unit(const SourceChannel& channel, const Rig::Channel& entry) const {
  if (channel.unit.empty()) return;
  const auto unit = parse_unit(channel.unit);
  if (!unit && !entry.scale && entry.unit.empty() && entry.role != Role::COMMAND_LEVEL)
    refuse(fmt::format("channel '{}'", channel.name),
           fmt::format("its unit '{}' is not known for {}", channel.unit, name_of(entry.role)),
           fmt::format("put unit: \"...\" into its rig entry; known are {}", known_units()));
  if (unit && !fits(unit->dimension, entry))
    refuse(fmt::format("channel '{}'", channel.name),
           fmt::format("its unit {} does not fit the role {}", channel.unit, name_of(entry.role)),
           "correct the unit, or give a scale in the rig");
}

RigMatch Matching::finished() {
  for (std::size_t c = 0; c < channels_.size(); ++c) {
    const SourceChannel& channel = channels_[c];
    const auto entry = entries_.find(c);
    if (entry == entries_.end()) {
      match_.remarks.push_back(
          fmt::format("channel '{}' has no role and is not used", channel.name));
      continue;
    }
    check_unit(channel, entry->second);
    match_.channels.push_back(
        {.rig = entry->second, .clock = channel.clock, .logic = channel.logic});
    match_.source_channel.push_back(c);
  }
  if (match_.channels.empty()) refuse_roleless();
  return std::move(match_);
}

void Matching::refuse_roleless() const {
  std::string names;
  for (std::size_t c = 0; c < channels_.size() && c < 20; ++c)
    names += (c ? ", " : "") + channels_[c].name;
  refuse("", fmt::format("none of its channels has a role (it has: {})", names),
         fmt::format("write a rig file and give it with --rig, for example: channel {{ source: "
                     "\"{}\" role: LINE_PRESSURE scale: 1 }}",
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

bool fits(Dimension dimension, const Rig::Channel& entry) {
  return dimension == dimension_of(entry.role) || entry.role == Role::COMMAND_LEVEL ||
         entry.scale.has_value();
}

RigMatch match_rig(const std::vector<SourceChannel>& channels, const Rig& rig,
                   const std::string& file) {
  Matching matching(channels, file);
  matching.by_rig(rig);
  matching.by_default_names();
  return matching.finished();
}

}  // namespace airlatch
