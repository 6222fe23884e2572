// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch export: a recording as a session file or as text.
#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <memory>

#include "plugin/host/commands.hpp"
#include "plugin/host/tell.hpp"
#include "plugin/recorder/csv_writer.hpp"
#include "plugin/recorder/sample_spool.hpp"
#include "plugin/recorder/sr_writer.hpp"
#include "plugin/sources/source.hpp"
#include "plugin/system/shown_text.hpp"
#include "plugin/system/whole_file.hpp"

namespace airlatch {
namespace {

struct Options {
  std::string recording, to, out;
};

// Whether a channel's samples lie evenly in time, looked at as they come: sample i must lie within a
// hundredth of the mean period from where it should. That narrows what the period may be, and the
// mean must be within.
class Evenness {
 public:
  void add(std::int64_t time_ns) {
    if (samples_ == 0) first_ns_ = time_ns;
    const auto i = static_cast<double>(samples_),
               from_ns = static_cast<double>(time_ns - first_ns_);
    ++samples_;
    last_ns_ = time_ns;
    if (samples_ == 1) return;
    if (const double least = from_ns / (i + kTolerance); least > least_ns_) {
      least_ns_ = least;
      least_at_ = samples_;
    }
    if (const double most = from_ns / (i - kTolerance); most < most_ns_) {
      most_ns_ = most;
      most_at_ = samples_;
    }
  }
  [[nodiscard]] std::int64_t samples() const { return samples_; }
  [[nodiscard]] double mean_ns() const {
    return static_cast<double>(last_ns_ - first_ns_) / static_cast<double>(samples_ - 1);
  }
  // The sample (from 1) that lies elsewhere; 0: none.
  [[nodiscard]] std::int64_t uneven_at() const {
    if (mean_ns() < least_ns_) return least_at_;
    return mean_ns() > most_ns_ ? most_at_ : 0;
  }

 private:
  static constexpr double kTolerance = 0.01;  // periods
  std::int64_t samples_ = 0, first_ns_ = 0, last_ns_ = 0, least_at_ = 0, most_at_ = 0;
  double least_ns_ = 0, most_ns_ = std::numeric_limits<double>::infinity();
};

// One rate for all channels, without gaps: all that a session file can hold.
std::int64_t common_rate_hz(const Options& options, const Source& source,
                            const std::vector<Evenness>& channels) {
  double period_ns = 0;
  for (std::size_t c = 0; c < channels.size(); ++c) {
    const Evenness& channel = channels[c];
    const auto refuse = [&](const std::string& what) {
      throw InputError(ExitStatus::kUnusableData, options.recording,
                       "channel " + shown_name(source.channels()[c].name), what,
                       "a session file holds one rate without gaps: use --to csv");
    };
    if (channel.samples() < 2) refuse("has fewer than two samples");
    if (channel.samples() != channels[0].samples()) refuse("has another number of samples");
    if (channel.uneven_at() > 0)
      refuse(fmt::format("is not evenly sampled at its sample {}", channel.uneven_at()));
    if (period_ns == 0) period_ns = std::round(channel.mean_ns());
    if (std::abs(channel.mean_ns() - period_ns) > 1e-6 * channel.mean_ns())
      refuse("has another rate");
  }
  return std::llround(1e9 / period_ns);
}

void write_session(const Options& options, Source& source) {
  const std::size_t n = source.channels().size();
  std::vector<Evenness> evenness(n);
  SampleSpool spool(n);
  SampleBlock block;
  while (source.next(block)) {
    for (std::size_t i = 0; i < block.values.size(); ++i)
      evenness[block.channel].add(block.time_ns(i));
    spool.add(block.channel, block.values);
  }
  const std::int64_t rate_hz = common_rate_hz(options, source, evenness);
  std::vector<SrChannel> channels;
  for (std::size_t c = 0; c < n; ++c)
    channels.push_back({source.channels()[c].name,
                        static_cast<std::uint64_t>(evenness[c].samples()),
                        [&spool, c](std::uint64_t at, void* to, std::size_t bytes) {
                          return spool.copy(c, at, to, bytes);
                        }});
  write_sr(options.out, rate_hz, channels);
}

void write_text(const Options& options, Source& source) {
  WholeFile file(options.out);
  CsvWriter writer(file, source.channels());
  SampleBlock block;
  while (source.next(block)) writer.add(block);
  writer.finish();
  file.commit();
  if (writer.left_out() > 0)
    tell_note(fmt::format("{}: {} samples were left out: their time was not after the row before",
                          shown_name(options.recording), writer.left_out()));
}

ExitStatus run(const Options& options) {
  const auto source = open_source(options.recording);
  if (options.to == "sr")
    write_session(options, *source);
  else
    write_text(options, *source);
  return source->damage().empty() ? ExitStatus::kDone : tell_damages({source->damage()});
}

}  // namespace

Run add_export(Arguments app) {
  auto options = std::make_shared<Options>();
  app.option("RECORDING", options->recording, "a recording, or any other capture")
      .required()
      .reads();
  app.option("--to", options->to, "sr: libsigrok session; csv: text")
      .required()
      .one_of({"sr", "csv"});
  app.option("--out", options->out, "file to write; - for standard output").required().writes();
  app.footer("Example:\n  airlatch export capture.mcap --to csv --out capture.csv");
  return [options] { return run(*options); };
}

}  // namespace airlatch
