// SPDX-License-Identifier: GPL-3.0-or-later
// Formats are recognised by content, never by a name's ending.
#include <gtest/gtest.h>
#include <sndfile.h>

#include <cmath>

#include "plugin/recorder/sr_writer.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

void write_wav(const std::string& path, const std::vector<float>& interleaved, int channels,
               int rate, int format = SF_FORMAT_WAV | SF_FORMAT_FLOAT) {
  SF_INFO info{};
  info.channels = channels;
  info.samplerate = rate;
  info.format = format;
  SNDFILE* file = sf_open(path.c_str(), SFM_WRITE, &info);
  sf_writef_float(file, interleaved.data(), std::ssize(interleaved) / channels);
  sf_close(file);
}

TEST(Sniff, NamesDoNotMatter) {
  Folder folder;
  const std::vector<float> values = {1, 2, 3};
  write_sr(folder.at("session.csv"), 100, {{"motor_a", &values}});
  EXPECT_EQ(read_all(folder.at("session.csv")).values[0], values);
  folder.write("text.sr", "time,motor_a\n0,1\n1,2\n2,3\n");
  EXPECT_EQ(read_all(folder.at("text.sr")).values[0], values);
  write_wav(folder.at("sound.txt"), {0.5F, -0.5F, 0.25F, -0.25F}, 2, 48000);
  const Content wav = read_all(folder.at("sound.txt"));
  ASSERT_EQ(wav.channels.size(), 2U);
  EXPECT_EQ(wav.channels[0].name, "CH1");
  EXPECT_EQ(wav.channels[0].clock, SampleClock::of_rate(48000));
  EXPECT_EQ(wav.values[0], (std::vector<float>{0.5F, 0.25F}));
  EXPECT_EQ(wav.values[1], (std::vector<float>{-0.5F, -0.25F}));
}

TEST(Sniff, FilesThatAreNone) {
  Folder folder;
  EXPECT_EQ(refusal(folder.at("nothing")).status, 66);
  EXPECT_EQ(refusal(folder.write("empty.sr", "")).status, 65);
  EXPECT_EQ(refusal(folder.at("")).status, 65);  // a folder
  EXPECT_EQ(refusal(folder.write("binary", std::string("abc\0def", 7))).status, 65);
  EXPECT_NE(refusal(folder.write("letter.sr", "Dear colleague,\nthe pump is dead.\n")).status, 0);
  EXPECT_EQ(refusal(folder.write("utf16.csv", std::string("\xff\xfet\0i\0", 6))).status, 65);
  EXPECT_EQ(refusal(folder.write("broken.sr", "PK\x03\x04 and nothing behind")).status, 65);
}

TEST(Sniff, AWavCutShortIsReadAsFarAsItGoes) {
  Folder folder;
  std::vector<float> values(1000);
  for (std::size_t k = 0; k < values.size(); ++k)
    values[k] = std::sin(0.01F * static_cast<float>(k));
  write_wav(folder.at("x.wav"), values, 1, 8000);
  const std::string bytes = read_file(folder.at("x.wav"));
  const std::string cut = folder.write("cut.wav", bytes.substr(0, bytes.size() - 2000));
  const Content content = read_all(cut);
  ASSERT_GE(content.values[0].size(), 450U);
  EXPECT_TRUE(std::equal(content.values[0].begin(), content.values[0].end(), values.begin()));
  EXPECT_NE(content.damage.find("cut short"), std::string::npos);
}

}  // namespace
}  // namespace airlatch
