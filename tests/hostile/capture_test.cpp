// SPDX-License-Identifier: GPL-3.0-or-later
// Live captures that are killed at random moments, whose outputs fail, whose instrument's process is
// killed or stopped. Lost: seconds that are missing from the recording beyond what may be.
#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <map>
#include <mutex>
#include <random>

#include "plugin/live/live_capture.hpp"
#include "plugin/sources/source.hpp"
#include "tests/hostile/trial.hpp"
#include "tests/support/background.hpp"
#include "tests/support/files.hpp"
#include "tests/support/sanitized.hpp"

namespace airlatch::hostile {
namespace {
using namespace test;
using Clock = std::chrono::steady_clock;

double seconds_since(Clock::time_point then) {
  return std::chrono::duration<double>(Clock::now() - then).count();
}

// How late this machine wakes a sleeper at worst, which no program can make up for.
class MachineDelay {
 public:
  MachineDelay() : thread_([this] { watch(); }) {}
  ~MachineDelay() {
    ended_ = true;
    thread_.join();
  }
  MachineDelay(const MachineDelay&) = delete;
  MachineDelay& operator=(const MachineDelay&) = delete;
  [[nodiscard]] double worst_s() const { return worst_s_; }

 private:
  void watch() {
    while (!ended_) {
      const auto before = Clock::now();
      wait_s(0.005);
      worst_s_ = std::max(worst_s_.load(), seconds_since(before) - 0.005);
    }
  }
  std::atomic<bool> ended_ = false;
  std::atomic<double> worst_s_ = 0;
  std::thread thread_;
};

// What may be missing at the end: half a second, and what the machine stood still; several
// processes of ours wait for each other.
double most_missing_s(const MachineDelay& machine) {
  return LiveCapture::kLate_s + 4 * machine.worst_s() + (kSanitized ? 1.5 : 0);
}

std::string demo(int rate_hz) {
  return "demo:samplerate=" + std::to_string(rate_hz) +
         ":analog_channels=4:logic_channels=0:as=feed_a_v,feed_b_v,motor_a,line_kpa";
}

struct Recorded {
  double seconds = -1;  // of the channel that holds the fewest samples; -1: it cannot be read
  bool closed = false;
};

Recorded recorded(const std::string& path, int rate_hz) {
  try {
    const auto source = open_source(path);
    std::map<std::size_t, std::size_t> samples;
    for (std::size_t c = 0; c < source->channels().size(); ++c) samples[c] = 0;
    SampleBlock block;
    while (source->next(block)) samples[block.channel] += block.values.size();
    std::size_t fewest = SIZE_MAX;
    for (const auto& [channel, n] : samples) fewest = std::min(fewest, n);
    return {static_cast<double>(fewest) / rate_hz, source->damage().empty()};
  } catch (const InputError&) {
    return {};
  }
}

// Sorted as `run_trial` does, where one of the statuses is right.
Trial trial_of(int status, const std::string& err, const std::vector<int>& right) {
  Trial trial;
  trial.status = status;
  trial.err = err;
  const bool expected = std::find(right.begin(), right.end(), status) != right.end();
  if (!expected) {
    trial.outcome = status >= 128 ? Outcome::kCrashed : Outcome::kUnclear;
    trial.why = "status " + std::to_string(status);
  } else if (status > 0 && status < 128) {
    trial.why = unclear(err);
    trial.outcome = trial.why.empty() ? Outcome::kRefused : Outcome::kUnclear;
  }
  return trial;
}

struct Result {
  Trial trial;
  std::string input, lost;  // lost: empty: nothing
};

// Runs the trials a few at a time, since they mostly wait.
template <typename OneTrial>
void try_all(const std::string& name, int count, OneTrial&& one) {
  Tally tally(name);
  std::mutex mutex;
  std::atomic<int> next = 0;
  const auto work = [&] {
    for (int n = next++; n < count; n = next++) {
      const Result result = one(n);
      const std::lock_guard lock(mutex);
      tally.count(result.trial, result.input);
      if (!result.lost.empty()) tally.lost(result.input + ": " + result.lost);
    }
  };
  std::vector<std::thread> threads;
  for (int k = 0; k < 4; ++k) threads.emplace_back(work);
  for (std::thread& thread : threads) thread.join();
}

std::string missing(double of_s, double found_s, double most_s) {
  if (found_s >= of_s - most_s) return "";
  return std::to_string(found_s) + " of " + std::to_string(of_s) + " s are there, " +
         std::to_string(most_s) + " s may be missing";
}

TEST(HostileCapture, KilledAtAnyTimeItLosesHalfASecondAtMost) {
  const MachineDelay machine;
  try_all("capture, killed", draws(8), [&](int n) {
    std::mt19937 random(static_cast<unsigned>(n));
    const int rate_hz = std::array{1'000, 10'000, 50'000, 100'000}[random() % 4];
    const int signal = n % 2 == 0 ? SIGKILL : std::array{SIGTERM, SIGINT, SIGHUP}[random() % 3];
    const double after_s = std::uniform_real_distribution(0.3, 2.5)(random);
    const Folder folder;
    const std::string path = folder.at("a.mcap");
    Background capture({"capture", demo(rate_hz), "--record", path, "--quiet"},
                       {.err = folder.at("err")});
    wait_for(path);
    const auto begun = Clock::now();
    wait_s(after_s);
    const double lasted_s = seconds_since(begun);
    const int status = capture.end(signal);
    const bool killed = signal == SIGKILL;
    Result result;
    result.input = std::to_string(n) + " (signal " + std::to_string(signal) + " after " +
                   std::to_string(lasted_s) + " s at " + std::to_string(rate_hz) + " S/s)";
    result.trial =
        trial_of(killed && status == 128 + SIGKILL ? 0 : status, read_file(folder.at("err")), {0});
    const Recorded there = recorded(path, rate_hz);
    result.lost = missing(lasted_s, there.seconds, most_missing_s(machine));
    if (!killed && !there.closed) result.lost = "the recording was not closed";
    return result;
  });
}

TEST(HostileCapture, NoOtherOutputEndsARecording) {
  constexpr double kLasts_s = 1.5;
  const MachineDelay machine;
  try_all("capture, outputs", draws(6), [&](int n) {
    constexpr int kRate_hz = 400;  // its square wave is a feed that comes and goes
    std::mt19937 random(static_cast<unsigned>(n));
    const Folder folder;
    const std::string path = folder.at("a.mcap");
    std::vector<std::string> arguments = {"capture", demo(kRate_hz), "--record",
                                          path,      "--seconds",    std::to_string(kLasts_s)};
    std::array<int, 2> pipe{};
    EXPECT_EQ(::pipe2(pipe.data(), O_CLOEXEC), 0);
    std::size_t read_first = random() % 3000;
    if (n % 3 == 0) arguments.insert(arguments.end(), {"--events", "-"});
    if (n % 3 == 1) arguments.insert(arguments.end(), {"--events", "/dev/full"});
    if (n % 3 == 2) arguments.insert(arguments.end(), {"--report", path + "/no/folder"});
    if (n % 3 != 0) arguments.emplace_back("--quiet");
    Background capture(arguments, {.out = pipe[1], .err = folder.at("err")});
    ::close(pipe[1]);
    for (char c = 0; n % 3 == 0 && read_first > 0 && ::read(pipe[0], &c, 1) == 1;) --read_first;
    ::close(pipe[0]);
    const int status = capture.end(0);
    Result result;
    result.input = std::to_string(n) + " (output " + std::to_string(n % 3) + ")";
    result.trial = trial_of(status, read_file(folder.at("err")), {n % 3 == 2 ? 73 : 74});
    result.lost = missing(kLasts_s, recorded(path, kRate_hz).seconds, most_missing_s(machine));
    return result;
  });
}

TEST(HostileCapture, AnInstrumentThatDiesOrHangsIsTakenUpAgain) {
  const MachineDelay machine;
  try_all("capture, instrument", draws(4), [&](int n) {
    constexpr int kRate_hz = 10'000;
    constexpr double kLasts_s = 6;
    std::mt19937 random(static_cast<unsigned>(n));
    const bool stopped = random() % 2 == 0;  // it hangs; else it dies
    const double away_s = Supervisor::kAgain_s + 0.5 + (stopped ? Supervisor::kSilent_s : 0);
    const Folder folder;
    const std::string path = folder.at("a.mcap");
    Background capture(
        {"capture", demo(kRate_hz), "--record", path, "--seconds", std::to_string(kLasts_s)},
        {.err = folder.at("err")});
    wait_for(path);
    wait_s(std::uniform_real_distribution(0.2, 1.0)(random));
    capture.signal_children(stopped ? SIGSTOP : SIGKILL);
    const int status = capture.end(0);
    const std::string err = read_file(folder.at("err"));
    Result result;
    result.input = std::to_string(n) + (stopped ? " (stopped)" : " (killed)");
    result.trial = trial_of(status, err, {0});
    result.lost =
        missing(kLasts_s, recorded(path, kRate_hz).seconds, away_s + most_missing_s(machine));
    if (err.find("note: LOST: ") == std::string::npos) result.lost = "it was not told";
    return result;
  });
}

}  // namespace
}  // namespace airlatch::hostile
