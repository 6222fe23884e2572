// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch capture with libsigrok's demo driver: what is recorded, and what is left after a kill, a
// full disk, a Ctrl-C.
#include <gtest/gtest.h>

#include <chrono>
#include <csignal>
#include <cstdlib>

#include "tests/support/background.hpp"
#include "tests/support/program.hpp"

namespace airlatch {
namespace {
using namespace test;

constexpr const char* kDemo =
    "demo:samplerate=2000:analog_channels=2:logic_channels=0:as=feed_a_v,motor_a";

// Its square wave, slow enough for a feed that comes and goes: an event every 13 ms.
constexpr int kBusy_hz = 400;
constexpr const char* kBusyDemo =
    "demo:samplerate=400:analog_channels=2:logic_channels=0:as=feed_a_v,motor_a";

double recorded_s(const std::string& path, const Folder& folder, int rate_hz = 2000) {
  run({"export", path, "--to", "csv", "--out", folder.at("out.csv")});
  return static_cast<double>(lines(read_file(folder.at("out.csv")))) / rate_hz;
}

TEST(CaptureCommand, LiveEventsAreThoseOfTheRecording) {
  const Folder folder;
  const Ran live = run({"capture", kBusyDemo, "--seconds", "2", "--record", folder.at("a.mcap"),
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
      {"capture", kDemo, "--seconds", "3", "--record", folder.at("a.mcap"), "--quiet"},
      {.largest_file = 20'000});
  EXPECT_EQ(capture.end(0), 74);
  EXPECT_GT(std::chrono::steady_clock::now() - start, std::chrono::seconds(3));  // it went on
  const Ran replay = run({"replay", folder.at("a.mcap"), "--events", "-"});
  EXPECT_EQ(replay.status, 65);
}

// What it says of an output that fails; the recording must be whole.
void expect_outlived(const Ran& ran, const std::string& recording, int status,
                     const std::string& says) {
  EXPECT_EQ(ran.status, status) << ran.err;
  EXPECT_NE(ran.err.find("airlatch: " + says), std::string::npos) << ran.err;
  EXPECT_EQ(ran.err.find(says), ran.err.rfind(says)) << "said twice: " << ran.err;
  EXPECT_EQ(run({"replay", recording, "--quiet"}).status, 0);
  const Folder folder;
  EXPECT_GT(recorded_s(recording, folder, kBusy_hz), 1.5);
}

TEST(CaptureCommand, ARecordingOutlivesItsOtherOutputs) {
  const Folder folder;
  const auto capture = [&](const std::string& name, std::vector<std::string> more,
                           const std::string& out = "") {
    more.insert(more.begin(),
                {"capture", kBusyDemo, "--seconds", "2", "--record", folder.at(name)});
    return run(more, out);
  };
  const std::string full = "No space left on device; the recording goes on";
  expect_outlived(capture("a.mcap", {"--events", "/dev/full", "--quiet"}), folder.at("a.mcap"), 74,
                  "/dev/full: " + full);
  expect_outlived(capture("b.mcap", {"--events", "-"}, "/dev/full"), folder.at("b.mcap"), 74,
                  "standard output: " + full);
  expect_outlived(capture("c.mcap", {}, "/dev/full"), folder.at("c.mcap"), 74,
                  "standard output: " + full);
  expect_outlived(capture("d.mcap", {"--report", "/dev/null/x", "--quiet"}), folder.at("d.mcap"),
                  73, "/dev/null/x: ");
}

TEST(CaptureCommand, AReaderThatHasGoneIsToldAndOutlived) {
  const Folder folder;
  std::array<int, 2> ends{};
  ASSERT_EQ(::pipe2(ends.data(), O_CLOEXEC), 0);
  Background capture(
      {"capture", kBusyDemo, "--seconds", "2", "--record", folder.at("a.mcap"), "--events", "-"},
      {.out = ends[1], .err = folder.at("err")});
  ::close(ends[1]);
  char first = 0;
  EXPECT_EQ(::read(ends[0], &first, 1), 1);
  ::close(ends[0]);
  const int status = capture.end(0);
  Ran ran;
  ran.status = status;
  ran.err = read_file(folder.at("err"));
  expect_outlived(ran, folder.at("a.mcap"), 74,
                  "standard output: its reader has gone; the recording goes on");
}

TEST(CaptureCommand, AReaderThatStandsStillHoldsNothingUp) {
  const Folder folder;
  std::array<int, 2> ends{};
  ASSERT_EQ(::pipe2(ends.data(), O_CLOEXEC), 0);
  ::fcntl(ends[1], F_SETPIPE_SZ, 4096);
  Background capture(
      {"capture", kBusyDemo, "--seconds", "2", "--record", folder.at("a.mcap"), "--events", "-"},
      {.out = ends[1]});
  ::close(ends[1]);
  wait_for(folder.at("a.mcap"));
  for (int k = 0; k < 300 && run({"replay", folder.at("a.mcap"), "--quiet"}).status != 0; ++k)
    wait_s(0.1);  // until it is closed, though nobody has read a line
  EXPECT_EQ(run({"replay", folder.at("a.mcap"), "--quiet"}).status, 0);
  std::string events;
  std::array<char, 4096> chunk{};
  for (ssize_t n = 0; (n = ::read(ends[0], chunk.data(), chunk.size())) > 0;)
    events.append(chunk.data(), static_cast<std::size_t>(n));
  ::close(ends[0]);
  EXPECT_EQ(capture.end(0), 0);
  EXPECT_EQ(events, run({"replay", folder.at("a.mcap"), "--events", "-"}).out);
}

TEST(CaptureCommand, ClosedStandardFilesStayOutOfTheRecording) {
  const Folder folder;
  const std::string program = AIRLATCH_BINARY_DIR "/plugin/host/airlatch";
  EXPECT_NE(std::system((program + " capture " + kDemo + " --seconds 2 --record " +
                         folder.at("a.mcap") + " <&- >&- 2>&-")
                            .c_str()),
            0);
  EXPECT_EQ(run({"replay", folder.at("a.mcap"), "--quiet"}).status, 0);
}

TEST(CaptureCommand, ADeletedRecordingIsTold) {
  const Folder folder;
  Background capture(
      {"capture", kDemo, "--seconds", "3", "--record", folder.at("a.mcap"), "--quiet"},
      {.err = folder.at("err")});
  wait_for(folder.at("a.mcap"));
  std::filesystem::remove(folder.at("a.mcap"));
  EXPECT_EQ(capture.end(0), 74);
  EXPECT_NE(read_file(folder.at("err")).find("its file was deleted"), std::string::npos);
}

TEST(CaptureCommand, CapturesBegunInOneSecondAllRecord) {
  const Folder folder;
  const std::string program = AIRLATCH_BINARY_DIR "/plugin/host/airlatch";
  const std::string one = program + " capture " + kDemo + " --seconds 1 --quiet & ";
  EXPECT_EQ(
      std::system(
          ("cd " + folder.at("") + " && { " + one + one + one + one + one + "wait; }").c_str()),
      0);
  int whole = 0;
  for (const auto& entry : std::filesystem::directory_iterator(folder.at("")))
    whole += run({"replay", entry.path().string(), "--quiet"}).status == 0 ? 1 : 0;
  EXPECT_EQ(whole, 5);
}

TEST(CaptureCommand, InstrumentsThatStayAwayAreTold) {
  const Folder folder;
  Background capture(
      {"capture", kDemo, "--seconds", "2", "--record", folder.at("a.mcap"), "--quiet"},
      {.err = folder.at("err")});
  wait_for(folder.at("a.mcap"));
  wait_s(1.2);
  capture.signal_children(SIGKILL);  // it is started again two seconds later
  EXPECT_EQ(capture.end(0), 69);
  EXPECT_NE(read_file(folder.at("err")).find(std::string(kDemo) + ": lost, and not back"),
            std::string::npos);
  EXPECT_EQ(run({"replay", folder.at("a.mcap"), "--quiet"}).status, 0);
}

TEST(CaptureCommand, SpeechThatCannotBeIsToldAtTheStartAndLater) {
  const Folder folder;
  const char* const path = std::getenv("PATH");
  const std::string before = path ? path : "";
  const auto speaking = [&](const std::string& recording) {
    ::setenv("PATH", folder.at("").c_str(), 1);
    const Ran ran = run({"capture", kDemo, "--seconds", "2", "--record", folder.at(recording),
                         "--plan", "bench-pump", "--speak", "--quiet"});
    ::setenv("PATH", before.c_str(), 1);
    return ran;
  };
  const Ran none = speaking("a.mcap");
  EXPECT_EQ(none.status, 66);
  EXPECT_NE(none.err.find("install spd-say"), std::string::npos) << none.err;
  EXPECT_FALSE(std::filesystem::exists(folder.at("a.mcap")));
  std::filesystem::permissions(folder.write("espeak-ng", "#!/bin/sh\nexit 3\n"),
                               std::filesystem::perms::owner_all);
  expect_outlived(speaking("b.mcap"), folder.at("b.mcap"), 74,
                  "--speak: espeak-ng does not speak: it ended with status 3");
}

TEST(CaptureCommand, WhatDoesNotComeIsWaitedForSoLong) {
  const auto start = std::chrono::steady_clock::now();
  const Ran ran =
      run({"capture", "scpi-dmm:conn=tcp-raw/127.0.0.1/1", "--no-record", "--wait", "1"});
  EXPECT_GT(std::chrono::steady_clock::now() - start, std::chrono::seconds(1));
  EXPECT_EQ(ran.status, 69);
  EXPECT_EQ(lines(ran.err), 2U) << ran.err;
  EXPECT_TRUE(ran.err.starts_with("airlatch: note: waiting 1 s at most: ")) << ran.err;
  EXPECT_EQ(run({"capture", "demo", "--wait", "-1"}).status, 64);
  EXPECT_EQ(run({"capture", "demo", "--wait", "1e9"}).status, 64);
}

// A recording whose bytes libprotobuf has something to say about.
TEST(CaptureCommand, LibrariesHaveNoSayOnStandardError) {
  const Folder folder;
  ASSERT_EQ(
      run({"capture", kDemo, "--seconds", "1", "--record", folder.at("a.mcap"), "--quiet"}).status,
      0);
  std::string bytes = read_file(folder.at("a.mcap"));
  const std::string name = "\x0A\x07motor_a";  // of a sample block
  for (std::size_t at = 0; (at = bytes.find(name, at)) != std::string::npos; ++at)
    bytes[at + 4] = '\xFF';
  // Chunks whose CRC is 0 are not checked: behind op code, length, two times and the size.
  constexpr std::size_t kCrcAt = 33;
  const std::size_t chunk = bytes.find(std::string("\x06", 1), bytes.find("airlatch.plan"));
  ASSERT_NE(chunk, std::string::npos);
  bytes.replace(chunk + kCrcAt, 4, 4, '\0');
  const Ran ran = run({"replay", folder.write("b.mcap", bytes), "--quiet"});
  EXPECT_EQ(ran.status, 65);
  EXPECT_EQ(lines(ran.err), 1U) << ran.err;
  EXPECT_TRUE(ran.err.starts_with("airlatch: ")) << ran.err;
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
