// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch capture with libsigrok's demo driver: what is recorded, and what is left after a kill, a
// full disk, a Ctrl-C.
#include <gtest/gtest.h>
#include <sys/resource.h>

#include <chrono>
#include <csignal>
#include <filesystem>
#include <thread>

#include "tests/support/program.hpp"

namespace airlatch {
namespace {
using namespace test;

constexpr const char* kDemo =
    "demo:samplerate=2000:analog_channels=2:logic_channels=0:as=feed_a_v,motor_a";

// The program in the background.
class Background {
 public:
  explicit Background(const std::vector<std::string>& arguments,
                      rlim_t largest_file = RLIM_INFINITY)
      : child_(::fork()) {
    if (child_ != 0) return;
    const int quiet = ::open("/dev/null", O_RDWR);
    for (const int fd : {0, 1, 2}) ::dup2(quiet, fd);
    if (largest_file != RLIM_INFINITY) {
      const rlimit limit = {largest_file, largest_file};
      ::setrlimit(RLIMIT_FSIZE, &limit);
      ::signal(SIGXFSZ, SIG_IGN);
    }
    std::vector<std::string> copies = arguments;
    std::string program = AIRLATCH_BINARY_DIR "/plugin/host/airlatch";
    std::vector<char*> argv = {program.data()};
    for (std::string& a : copies) argv.push_back(a.data());
    argv.push_back(nullptr);
    ::execv(program.c_str(), argv.data());
    ::_exit(127);
  }
  int end(int signal) {
    if (signal) ::kill(child_, signal);
    int status = 0;
    ::waitpid(child_, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  }

 private:
  pid_t child_;
};

void wait_s(double seconds) { std::this_thread::sleep_for(std::chrono::duration<double>(seconds)); }

// Until the recording is begun, whatever the machine is busy with.
void wait_for(const std::string& path) {
  for (int k = 0; k < 300 && !std::filesystem::exists(path); ++k) wait_s(0.1);
}

double recorded_s(const std::string& path, const Folder& folder) {
  run({"export", path, "--to", "csv", "--out", folder.at("out.csv")});
  return static_cast<double>(lines(read_file(folder.at("out.csv")))) / 2000;
}

TEST(CaptureCommand, LiveEventsAreThoseOfTheRecording) {
  const Folder folder;
  const Ran live = run({"capture", kDemo, "--seconds", "2", "--record", folder.at("a.mcap"),
                        "--events", folder.at("live.jsonl"), "--quiet"});
  EXPECT_EQ(live.status, 0) << live.err;
  const Ran again = run({"replay", folder.at("a.mcap"), "--events", "-"});
  EXPECT_EQ(again.status, 0) << again.err;
  EXPECT_FALSE(again.out.empty());
  EXPECT_EQ(again.out, read_file(folder.at("live.jsonl")));
}

TEST(CaptureCommand, KilledItLeavesWhatWasSynced) {
  const Folder folder;
  for (const double after_s : {0.7, 1.9, 3.5}) {
    const std::string path = folder.at("killed-" + std::to_string(after_s) + ".mcap");
    Background capture({"capture", kDemo, "--record", path, "--quiet"});
    wait_for(path);
    wait_s(after_s);
    EXPECT_EQ(capture.end(SIGKILL), 128 + SIGKILL);
    const Ran replay = run({"replay", path, "--events", "-"});
    EXPECT_EQ(replay.status, 65);
    EXPECT_NE(replay.err.find("cut"), std::string::npos) << replay.err;
    // What is older than a second was synced; another for a machine that is busy.
    EXPECT_GT(recorded_s(path, folder), after_s - 2);
  }
}

TEST(CaptureCommand, CtrlCEndsCleanly) {
  const Folder folder;
  Background capture({"capture", kDemo, "--record", folder.at("a.mcap"), "--quiet"});
  wait_for(folder.at("a.mcap"));
  wait_s(1);
  EXPECT_EQ(capture.end(SIGINT), 0);
  EXPECT_EQ(run({"replay", folder.at("a.mcap"), "--quiet"}).status, 0);
}

TEST(CaptureCommand, AFullDiskEndsTheRecordingOnly) {
  const Folder folder;
  const auto start = std::chrono::steady_clock::now();
  Background capture(
      {"capture", kDemo, "--seconds", "3", "--record", folder.at("a.mcap"), "--quiet"}, 20'000);
  EXPECT_EQ(capture.end(0), 74);
  EXPECT_GT(std::chrono::steady_clock::now() - start, std::chrono::seconds(3));  // it went on
  const Ran replay = run({"replay", folder.at("a.mcap"), "--events", "-"});
  EXPECT_EQ(replay.status, 65);
}

TEST(CaptureCommand, WhatIsNotThereIs69) {
  EXPECT_EQ(run({"capture", "no-such-driver", "--no-record", "--seconds", "1"}).status, 69);
  EXPECT_EQ(run({"capture", "demo:nonsense=1", "--no-record", "--seconds", "1"}).status, 69);
  EXPECT_EQ(run({"capture", "demo:x", "--no-record", "--seconds", "1"}).status, 64);
  EXPECT_EQ(run({"capture", "scpi-dmm:conn=tcp-raw/127.0.0.1/1", "--no-record"}).status, 69);
  EXPECT_EQ(run({"capture"}).status, 64);
  const Folder folder;
  folder.write("there.mcap", "mine");
  EXPECT_EQ(run({"capture", kDemo, "--record", folder.at("there.mcap"), "--seconds", "1"}).status,
            73);
}

}  // namespace
}  // namespace airlatch
