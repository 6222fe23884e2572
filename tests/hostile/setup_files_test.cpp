// SPDX-License-Identifier: GPL-3.0-or-later
// Rigs, plans and jobs made to be wrong: extreme numbers and hostile texts in every field, cut and
// flipped, from sources without an end. Each is taken, or refused with its line and column.
#include <gtest/gtest.h>

#include <random>
#include <regex>

#include "tests/hostile/hostile_text.hpp"
#include "tests/hostile/trial.hpp"
#include "tests/support/files.hpp"

namespace airlatch::hostile {
namespace {

const std::vector<std::string> kNumbers = {
    "nan",   "inf", "-inf",        "1e308",      "-1e308",     "1e-308",     "0",   "-0", "-1",
    "1e999", "99",  "-2147483648", "4294967295", "4294967296", "0x7fffffff", "1.5", "00"};

enum class SetupKind { kRig, kPlan, kJob };

// A sound text of each; every value in it is one of the pieces that are exchanged.
const std::string& sound(SetupKind kind) {
  static const std::string rig =
      "name: \"bench\"\n"
      "channel { source: \"motor_a\" role: MOTOR_CURRENT scale: 2 offset: 1 invert: false\n"
      "  auto_zero: true range_min: -50 range_max: 50 u_abs: 0.1 u_rel: 0.01 }\n"
      "contact_a_direction: PRESSURE line_volume_ml: 250 line_volume_u_ml: 10\n"
      "commutator_segments: 10 ripples_per_turn: 20 nominal_voltage_v: 12\n";
  static const std::string plan =
      "name: \"plan\" response_limit_s: 0.3 run_limit_s: 15 branch: \"left rear\"\n"
      "step { id: \"a\" title: \"Blow\" prompt: \"Feed\" expect: STALL_CUTOFF direction: PRESSURE\n"
      "  limit { measure: \"run_time\" min: 1 max: 4 } }\n"
      "step { id: \"b\" expect: LEAK_DECAY limit { measure: \"decay_rate\" max: 2 } }\n";
  static const std::string job =
      "vehicle: \"Merganser\" job_number: \"S-1\" date: \"2026-03-14\"\n"
      "capture { file: \"a.csv\" phase: BEFORE step: \"a\" closed_branch: \"left rear\"\n"
      "  rig: \"sound.rig\" }\n"
      "capture { file: \"a.csv\" phase: AFTER }\n";
  return kind == SetupKind::kRig ? rig : kind == SetupKind::kPlan ? plan : job;
}

struct Value {
  std::size_t at, size;
};

std::vector<Value> values_of(const std::string& text) {
  static const std::regex value(R"rx(: ("[^"]*"|[-\w.]+))rx");
  std::vector<Value> out;
  for (std::sregex_iterator found(text.begin(), text.end(), value), end; found != end; ++found)
    out.push_back(
        {static_cast<std::size_t>(found->position(1)), static_cast<std::size_t>(found->length(1))});
  return out;
}

class Bench {
 public:
  Bench() {
    folder_.write("a.csv", "time_s,motor_a\n0,0\n0.1,0\n0.2,5\n0.3,5\n0.4,0\n0.5,0\n");
    folder_.write("sound.rig", sound(SetupKind::kRig));
    folder_.write("sound.plan", sound(SetupKind::kPlan));
  }
  // `file`: of a setup of that kind.
  Trial tried(SetupKind kind, const std::string& file) const {
    const std::string csv = folder_.at("a.csv");
    if (kind == SetupKind::kRig) return run_trial({"replay", csv, "--rig", file});
    if (kind == SetupKind::kPlan) return run_trial({"replay", csv, "--plan", file});
    return run_trial({"report", file, "--plan", folder_.at("sound.plan"), "--report",
                      folder_.at("report"), "--force"});
  }
  void expect_taken_or_told(SetupKind kind, const std::string& text, const std::string& input,
                            Tally& tally) const {
    const Trial trial = tried(kind, folder_.write("tried", text));
    tally.count(trial, input);
    // What the job names may be missing; all else is told with its place.
    if (trial.status == 65) {
      EXPECT_TRUE(std::regex_search(trial.err, std::regex("line \\d+|tried: |a\\.csv|sound\\.rig")))
          << input << "\n"
          << trial.err;
    }
    EXPECT_TRUE(trial.status == 0 || trial.status == 65 ||
                (kind == SetupKind::kJob && (trial.status == 66 || trial.status == 74)))
        << input << "\n"
        << trial.status << trial.err;
  }
  [[nodiscard]] const test::Folder& folder() const { return folder_; }

