#include "plugin/session/rig_match.hpp"

#include <fmt/format.h>

#include <array>
#include <map>

#include "plugin/sources/units.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr std::array<const char*, v1::Role_ARRAYSIZE> kDefaultNames = {
    "",        "supply_v", "feed_a_v",   "feed_b_v", "return_v",
    "motor_a", "line_kpa", "branch_kpa", "air_c",    "command"};

std::string lower_case(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

}  // namespace

const char* default_name(v1::Role role) { return kDefaultNames[static_cast<std::size_t>(role)]; }

RigMatch match_rig(const std::vector<SourceChannel>& channels, const v1::Rig& rig,
                   const std::string& file) {
  const auto refuse = [&](const std::string& place, const std::string& what,
                          const std::string& mend) {
    throw InputError(ExitStatus::kUnusableData, file, place, what, mend);
  };
  std::map<v1::Role, std::size_t> taken;  // role -> source channel
  std::map<std::size_t, v1::Rig::Channel> entries;
  RigMatch match;
  for (const v1::Rig::Channel& entry : rig.channel()) {
    std::size_t found = channels.size();
    for (std::size_t c = 0; c < channels.size(); ++c) {
      if (lower_case(channels[c].name) != lower_case(entry.source())) continue;
      if (found < channels.size())
        refuse(fmt::format("channels {} and {}", found + 1, c + 1),
               fmt::format("both are called '{}', which the rig gives a role", channels[c].name),
               "give them different names");
      found = c;
    }
    if (found == channels.size()) {
      match.remarks.push_back(fmt::format("the rig's channel '{}' ({}) is not in the capture",
                                          entry.source(), v1::Role_Name(entry.role())));
      continue;
    }
    taken.emplace(entry.role(), found);
    entries.emplace(found, entry);
  }
  for (std::size_t c = 0; c < channels.size(); ++c) {
    if (entries.contains(c)) continue;
    for (int r = 1; r < v1::Role_ARRAYSIZE; ++r) {
      const auto role = static_cast<v1::Role>(r);
      if (lower_case(channels[c].name) != default_name(role)) continue;
      if (const auto other = taken.find(role); other != taken.end()) {
        if (!entries.contains(other->second) ||
            lower_case(channels[other->second].name) == lower_case(channels[c].name))
          refuse(fmt::format("channels {} and {}", other->second + 1, c + 1),
                 fmt::format("both are called '{}'", channels[c].name),
                 "rename one, or give one a role in a rig file");
        match.remarks.push_back(fmt::format("channel '{}' is not used: the rig gives {} to '{}'",
                                            channels[c].name, v1::Role_Name(role),
                                            channels[other->second].name));
        break;
      }
      taken.emplace(role, c);
      v1::Rig::Channel entry;
      entry.set_source(channels[c].name);
      entry.set_role(role);
      entries.emplace(c, entry);
      break;
    }
  }
  for (std::size_t c = 0; c < channels.size(); ++c) {
    const auto entry = entries.find(c);
    if (entry == entries.end()) {
      match.remarks.push_back(
          fmt::format("channel '{}' has no role and is not used", channels[c].name));
      continue;
    }
    if (!channels[c].unit.empty()) {
      const auto unit = parse_unit(channels[c].unit);
      if (unit && unit->dimension != dimension_of(entry->second.role()) &&
          entry->second.role() != v1::COMMAND_LEVEL && !entry->second.has_scale())
        refuse(fmt::format("channel '{}'", channels[c].name),
               fmt::format("its unit {} does not fit the role {}", channels[c].unit,
                           v1::Role_Name(entry->second.role())),
               "correct the unit, or give a scale in the rig");
    }
    match.channels.push_back(
        {.rig = entry->second, .clock = channels[c].clock, .logic = channels[c].logic});
    match.source_channel.push_back(c);
  }
  if (match.channels.empty()) {
    std::string names;
    for (std::size_t c = 0; c < channels.size() && c < 20; ++c)
      names += (c ? ", " : "") + channels[c].name;
    refuse("", fmt::format("none of its channels has a role (it has: {})", names),
           fmt::format("write a rig file and give it with --rig, for example: channel {{ source: "
                       "\"{}\" role: LINE_PRESSURE scale: 1 }}",
                       channels.empty() ? "CH1" : channels[0].name));
  }
  return match;
}

}  // namespace airlatch
