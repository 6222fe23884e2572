// SPDX-License-Identifier: GPL-3.0-or-later
// Makes the seeds that the fuzz targets begin from, a folder a target.
//     fuzz_seeds FOLDER
// From a rehearsal (few channels, few samples: small inputs are tried often), the shipped rigs and
// jobs, the built-in plans, and the findings kept in tests/fuzz/seeds.
#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>

#include "airlatch/v1/sample.pb.h"
#include "plugin/live/message_frames.hpp"
#include "plugin/message/plans.hpp"
#include "plugin/message/text_format.hpp"
#include "plugin/message/wire.hpp"
#include "plugin/recorder/mcap_writer.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/rehearse/write.hpp"
#include "plugin/report/job_report.hpp"
#include "plugin/report/report_file.hpp"
#include "plugin/sources/mcap_records.hpp"
#include "tests/fuzz/replay_input.hpp"

namespace airlatch::fuzz {
namespace {
namespace fs = std::filesystem;

std::string read(const fs::path& path) {
  std::ostringstream out;
  out << std::ifstream(path, std::ios::binary).rdbuf();
  return out.str();
}

class Seeds {
 public:
  explicit Seeds(fs::path folder) : folder_(std::move(folder)) {}
  [[nodiscard]] fs::path at(const char* target, const std::string& name) const {
    fs::create_directories(folder_ / target);
    fs::remove(folder_ / target / name);  // a recording is never written over
    return folder_ / target / name;
  }
  void write(const char* target, const std::string& name, const std::string& bytes) const {
    std::ofstream(at(target, name), std::ios::binary) << bytes;
  }

