// SPDX-License-Identifier: GPL-3.0-or-later
// Captures whose numbers cannot be what they are said to be, from the file to the verdict.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <functional>

#include "plugin/job/judge.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr int kRate_hz = 50;

// 20 s of rest, then 60 s of a line that loses a tenth of what it holds each second, as the file
// writes it: of the gauge pressure in kPa, its unit and number.
std::string leaking(const std::string& name, const std::string& header,
                    const std::function<double(double)>& written) {
  const std::string file = testing::TempDir() + name + ".csv";
  std::ofstream out(file);
  out << "time," << header << "\n";
  for (int k = 0; k < 80 * kRate_hz; ++k) {
    const double t = static_cast<double>(k) / kRate_hz;
    const double wiggle = 0.02 * std::sin(12.9898 * k) * std::cos(78.233 * k);
    const double kpa = (t < 20 ? 0 : 45 * std::exp(-(t - 20) / 10)) + wiggle;
    out << fmt::format("{:.3f},{:.6f}\n", t, written(kpa));
  }
  return file;
}

JudgedJob judged(const std::string& file, const Rig& rig = {}) {
  Job job;
  job.capture.emplace_back().file = file;
  return judge_job(job, "", rig, {}, {}, {});
}

std::string refused(const std::string& file, const Rig& rig = {}) {
  try {
    judged(file, rig);
  } catch (const InputError& error) {
    EXPECT_EQ(error.status(), ExitStatus::kUnusableData);
    return error.what();
  }
  return "";
}

Rig of_line(const std::function<void(Rig::Channel&)>& more) {
  Rig rig;
  Rig::Channel& entry = rig.channel.emplace_back();
  entry.source = "line_kpa";
  entry.role = Role::LINE_PRESSURE;
  more(entry);
  return rig;
}

bool accuses(const JudgedJob& job) {
  return std::any_of(job.report.findings.begin(), job.report.findings.end(), [](const Finding& f) {
    return f.code.find("LEAK") != std::string::npos && f.likelihood > 0.1;
  });
}

int decays(const JudgedJob& job) {
  int n = 0;
  job.events[0].for_each([&](const Event& e) { n += e.kind == Kind::LEAK_DECAY ? 1 : 0; });
  return n;
}

TEST(Implausible, ImpossibleNumbersAreRefusedWithTheUnitTheyMayBeIn) {
  // A vacuum written in mbar under a name that says kPa.
  const std::string file = leaking("vacuum", "line_kpa", [](double kpa) { return -10 * kpa; });
  const std::string said = refused(file);
  EXPECT_NE(said.find("perfect vacuum"), std::string::npos) << said;
  EXPECT_NE(said.find("unit: \"mbar\""), std::string::npos) << said;
  // The advice, taken literally.
  const JudgedJob job = judged(file, of_line([](Rig::Channel& entry) { entry.unit = "mbar"; }));
  EXPECT_TRUE(job.facts[0].doubts.empty());
}

TEST(Implausible, ASpikeRefusesNothing) {
  int k = 0;
  const auto job = judged(leaking("spike", "line_kpa", [&](double kpa) {
    return ++k == 100 || k == 101 ? -5000.0 : kpa;
  }));
  const auto& remarks = job.facts[0].remarks;
  EXPECT_TRUE(std::any_of(remarks.begin(), remarks.end(), [](const std::string& remark) {
    return remark.find("2 of 4000 readings are spikes") != std::string::npos;
  }));
  EXPECT_TRUE(job.facts[0].doubts.empty());
}

TEST(Implausible, UnlikelyNumbersAreDecodedToldFirstAndAccuseNobody) {
  const JudgedJob sane = judged(leaking("sane", "line_kpa", [](double kpa) { return kpa; }));
  EXPECT_TRUE(sane.facts[0].doubts.empty());
  const JudgedJob job = judged(leaking("mbar", "line_kpa", [](double kpa) { return 20 * kpa; }));
  ASSERT_EQ(job.facts[0].doubts.size(), 1U);
  EXPECT_NE(job.facts[0].doubts[0].find("beyond what such systems reach (700)"), std::string::npos);
  EXPECT_EQ(job.report.captures[0].remarks[0], job.facts[0].doubts[0]);
  EXPECT_EQ(decays(job), decays(sane));
  EXPECT_FALSE(accuses(job));
  EXPECT_EQ(job.report.findings[0].code, "NOT_ENOUGH_TESTED");
}

TEST(Implausible, AnAbsoluteSensorIsRecognisedAndRead) {
  const std::string file = leaking("absolute", "line_kpa", [](double kpa) { return 101.3 + kpa; });
  const JudgedJob job = judged(file);
  ASSERT_EQ(job.facts[0].doubts.size(), 1U);
  EXPECT_NE(job.facts[0].doubts[0].find("absolute: true"), std::string::npos);
  EXPECT_FALSE(accuses(job));
  const JudgedJob read = judged(file, of_line([](Rig::Channel& entry) { entry.absolute = true; }));
  EXPECT_TRUE(read.facts[0].doubts.empty());
  const std::string gauge = leaking("gauge", "line_kpa", [](double kpa) { return kpa; });
  EXPECT_EQ(decays(read), decays(judged(gauge)));
}

TEST(Implausible, AnAbsoluteSensorThatBeginsElsewhereMustBeToldTheAmbientPressure) {
  const std::string said =
      refused(leaking("no-air", "line_kpa", [](double kpa) { return kpa; }),
              of_line([](Rig::Channel& entry) { entry.absolute = true; }));
  EXPECT_NE(said.find("ambient_kpa"), std::string::npos) << said;
}

TEST(Implausible, AFrozenReadingIsNoMeasurement) {
  const JudgedJob job = judged(leaking("frozen", "line_kpa", [](double) { return -38.1437; }));
  ASSERT_EQ(job.facts[0].doubts.size(), 1U);
  EXPECT_NE(job.facts[0].doubts[0].find("frozen: all 4000 readings"), std::string::npos);
  EXPECT_EQ(job.report.findings[0].code, "NOT_ENOUGH_TESTED");
}

TEST(Implausible, AMotorThatDrawsThousandsOfAmperes) {
  const std::string said =
      refused(leaking("mA", "motor_a", [](double kpa) { return kpa * 1000 / 10; }));
  EXPECT_NE(said.find("unit: \"mA\""), std::string::npos) << said;
}

TEST(Implausible, ATemperatureInKelvin) {
  const JudgedJob job = judged(leaking("kelvin", "air_c", [](double kpa) { return 293 + kpa / 10; }));
  ASSERT_EQ(job.facts[0].doubts.size(), 1U);
  EXPECT_NE(job.facts[0].doubts[0].find("unit: \"K\""), std::string::npos);
}

}  // namespace
}  // namespace airlatch
