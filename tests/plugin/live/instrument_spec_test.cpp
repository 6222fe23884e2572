// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/instrument_spec.hpp"

#include <gtest/gtest.h>

#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

std::string refused(const std::string& text) {
  try {
    parse_instrument(text);
  } catch (const InputError& error) {
    EXPECT_EQ(error.status(), ExitStatus::kUsage);
    return error.what();
  }
  return {};
}

TEST(InstrumentSpec, ADriverAlone) {
  const InstrumentSpec spec = parse_instrument("demo");
  EXPECT_EQ(spec.text, "demo");
  EXPECT_EQ(spec.driver, "demo");
  EXPECT_TRUE(spec.settings.empty());
  EXPECT_TRUE(spec.names.empty());
}

TEST(InstrumentSpec, SettingsInOrderAndNamesApart) {
  const InstrumentSpec spec =
      parse_instrument("meter:conn=tcp-raw/192.0.2.7/5025:as=line_kpa,motor_a:serialcomm=9600/8n1");
  EXPECT_EQ(spec.driver, "meter");
  const std::vector<std::pair<std::string, std::string>> settings = {
      {"conn", "tcp-raw/192.0.2.7/5025"}, {"serialcomm", "9600/8n1"}};
  EXPECT_EQ(spec.settings, settings);
  EXPECT_EQ(spec.names, (std::vector<std::string>{"line_kpa", "motor_a"}));
}

TEST(InstrumentSpec, AValueMayHoldEqualsSignsOrNothing) {
  const InstrumentSpec spec = parse_instrument("meter:conn=a=b:mode=");
  const std::vector<std::pair<std::string, std::string>> settings = {{"conn", "a=b"}, {"mode", ""}};
  EXPECT_EQ(spec.settings, settings);
}

TEST(InstrumentSpec, WhatIsNoSpecIsRefusedWithTheRemedy) {
  EXPECT_NE(refused("demo:samplerate").find("'samplerate' is not key=value"), std::string::npos);
  EXPECT_NE(refused("demo:=5").find("'=5' is not key=value"), std::string::npos);
  EXPECT_NE(refused("demo:").find("write driver:key=value"), std::string::npos);
  EXPECT_NE(refused("").find("no driver is named"), std::string::npos);
  EXPECT_NE(refused(":conn=x").find("no driver is named"), std::string::npos);
}

}  // namespace
}  // namespace airlatch
