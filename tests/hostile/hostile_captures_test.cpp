// SPDX-License-Identifier: GPL-3.0-or-later
// Captures of every format, cut, flipped, spliced, with numbers at the ends of their ranges; bombs;
// and sources without an end.
#include <fcntl.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include <atomic>
#include <cstring>
#include <thread>

#include "plugin/recorder/mcap_writer.hpp"
#include "tests/hostile/mutations.hpp"
#include "tests/hostile/trial.hpp"
#include "tests/support/drawn_mcap.hpp"
#include "tests/support/files.hpp"
#include "tests/support/shared_entry.hpp"

namespace airlatch::hostile {
namespace {
using namespace test;

constexpr Limits kModest{.time = std::chrono::milliseconds(10'000), .memory_kib = 128 << 10};

struct Sound {
  std::string name, content;
  bool text = false;
};

// Two runs with their rests, a few hundred samples a channel.
std::string little(std::uint64_t value, std::size_t bytes) {
  std::string out(bytes, '\0');
  put_little(out, 0, value, bytes);
  return out;
}

std::string wav(std::uint32_t rate_hz, std::size_t frames) {
  std::string data;
  for (std::size_t k = 0; k < frames; ++k)
    for (const float v : {k / 100 % 2 ? 4.0F : 0.0F, static_cast<float>(k % 50)}) {
      std::uint32_t bits = 0;
      std::memcpy(&bits, &v, sizeof bits);
      data += little(bits, 4);
    }
  const std::string format = little(3, 2) + little(2, 2) + little(rate_hz, 4) +
                             little(std::uint64_t{rate_hz} * 8, 4) + little(8, 2) + little(32, 2);
  const std::string body = "WAVEfmt " + little(16, 4) + format + "data" + little(data.size(), 4);
  return "RIFF" + little(body.size() + data.size(), 4) + body + data;
}

std::string recorded() {
  const Folder folder;
  McapWriter writer(folder.at("a.mcap"),
                    {{"motor_a", "A", false, 500}, {"line_kpa", "kPa", false, 0}},
                    {{"rig", "name: \"x\""}});
  for (int b = 0; b < 12; ++b) {
    const std::vector<float> values(100, b % 3 ? 4.0F : 0.0F);
    writer.block(
        {.channel = 0, .clock = SampleClock::of_rate(500), .first = b * 100, .values = values});
    const std::int64_t time_ns[] = {b * 200'000'000LL + 5};
    const float reading[] = {static_cast<float>(b)};
    writer.block({.channel = 1, .times_ns = time_ns, .values = reading});
    writer.tick(b * 0.3);
  }
  writer.close();
  return read_file(folder.at("a.mcap"));
}

std::string session(const std::string& metadata, const Entries& data, bool deflate) {
  const Folder folder;
  Entries entries{{"version", "2"}, {"metadata", metadata}};
  entries.insert(entries.end(), data.begin(), data.end());
  write_zip(folder.at("a.sr"), entries, deflate);
  return read_file(folder.at("a.sr"));
}

const std::string kMetadata =
    "[global]\nsigrok version=0.5.2\n\n[device 1]\ncapturefile=logic-1\ntotal probes=1\n"
    "samplerate=500 Hz\ntotal analog=2\nprobe1=command\nanalog2=motor_a\nanalog3=line_kpa\n"
    "unitsize=1\n";

Entries session_data() {
  std::vector<float> motor, line;
  std::string logic;
  for (int k = 0; k < 1200; ++k) {
    motor.push_back(k / 200 % 2 ? 4.0F : 0.0F);
    line.push_back(static_cast<float>(k % 400) / 10);
    logic += k / 200 % 2 ? '\1' : '\0';
  }
  return {{"logic-1-1", logic}, {"analog-1-2-1", floats(motor)}, {"analog-1-3-1", floats(line)}};
}

// What the program's own rehearsal writes, at a slow rate.
std::string rehearsed(const std::vector<std::string>& more, const std::string& name) {
  const Folder folder;
  std::vector<std::string> arguments{"rehearse", "line-leak", "--rate", "10",           "--hold",
                                     "3",        "--quiet",   "--out",  folder.at(name)};
  arguments.insert(arguments.end(), more.begin(), more.end());
  EXPECT_EQ(run_trial(arguments).status, 0);
  return read_file(folder.at(name));
}

const std::vector<Sound>& sound_captures() {
  static const std::vector<Sound> all = [] {
    std::string iso = "timestamp\tmotor [mA]\tline_kpa (mbar)\tmotor_a\n",
                rate = "motor_a;line_kpa\n";
    for (int k = 0; k < 120; ++k) {
      iso += "2024-05-01T12:00:" + std::to_string(10 + k / 4) + "." + std::to_string(k % 4 * 25) +
             "Z\t1\t" + std::to_string(k) + "\t" + (k / 20 % 2 ? "4" : "0") + "\r\n";
      rate += std::to_string(k / 20 % 2 * 4) + ",5;" + std::to_string(k) + "\n";
    }
    return std::vector<Sound>{
        {"a.csv", rehearsed({}, "a.csv"), true},
        {"comma.csv", rehearsed({"--decimal-comma"}, "a.csv"), true},
        {"iso.tsv", iso, true},
        {"rate.csv", rate, true},
        {"a.sr", rehearsed({}, "a.sr")},
        {"stored.sr", session(kMetadata, session_data(), false)},
        {"deflated.sr", session(kMetadata, session_data(), true)},
        {"a.wav", wav(500, 1200)},
        {"own.mcap", recorded()},
        {"late.mcap", drawn_mcap({.declared = DrawnMcap::Declared::kWhereFirstUsed})},
        {"plain.mcap", drawn_mcap({.chunks = false, .summary = false})},
    };
  }();
  return all;
}

// One of several ways to read it.
Trial tried(const std::string& path, std::size_t way) {
  const Folder folder;
  const std::string rig = folder.write("wav.rig",
                                       "channel { source: \"CH1\" role: MOTOR_CURRENT }\n"
                                       "channel { source: \"CH2\" role: LINE_PRESSURE }\n");
  std::vector<std::string> arguments{"replay", path};
  if (path.ends_with(".wav")) arguments.insert(arguments.end(), {"--rig", rig});
  if (path.ends_with("rate.csv")) arguments.insert(arguments.end(), {"--rate", "10"});
  if (way % 4 == 1) arguments.insert(arguments.end(), {"--events", "-"});
  if (way % 4 == 2 && !path.ends_with("rate.csv"))
    arguments = {"export", path, "--to", "csv", "--out", folder.at("out.csv")};
  if (way % 4 == 3 && path.ends_with(".csv")) {
    arguments[1] = "-";
    return run_trial(arguments, path, kModest);
  }
  return run_trial(arguments, "/dev/null", kModest);
}

template <typename Change>
void try_all(const std::string& name, std::uint64_t seed, int few, Change&& change) {
  Tally tally(name);
  const Folder folder;
  const int n = draws(few);
  for (int k = 0; k < n; ++k) {
    Mutations draw(seed * 1'000'000 + static_cast<std::uint64_t>(k));
    const auto& all = sound_captures();
    const Sound& sound = all[static_cast<std::size_t>(k) % all.size()];
    const std::string changed = change(draw, sound);
    if (changed.empty()) continue;
    tally.count(tried(folder.write(sound.name, changed), draw.below(4)),
                name + " " + std::to_string(k) + " of " + sound.name);
    if (testing::Test::HasFailure() && std::getenv("AIRLATCH_KEEP"))
      std::ofstream(
          std::string(std::getenv("AIRLATCH_KEEP")) + "/" + std::to_string(k) + sound.name,
          std::ios::binary)
          << changed;
  }
}

TEST(Captures, SoundOnesAreRead) {
  for (const Sound& sound : sound_captures()) {
    const Folder folder;
    for (const std::size_t way : {0, 1, 2, 3}) {
      const Trial trial = tried(folder.write(sound.name, sound.content), way);
      EXPECT_EQ(trial.status, 0) << sound.name << trial.err;
    }
  }
}

TEST(Captures, Cut) {
  try_all("captures cut", 1, 66,
          [](Mutations& draw, const Sound& sound) { return draw.cut(sound.content); });
}

TEST(Captures, Flipped) {
  try_all("captures flipped", 2, 88,
          [](Mutations& draw, const Sound& sound) { return draw.flipped(sound.content); });
}

TEST(Captures, Spliced) {
  try_all("captures spliced", 3, 66, [](Mutations& draw, const Sound& sound) {
    const auto& all = sound_captures();
    const Sound& other = draw.below(2) ? sound : all[draw.below(all.size())];
    return draw.spliced(sound.content, other.content);
  });
}

TEST(Captures, NumbersAtTheirEnds) {
  try_all("captures numbers", 4, 88, [](Mutations& draw, const Sound& sound) {
    return sound.text ? draw.extreme_text(sound.content) : draw.extreme_bytes(sound.content);
  });
}

// Behind the CRC of a zip: entries whose content was changed before it was packed.
TEST(Captures, SessionsOfChangedEntries) {
  Tally tally("sessions of changed entries");
  const Folder folder;
  for (int k = 0; k < draws(40); ++k) {
    Mutations draw(5'000'000 + static_cast<std::uint64_t>(k));
    std::string metadata = kMetadata;
    Entries data = session_data();
    for (std::size_t n = 1 + draw.below(3); n > 0; --n) {
      auto& [name, content] = data[draw.below(data.size())];
      switch (draw.below(6)) {
        case 0:
          metadata = draw.extreme_text(metadata);
          break;
        case 1:
          metadata = draw.flipped(metadata);
          break;
        case 2:
          content = draw.extreme_bytes(content + '\0');
          break;
        case 3:
          content = draw.cut(content);
          break;
        case 4:
          name = draw.extreme_text(name);
          break;
        case 5:
          content.clear();
          break;
      }
    }
    const bool deflate = draw.below(2) == 1;
    tally.count(tried(folder.write("a.sr", session(metadata, data, deflate)), draw.below(3)),
                "session " + std::to_string(k));
  }
}

void expect_refused(Tally& tally, const std::vector<std::string>& arguments,
                    const std::string& what, const std::string& input = "/dev/null") {
  const Trial trial = run_trial(arguments, input, kModest);
  tally.count(trial, what);
  EXPECT_EQ(trial.outcome, Outcome::kRefused) << what << trial.err;
}

TEST(Captures, Bombs) {
  Tally tally("capture bombs");
  const Folder folder;
  const std::string head = "[device 1]\nsamplerate=1 kHz\ntotal analog=1\nanalog1=motor_a\n";
  const std::string zeros(4 << 20, '\0');
  const std::string one = session(head, {{"analog-1-1-1", zeros}}, true);
  expect_refused(tally,
                 {"replay", folder.write("a.sr", with_shared_entry(one, "analog-1-1-", 60'000))},
                 "60 000 entries on the same bytes");
  // One entry of 100 MB in 100 kB: read in pieces.
  const std::string large = session(head, {{"analog-1-1-1", std::string(100 << 20, '\0')}}, true);
  const Trial trial = run_trial({"replay", folder.write("b.sr", large)}, "/dev/null", kModest);
  tally.count(trial, "100 MB of zeros");
  EXPECT_EQ(trial.status, 0) << trial.err;
  // Sizes that are merely claimed.
  for (const std::uint64_t claimed : {0x7ffffffcULL, 0xfffffffcULL, 0x10000000ULL}) {
    std::string lies = one;
    const std::size_t at = lies.rfind("PK\x01\x02");
    put_little(lies, at + 24, claimed, 4);
    expect_refused(tally, {"replay", folder.write("c.sr", lies)}, "a size that is claimed");
    std::string record = drawn_mcap({.summary = false});
    put_little(record, record.find("drawn") + 5 + 1, claimed, 8);
    expect_refused(tally, {"replay", folder.write("c.mcap", record)}, "a record that long");
  }
  std::string wide = "time", row = "0";
  for (int c = 0; c < 100'000; ++c) wide += ",c" + std::to_string(c), row += ",1";
  expect_refused(tally, {"replay", folder.write("wide.csv", wide + "\n" + row + "\n")},
                 "100 000 columns");
  expect_refused(
      tally,
      {"replay", folder.write("name.csv", "time," + std::string(600'000, 'n') + "\n0,1\n1,1\n")},
      "a name of 600 kB");
  expect_refused(tally,
                 {"replay", folder.write("long.csv", "time,motor_a\n0," +
                                                         std::string(100'000'000, '1') + "\n")},
                 "a line of 100 MB");
}

// Endless: refused, or read in bounded memory for as long as there is something to read.
TEST(Captures, SourcesWithoutAnEnd) {
  Tally tally("endless captures");
  const Folder folder;
  expect_refused(tally, {"replay", "/dev/zero"}, "/dev/zero");
  expect_refused(tally, {"replay", "-"}, "/dev/zero on stdin", "/dev/zero");
  const auto fed = [&](const std::string& first, const std::string& again) {
    const std::string path = folder.at("pipe");
    ::mkfifo(path.c_str(), 0600);
    std::atomic<bool> stop = false;
    std::thread writer([&] {
      ::signal(SIGPIPE, SIG_IGN);
      const int fd = ::open(path.c_str(), O_WRONLY);
      bool open = ::write(fd, first.data(), first.size()) >= 0;
      while (open && !stop) open = ::write(fd, again.data(), again.size()) >= 0;
      ::close(fd);
    });
    const Trial trial = run_trial({"replay", path}, "/dev/null", kModest);
    stop = true;
    ::close(::open(path.c_str(), O_RDONLY | O_NONBLOCK));
    writer.join();
    std::filesystem::remove(path);
    return trial;
  };
  tally.count(fed("time,motor_a\n0,", std::string(65536, '1')), "a line without an end");
  tally.count(fed("time,motor_a\n0,1\n1,", std::string(65536, '1')), "the third without an end");
  tally.count(fed(std::string(65536, 'x'), std::string(65536, ',')), "a header without an end");
  // A file that grows has the end that it had when it was opened, mostly within a row.
  const std::string path = folder.write("grows.csv", "time,motor_a\n0,0\n1,0\n2,0\n");
  std::atomic<bool> stop = false;
  std::thread writer([&] {
    std::ofstream file(path, std::ios::app);
    for (int k = 3; !stop && k < 1'000'000; ++k) file << k << ",0\n";
  });
  for (int k = 0; k < 5; ++k)
    tally.count(run_trial({"replay", path}, "/dev/null", kModest), "a file that grows");
  stop = true;
  writer.join();
}

}  // namespace
}  // namespace airlatch::hostile