 private:
  fs::path folder_;
};

// A run, a cut-off and the rest behind it as few samples show it.
Rehearsal small(std::size_t samples, std::int64_t rate_hz, const char* fault = "sound") {
  Rehearsal out = rehearse({.fault = fault, .rate_hz = rate_hz, .hold_s = 2});
  std::erase_if(out.channels, [](const auto& channel) {
    return channel.role != Role::MOTOR_CURRENT && channel.role != Role::LINE_PRESSURE &&
           channel.role != Role::FEED_A_VOLTAGE;
  });
  for (auto& channel : out.channels)
    channel.values.resize(std::min(samples, channel.values.size()));
  return out;
}

// Chunks of a tenth of the samples, and an event.
void write_recording(const fs::path& path, const Rehearsal& from) {
  std::vector<RecordedChannel> channels;
  for (const auto& channel : from.channels)
    channels.push_back({channel.name, "", false, 1 / from.clock.period_s()});
  McapWriter writer(path, channels, {{"rig", print_text(from.rig)}});
  const std::size_t samples = from.channels.front().values.size(),
                    piece = std::max<std::size_t>(samples / 10, 1);
  for (std::size_t at = 0; at < samples; at += piece) {
    for (std::size_t c = 0; c < channels.size(); ++c)
      writer.block(
          {.channel = c,
           .clock = from.clock,
           .first = static_cast<std::int64_t>(at),
           .values =
               std::span(from.channels[c].values).subspan(at, std::min(piece, samples - at))});
    writer.tick(static_cast<double>(at));
  }
  writer.event(from.truth.at(0), 0);
  writer.close();
}

std::string riff(const std::string& format, const std::string& data) {
  const mcap::Bytes chunks = mcap::Bytes().raw("WAVEfmt ").string(format).raw("data").string(data);
  return mcap::Bytes().raw("RIFF").string(chunks.text()).text();
}

// Integers of 16 bits, and floats.
void write_wavs(const Seeds& seeds, const Rehearsal& from) {
  constexpr std::uint32_t kRate_hz = 100;
  const auto& values = from.channels.front().values;
  for (const std::uint16_t bytes : {std::uint16_t{2}, std::uint16_t{4}}) {
    mcap::Bytes data;
    for (const float value : values)
      bytes == 2 ? data.put(static_cast<std::int16_t>(value * 1000))
                 : data.put(std::bit_cast<std::uint32_t>(value));
    const mcap::Bytes format = mcap::Bytes()
                                   .put(std::uint16_t(bytes == 2 ? 1 : 3))
                                   .put(std::uint16_t{2})
                                   .put(kRate_hz)
                                   .put(kRate_hz * 2 * bytes)
                                   .put(std::uint16_t(2 * bytes))
                                   .put(std::uint16_t(8 * bytes));
    seeds.write("wav_file", fmt::format("{}_bytes", bytes), riff(format.text(), data.text()));
  }
}

void write_lines(const Seeds& seeds, const Rehearsal& from) {
  std::string single, blocks, points;
  const double period_s = from.clock.period_s();
  for (std::size_t at = 0; at < from.channels.front().values.size(); at += 20) {
    points += "pump,bench=1 ";
    for (const auto& channel : from.channels) {
      const double time_s = period_s * static_cast<double>(at);
      const auto piece = std::span(channel.values)
                             .subspan(at)
                             .first(std::min<std::size_t>(20, channel.values.size() - at));
      single += fmt::format("{{\"channel\":\"{}\",\"time_s\":{},\"value\":{}}}\n", channel.name,
                            time_s, piece[0]);
      blocks +=
          fmt::format("{{\"channel\":\"{}\",\"time_s\":{},\"period_s\":{},\"values\":[{:.4g}]}}\n",
                      channel.name, time_s, period_s, fmt::join(piece, ","));
      points += fmt::format("{}={:.4g},", channel.name, piece[0]);
    }
    points.back() = ' ';
    points += fmt::format("{}\n", from.clock.time_ns(static_cast<std::int64_t>(at)));
  }
  seeds.write("json_lines", "single", single);
  seeds.write("json_lines", "blocks", blocks);
  seeds.write("line_protocol", "points", points);
}

void write_frames(const Seeds& seeds, const Rehearsal& from) {
  v1::InstrumentMessage first, more, last;
  for (const auto& channel : from.channels) {
    auto& one = *first.add_channels();
    one.set_name(channel.name);
    one.set_rate_hz(100);
  }
  more.mutable_block()->mutable_clock()->set_period_num_ns(10'000'000);
  for (int k = 0; k < 16; ++k) more.mutable_block()->add_values(static_cast<float>(k));
  last.set_complaint("it ends");
  std::string bytes;
  for (const auto& message : {first, more, more, last}) append_frame(message, bytes);
  seeds.write("message_frames", "three", bytes);
}

void write_setups(const Seeds& seeds, const fs::path& captures) {
  for (const auto& entry : fs::directory_iterator(captures)) {
    const fs::path& path = entry.path();
    const std::string name = path.stem().string();
    if (path.extension() == ".rig") {
      seeds.write("rig", name, read(path));
      seeds.write("rig", name + "_binary", to_wire(parse_text<Rig>(read(path))));
    }
    if (path.extension() == ".job") {
      seeds.write("job", name, read(path));
      seeds.write("job", name + "_binary", to_wire(parse_text<Job>(read(path))));
    }
  }
  for (const BuiltInPlan& plan : built_in_plans()) {
    seeds.write("plan", plan.name, plan.text);
    seeds.write("plan", std::string(plan.name) + "_binary", to_wire(parse_text<Plan>(plan.text)));
  }
}

void write_reports(const Seeds& seeds, const Rehearsal& from) {
  const fs::path capture = seeds.at("delimited_text", "whole.csv");
  write_csv(capture, from);
  Job job;
  job.capture.emplace_back().file = capture;
  const JobReport judged = make_report(job, "", from.rig, find_plan("bench-pump"), {});
  seeds.write("report_json", "judged", report_json(judged.report));
  seeds.write("report_pb", "judged", to_wire(judged.report));
}

// The same capture in each format.
void write_captures(const Seeds& seeds, const std::string& name, const Rehearsal& from) {
  write_session(seeds.at("sigrok_file", name), from);
  write_csv(seeds.at("delimited_text", name), from);
  write_csv(seeds.at("delimited_text", name + "_comma"), from,
            {.separator = ';', .decimal_comma = true});
  write_recording(seeds.at("recording", name), from);
}

void write_replays(const Seeds& seeds, const std::string& name, const Rehearsal& from) {
  const std::string rig =
      std::string(ReplayInput::kRig) + print_text(from.rig) + std::string(ReplayInput::kCapture);
  for (const char* format : {"sigrok_file", "delimited_text", "recording"}) {
    const std::string capture = read(seeds.at(format, name));
    seeds.write("replay", name + "_" + format, capture);
    seeds.write("replay", name + "_" + format + "_rig", rig + capture);
  }
  const std::string wav = read(seeds.at("wav_file", "4_bytes"));
  seeds.write("replay", name + "_wav",
              "# rig\nchannel { source: \"CH1\" role: MOTOR_CURRENT }\n" +
                  std::string(ReplayInput::kCapture) + wav);
}

// Findings of the past.
void add_kept(const fs::path& kept, const fs::path& folder) {
  if (!fs::exists(kept)) return;
  for (const auto& entry : fs::recursive_directory_iterator(kept)) {
    if (!entry.is_regular_file()) continue;
    const fs::path to = folder / entry.path().parent_path().filename();
    fs::create_directories(to);
    fs::copy_file(entry.path(), to / ("kept_" + entry.path().filename().string()),
                  fs::copy_options::overwrite_existing);
  }
}

void make_seeds(const fs::path& folder) {
  const fs::path tree = AIRLATCH_SOURCE_DIR;
  const Seeds seeds(folder);
  const Rehearsal run = small(1200, 200), some = small(40, 20), leak = small(800, 50, "line-leak");
  write_captures(seeds, "run", run);
  write_captures(seeds, "some", some);
  write_captures(seeds, "leak", leak);
  write_wavs(seeds, some);
  write_lines(seeds, run);
  write_frames(seeds, some);
  write_setups(seeds, tree / "captures");
  write_reports(seeds, leak);
  write_replays(seeds, "run", run);
  write_replays(seeds, "some", some);
  write_replays(seeds, "leak", leak);
  std::string calls;
  for (int k = 0; k < 4000; ++k) calls += static_cast<char>(k * k * 7 / 31);
  seeds.write("abi", "calls", calls);
  add_kept(tree / "tests/fuzz/seeds", folder);
}

}  // namespace
}  // namespace airlatch::fuzz

int main(int argc, char** argv) {
  if (argc != 2) {
    std::fputs("fuzz_seeds FOLDER\n", stderr);
    return 64;
  }
  airlatch::fuzz::make_seeds(argv[1]);
  return 0;
}