 private:
  test::Folder folder_;
};

const std::initializer_list<SetupKind> kAll = {SetupKind::kRig, SetupKind::kPlan, SetupKind::kJob};

std::string name_of(SetupKind kind) {
  return kind == SetupKind::kRig ? "rig" : kind == SetupKind::kPlan ? "plan" : "job";
}

TEST(SetupFiles, SoundOnesAreTaken) {
  const Bench bench;
  for (const SetupKind kind : kAll)
    EXPECT_EQ(bench.tried(kind, bench.folder().write("tried", sound(kind))).status, 0)
        << bench.tried(kind, bench.folder().at("tried")).err;
}

// Each number in place of each number and enum, each once.
TEST(SetupFiles, NumbersInEveryField) {
  const Bench bench;
  Tally tally("setup_files numbers");
  std::size_t which = 0;
  for (const SetupKind kind : kAll) {
    const std::string& text = sound(kind);
    for (const Value& value : values_of(text)) {
      if (text[value.at] == '"') continue;
      for (const std::string& number : kNumbers) {
        if (!walked(which++)) continue;
        std::string wrong = text;
        wrong.replace(value.at, value.size, number);
        bench.expect_taken_or_told(kind, wrong, name_of(kind) + ": " + wrong, tally);
      }
    }
  }
}

TEST(SetupFiles, TextsInEveryField) {
  const Bench bench;
  Tally tally("setup_files texts");
  for (const SetupKind kind : kAll) {
    const std::string& text = sound(kind);
    std::size_t which = 0;
    for (const Value& value : values_of(text)) {
      if (text[value.at] != '"') continue;
      for (std::size_t k = 0; k < hostile_texts().size(); ++k) {
        if (!walked(++which)) continue;
        std::string wrong = text;
        wrong.replace(value.at, value.size, quoted_text(hostile_texts()[k], (which & 1U) == 0));
        bench.expect_taken_or_told(
            kind, wrong,
            name_of(kind) + " byte " + std::to_string(value.at) + " text " + std::to_string(k),
            tally);
      }
    }
  }
}

TEST(SetupFiles, CutFlippedAndSpliced) {
  const Bench bench;
  Tally tally("setup_files flips");
  std::mt19937 random(1505);
  for (int k = 0; k < draws(150); ++k) {
    const SetupKind kind = *(kAll.begin() + random() % 3);
    std::string text = sound(kind);
    const auto way = random() % 3;
    if (way == 0) text.resize(random() % text.size());
    for (std::size_t flips = way == 1 ? 1 + random() % 4 : 0; flips > 0; --flips)
      text[random() % text.size()] = static_cast<char>(random() % 256);
    if (way == 2) {
      const std::size_t from = random() % text.size();
      text.insert(random() % text.size(), text.substr(from, random() % 60));
    }
    bench.expect_taken_or_told(kind, text, "seed 1505, number " + std::to_string(k), tally);
  }
}

TEST(SetupFiles, SourcesWithoutAnEndAndOtherThanFiles) {
  const Bench bench;
  Tally tally("setup_files sources");
  for (const SetupKind kind : kAll)
    for (const std::string& source :
         {std::string("/dev/zero"), std::string("/dev/null"), std::string("/dev/full"),
          std::string("/proc/self/mem"), bench.folder().at(""), bench.folder().at("none")}) {
      const Trial trial = bench.tried(kind, source);
      tally.count(trial, name_of(kind) + " " + source);
    }
  for (const char* source : {"/dev/zero", "/dev/null", "/dev/full", "/proc/self/mem"}) {
    tally.count(run_trial({"compare", source, source}), std::string("compare ") + source);
    tally.count(run_trial({"ledger", "add", source, "--ledger", bench.folder().at("l")}),
                std::string("ledger add ") + source);
  }
}

}  // namespace
}  // namespace airlatch::hostile
