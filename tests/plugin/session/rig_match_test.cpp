// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/rig_match.hpp"

#include <gtest/gtest.h>

#include <fstream>

#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

std::vector<SourceChannel> named(const std::vector<std::string>& names) {
  std::vector<SourceChannel> out;
  for (const std::string& name : names)
    out.push_back({.name = name, .clock = SampleClock::of_rate(100)});
  return out;
}

Rig::Channel* add(Rig& rig, const std::string& source, Role role) {
  Rig::Channel* entry = &rig.channel.emplace_back();
  entry->source = source;
  entry->role = role;
  return entry;
}

std::string refused(const std::vector<SourceChannel>& channels, const Rig& rig,
                    RigUse use = RigUse::kMany) {
  try {
    match_rig(channels, rig, "x.csv", use);
  } catch (const InputError& error) {
    EXPECT_EQ(error.status(), ExitStatus::kUnusableData);
    return error.what();
  }
  return "";
}

TEST(RigMatch, DefaultNamesNeedNoRig) {
  const RigMatch match =
      match_rig(named({"MOTOR_A", "spare", "Line_kPa", "supply_v"}), {}, "x.csv");
  ASSERT_EQ(match.channels.size(), 3U);
  EXPECT_EQ(match.channels[0].rig.role, Role::MOTOR_CURRENT);
  EXPECT_EQ(match.channels[1].rig.role, Role::LINE_PRESSURE);
  EXPECT_EQ(match.source_channel, (std::vector<std::size_t>{0, 2, 3}));
  ASSERT_EQ(match.remarks.size(), 1U);
  EXPECT_NE(match.remarks[0].find("spare"), std::string::npos);
}

TEST(RigMatch, TheRigGoesFirst) {
  Rig rig;
  add(rig, "CH1", Role::LINE_PRESSURE)->scale = 50;
  const RigMatch match = match_rig(named({"line_kpa", "ch1"}), rig, "x.csv");
  ASSERT_EQ(match.channels.size(), 1U);
  EXPECT_EQ(match.source_channel[0], 1U);
  EXPECT_EQ(*match.channels[0].rig.scale, 50);
  EXPECT_FALSE(match.remarks.empty());  // line_kpa is reported as not used
}

TEST(RigMatch, RigEntriesWithoutAChannelAreReported) {
  Rig rig;
  add(rig, "CH7", Role::MOTOR_CURRENT);
  const RigMatch match = match_rig(named({"line_kpa"}), rig, "x.csv");
  ASSERT_EQ(match.channels.size(), 1U);
  EXPECT_NE(match.remarks[0].find("CH7"), std::string::npos);
}

TEST(RigMatch, AChannelNamedTwice) {
  EXPECT_NE(refused(named({"motor_a", "line_kpa", "motor_a"}), {}).find("channels 1 and 3"),
            std::string::npos);
}

TEST(RigMatch, AUnitThatContradictsTheRole) {
  auto channels = named({"motor_a"});
  channels[0].unit = "kPa";
  EXPECT_NE(refused(channels, {}).find("kPa"), std::string::npos);
}

TEST(RigMatch, NoRoleAtAllShowsWhatThereIsAndARig) {
  const std::string said = refused(named({"CH1", "CH2"}), {});
  EXPECT_NE(said.find("CH1, CH2"), std::string::npos) << said;
  EXPECT_NE(said.find("channel { source: \"CH1\" role: LINE_PRESSURE }"), std::string::npos)
      << said;
}

TEST(RigMatch, AFileIsOfferedTheCommandThatProposesARig) {
  const std::string file = testing::TempDir() + "roleless.csv";
  std::ofstream(file) << "t,CH1\n0,1\n";
  try {
    match_rig(named({"CH1"}), {}, file);
    FAIL();
  } catch (const InputError& error) {
    EXPECT_NE(std::string(error.what()).find("`airlatch rig FILE`"), std::string::npos);
  }
}

TEST(RigMatch, ASourceThatNoChannelHas) {
  Rig rig;
  add(rig, "Pressure_1", Role::LINE_PRESSURE);
  add(rig, "amps", Role::MOTOR_CURRENT);
  const auto capture = named({"amps", "pressure 1", "spare"});
  EXPECT_NE(refused(capture, rig).find("did you mean 'pressure 1'?"), std::string::npos);
  rig.channel[0].source = "line";
  EXPECT_NE(refused(capture, rig, RigUse::kThisCapture).find("the rig leaves pressure 1, spare"),
            std::string::npos);
  // A job's rig may know channels that one of its captures lacks.
  EXPECT_EQ(refused(capture, rig, RigUse::kMany), "");
  // Nothing is left that could have been meant.
  EXPECT_EQ(refused(named({"amps"}), rig, RigUse::kThisCapture), "");
}

TEST(RigMatch, AMistypedDefaultNameDoesNotLoseItsScale) {
  Rig rig;
  add(rig, "motor-a", Role::MOTOR_CURRENT)->scale = 10;
  EXPECT_NE(refused(named({"motor_a"}), rig).find("did you mean 'motor_a'?"), std::string::npos);
}

}  // namespace
}  // namespace airlatch
