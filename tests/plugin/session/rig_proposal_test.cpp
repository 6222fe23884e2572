// SPDX-License-Identifier: GPL-3.0-or-later
// Rehearsed captures under names that workshops give, or under none, their columns in any order: the
// truth is which sensor each channel was.
#include "plugin/session/rig_proposal.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <random>

#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/session/rig_match.hpp"
#include "plugin/session/role_names.hpp"

namespace airlatch {
namespace {

Role role_of(const Rehearsal& rehearsal, std::size_t c) {
  const auto entry = entry_of(rehearsal.channels[c].name, rehearsal.rig);
  return entry ? entry->role : Role::UNSPECIFIED;
}

struct Counted {
  int right = 0, wrong = 0, wrong_and_certain = 0, left_out = 0;
};

// `name_of_role`: what a channel is called; `unit_of_role`: in which unit.
template <typename Name, typename UnitText>
Counted proposed(const Rehearsal& rehearsal, unsigned seed, Name&& called, UnitText&& in_unit) {
  std::vector<std::size_t> order(rehearsal.channels.size());
  for (std::size_t c = 0; c < order.size(); ++c) order[c] = c;
  std::shuffle(order.begin(), order.end(), std::mt19937(seed));
  std::vector<SourceChannel> channels;
  for (std::size_t k = 0; k < order.size(); ++k)
    channels.push_back({.name = called(role_of(rehearsal, order[k]), k),
                        .unit = in_unit(role_of(rehearsal, order[k])),
                        .clock = rehearsal.clock});
  RigProposer proposer(channels);
  for (std::size_t k = 0; k < order.size(); ++k) {
    // As the rig has it: in the role's unit.
    const auto& from = rehearsal.channels[order[k]];
    const auto entry = entry_of(from.name, rehearsal.rig);
    std::vector<float> values = from.values;
    for (float& v : values)
      v = static_cast<float>(entry->scale.value_or(1) * static_cast<double>(v) + entry->offset);
    proposer.take({.channel = k, .clock = rehearsal.clock, .values = values});
  }
  Counted out;
  const std::vector<Proposal> proposals = proposer.propose();
  for (std::size_t k = 0; k < order.size(); ++k) {
    const Proposal& one = proposals[k];
    const Role truth = role_of(rehearsal, order[k]);
    if (!one.entry)
      ++out.left_out;
    else if (one.entry->role == truth)
      ++out.right;
    else
      ++(one.certainty == Certainty::kGuess ? out.wrong : out.wrong_and_certain);
  }
  return out;
}

const std::vector<std::string> kFaults = {"sound", "line-leak", "pump-weak", "motor-worn",
                                          "feed-resistance"};

Rehearsal rehearsed(const std::string& fault, std::int64_t rate_hz, std::uint64_t seed) {
  return rehearse({.fault = fault, .rate_hz = rate_hz, .seed = seed, .hold_s = 8});
}

std::string no_unit(Role) { return ""; }

TEST(RigProposal, NamesOfManyLanguages) {
  using Names = std::map<Role, std::string>;
  const std::vector<Names> languages = {{{Role::SUPPLY_VOLTAGE, "Batteriespannung"},
                                         {Role::FEED_A_VOLTAGE, "Spannung Kontakt A"},
                                         {Role::FEED_B_VOLTAGE, "Spannung Kontakt B"},
                                         {Role::RETURN_VOLTAGE, "Masse"},
                                         {Role::MOTOR_CURRENT, "Motorstrom"},
                                         {Role::LINE_PRESSURE, "Druck Leitung"}},
                                        {{Role::SUPPLY_VOLTAGE, "Tension batterie"},
                                         {Role::FEED_A_VOLTAGE, "Tension contact 1"},
                                         {Role::FEED_B_VOLTAGE, "Tension contact 2"},
                                         {Role::RETURN_VOLTAGE, "Retour masse"},
                                         {Role::MOTOR_CURRENT, "Courant"},
                                         {Role::LINE_PRESSURE, "Pression"}},
                                        {{Role::SUPPLY_VOLTAGE, "Voltaje batería"},
                                         {Role::FEED_A_VOLTAGE, "Contacto A"},
                                         {Role::FEED_B_VOLTAGE, "Contacto B"},
                                         {Role::RETURN_VOLTAGE, "Masa"},
                                         {Role::MOTOR_CURRENT, "Corriente (motor)"},
                                         {Role::LINE_PRESSURE, "Presión"}},
                                        {{Role::SUPPLY_VOLTAGE, "VBat"},
                                         {Role::FEED_A_VOLTAGE, "Pin A"},
                                         {Role::FEED_B_VOLTAGE, "Pin B"},
                                         {Role::RETURN_VOLTAGE, "GND"},
                                         {Role::MOTOR_CURRENT, "Clamp"},
                                         {Role::LINE_PRESSURE, "Vacuum/Pressure"}}};
  for (std::size_t l = 0; l < languages.size(); ++l) {
    const Rehearsal capture = rehearsed("sound", 100, l + 1);
    const Counted seen = proposed(
        capture, 7, [&](Role role, std::size_t) { return languages[l].at(role); }, no_unit);
    EXPECT_EQ(seen.right, 6) << l;
    EXPECT_EQ(seen.left_out, 0) << l;
  }
}

TEST(RigProposal, UnitsAndSignals) {
  int right = 0, all = 0;
  for (const std::string& fault : kFaults)
    for (const std::int64_t rate_hz : {1000, 50}) {
      const Rehearsal capture = rehearsed(fault, rate_hz, 3);
      const Counted seen = proposed(
          capture, 11, [](Role, std::size_t k) { return "CH" + std::to_string(k + 1); },
          [](Role role) { return unit_of(role); });
      EXPECT_EQ(seen.wrong_and_certain, 0) << fault << " " << rate_hz;
      right += seen.right;
      all += 6;
    }
  EXPECT_GE(right, all * 8 / 10);
}

// By signals alone everything is a guess, and most guesses hold: which feed is A is one in two.
TEST(RigProposal, SignalsAlone) {
  int right = 0, wrong = 0, all = 0;
  for (const std::string& fault : kFaults)
    for (const std::int64_t rate_hz : {1000, 50}) {
      const Counted seen = proposed(
          rehearsed(fault, rate_hz, 5), 13,
          [](Role, std::size_t k) { return "CH" + std::to_string(k + 1); }, no_unit);
      EXPECT_EQ(seen.wrong_and_certain, 0) << fault << " " << rate_hz;
      right += seen.right;
      wrong += seen.wrong;
      all += 6;
    }
  RecordProperty("right", right);
  RecordProperty("wrong", wrong);
  EXPECT_GE(right, all / 2);
}

Proposal of_one(const SourceChannel& channel, const std::vector<float>& values) {
  RigProposer proposer({channel});
  proposer.take({.channel = 0, .clock = channel.clock, .values = values});
  return proposer.propose()[0];
}

TEST(RigProposal, UnitsThatOnlyNamesGive) {
  std::vector<float> bar;
  for (int k = 0; k < 1000; ++k) bar.push_back(k < 300 ? 0 : 0.45F - 1e-4F * static_cast<float>(k));
  const SourceChannel channel{.name = "line_bar", .clock = SampleClock::of_rate(100)};
  const Proposal one = of_one(channel, bar);
  ASSERT_TRUE(one.entry);
  EXPECT_EQ(one.entry->role, Role::LINE_PRESSURE);
  EXPECT_EQ(one.entry->unit, "bar");
}

TEST(RigProposal, AnAbsoluteSensorAndAnOffsetClamp) {
  std::vector<float> kpa, amperes;
  for (int k = 0; k < 1000; ++k) {
    kpa.push_back(k < 300 ? 101.3F : 140.0F - 0.01F * static_cast<float>(k));
    amperes.push_back((k < 300 ? 0.61F : 5.0F) + 0.01F * static_cast<float>(k % 3));
  }
  const auto clock = SampleClock::of_rate(100);
  EXPECT_TRUE(of_one({.name = "Druck", .unit = "kPa", .clock = clock}, kpa).entry->absolute);
  EXPECT_TRUE(of_one({.name = "Strom", .unit = "A", .clock = clock}, amperes).entry->auto_zero);
}

TEST(RigProposal, WhatNoRoleMeasuresIsLeftOut) {
  std::vector<float> values(1000);
  for (std::size_t k = 0; k < values.size(); ++k) values[k] = static_cast<float>(k % 500) / 10;
  for (const char* name : {"PWM_Main", "Setpoint_kPa", "Drehzahl", "tacho", "p1_adc", "index",
                           "Volume Flow RateRMS", "anomaly"})
    EXPECT_FALSE(of_one({.name = name, .clock = SampleClock::of_rate(100)}, values).entry) << name;
}

// Two milliseconds of a square wave are no motor, whatever it looks like.
TEST(RigProposal, ShortCapturesOfNothingAreNothing) {
  std::vector<float> square(2000);
  for (std::size_t k = 0; k < square.size(); ++k) square[k] = k / 500 % 2 ? 5.0F : 0.0F;
  EXPECT_FALSE(of_one({.name = "CH1", .clock = SampleClock::of_rate(1'000'000)}, square).entry);
}

TEST(RoleNames, WordsAndStems) {
  EXPECT_EQ(what_name_says("Batteriespannung").role, Role::SUPPLY_VOLTAGE);
  EXPECT_EQ(what_name_says("courant moteur [A]").role, Role::MOTOR_CURRENT);
  EXPECT_EQ(what_name_says("Ciśnienie").dimension, Dimension::kPressure);
  EXPECT_EQ(what_name_says("battery current").role, Role::MOTOR_CURRENT);
  EXPECT_EQ(what_name_says("line_mbar").unit, "mbar");
  EXPECT_FALSE(what_name_says("picture").dimension);
}

}  // namespace
}  // namespace airlatch
