// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch export: a recording as a session file or as text.
#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <memory>
#include <queue>

#include "plugin/host/commands.hpp"
#include "plugin/host/tell.hpp"
#include "plugin/recorder/sr_writer.hpp"
#include "plugin/sources/source.hpp"
#include "plugin/system/whole_file.hpp"

namespace airlatch {
namespace {

struct Options {
  std::string recording, to, out;
};

struct Column {
  std::vector<std::int64_t> times_ns;
  std::vector<float> values;
};

std::vector<Column> read_all(Source& source) {
  std::vector<Column> columns(source.channels().size());
  SampleBlock block;
  while (source.next(block)) {
    Column& column = columns[block.channel];
    for (std::size_t i = 0; i < block.values.size(); ++i) {
      column.times_ns.push_back(block.time_ns(i));
      column.values.push_back(block.values[i]);
    }
  }
  return columns;
}

// One rate for all channels, without gaps: all that a session file can hold.
void write_session(const Options& options, const Source& source,
                   const std::vector<Column>& columns) {
  std::int64_t period_ns = 0;
  for (std::size_t c = 0; c < columns.size(); ++c) {
    const Column& column = columns[c];
    const auto refuse = [&](const std::string& what) {
      throw InputError(ExitStatus::kUnusableData, options.recording,
                       "channel " + source.channels()[c].name, what,
                       "a session file holds one rate without gaps: use --to csv");
    };
    if (column.values.size() < 2) refuse("has fewer than two samples");
    if (column.values.size() != columns[0].values.size()) refuse("has another number of samples");
    const double mean_ns = static_cast<double>(column.times_ns.back() - column.times_ns.front()) /
                           static_cast<double>(column.times_ns.size() - 1);
    if (period_ns == 0) period_ns = std::llround(mean_ns);
    for (std::size_t i = 0; i < column.times_ns.size(); ++i) {
      const double expected =
          static_cast<double>(column.times_ns[0]) + mean_ns * static_cast<double>(i);
      if (std::abs(static_cast<double>(column.times_ns[i]) - expected) > 0.01 * mean_ns)
        refuse(fmt::format("is not evenly sampled at its sample {}", i + 1));
    }
    if (std::abs(mean_ns - static_cast<double>(period_ns)) > 1e-6 * mean_ns)
      refuse("has another rate");
  }
  std::vector<std::pair<std::string, const std::vector<float>*>> channels;
  for (std::size_t c = 0; c < columns.size(); ++c)
    channels.emplace_back(source.channels()[c].name, &columns[c].values);
  write_sr(options.out, std::llround(1e9 / static_cast<double>(period_ns)), channels);
}

// A row wherever any channel has a sample; cells without one are empty. Times to the nanosecond,
// values to the last bit (nine digits).
void write_text(const Options& options, const Source& source, const std::vector<Column>& columns) {
  WholeFile file(options.out);
  std::string line = "time_s";
  std::int64_t first_ns = std::numeric_limits<std::int64_t>::max();
  for (std::size_t c = 0; c < columns.size(); ++c) {
    line += "," + source.channels()[c].name;
    if (!source.channels()[c].unit.empty()) line += " [" + source.channels()[c].unit + "]";
    if (!columns[c].times_ns.empty()) first_ns = std::min(first_ns, columns[c].times_ns[0]);
  }
  file.write(line + "\n");
  std::vector<std::size_t> at(columns.size(), 0);
  while (true) {
    std::int64_t now_ns = std::numeric_limits<std::int64_t>::max();
    for (std::size_t c = 0; c < columns.size(); ++c)
      if (at[c] < columns[c].values.size()) now_ns = std::min(now_ns, columns[c].times_ns[at[c]]);
    if (now_ns == std::numeric_limits<std::int64_t>::max()) break;
    const std::int64_t from_ns = now_ns - first_ns;
    line = fmt::format("{}.{:09}", from_ns / 1'000'000'000, from_ns % 1'000'000'000);
    for (std::size_t c = 0; c < columns.size(); ++c) {
      line += ',';
      if (at[c] >= columns[c].values.size() || columns[c].times_ns[at[c]] != now_ns) continue;
      const float value = columns[c].values[at[c]++];
      if (std::isinf(value))
        line += "OL";
      else if (!std::isnan(value))
        line += fmt::format("{:.9g}", value);
    }
    file.write(line + "\n");
  }
  file.commit();
}

ExitStatus run(const Options& options) {
  const auto source = open_source(options.recording);
  const std::vector<Column> columns = read_all(*source);
  if (options.to == "sr")
    write_session(options, *source, columns);
  else
    write_text(options, *source, columns);
  if (source->damage().empty()) return ExitStatus::kDone;
  tell_error(source->damage());
  return ExitStatus::kUnusableData;
}

}  // namespace

Run add_export(Arguments app) {
  auto options = std::make_shared<Options>();
  app.option("RECORDING", options->recording, "a recording, or any other capture").required();
  app.option("--to", options->to, "sr: libsigrok session; csv: text")
      .required()
      .one_of({"sr", "csv"});
  app.option("--out", options->out, "file to write").required();
  app.footer("Example:\n  airlatch export capture.mcap --to csv --out capture.csv");
  return [options] { return run(*options); };
}

}  // namespace airlatch
