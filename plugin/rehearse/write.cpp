// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/write.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "plugin/message/event_json.hpp"
#include "plugin/message/text_format.hpp"
#include "plugin/recorder/sr_writer.hpp"
#include "plugin/system/whole_file.hpp"

namespace airlatch {

void write_csv(const std::string& path, const Rehearsal& rehearsal, const CsvStyle& style) {
  WholeFile file(path);
  std::string text =
      "# Invented data: rehearsal of a fictional car, the Merganser estate of Saltmarsh Garage\n";
  text += "time_s";
  static constexpr const char* kUnits[] = {"", "V", "V", "V", "V", "A", "kPa", "kPa", "C", "V"};
  for (const auto& channel : rehearsal.channels)
    text += fmt::format("{}{} [{}]", style.separator, channel.name,
                        kUnits[static_cast<std::size_t>(channel.role)]);
  text += '\n';
  const std::size_t n = rehearsal.channels.front().values.size();
  const double period_s = rehearsal.clock.period_s();
  // As many decimals as the period needs to be exact, or nanoseconds.
  int decimals = 0;
  while (decimals < 9 && std::abs(period_s * std::pow(10, decimals) -
                                  std::round(period_s * std::pow(10, decimals))) > 1e-9)
    ++decimals;
  std::string row;
  for (std::size_t k = 0; k < n; ++k) {
    row = fmt::format(
        "{:.{}f}",
        static_cast<double>(rehearsal.clock.time_ns(static_cast<std::int64_t>(k))) * 1e-9,
        decimals);
    for (const auto& channel : rehearsal.channels) {
      row += style.separator;
      if (!std::isnan(channel.values[k]))
        fmt::format_to(std::back_inserter(row), "{:.{}g}", channel.values[k], style.digits);
    }
    if (style.decimal_comma) std::replace(row.begin(), row.end(), '.', ',');
    text += row;
    text += '\n';
    if (text.size() > (1U << 20)) {
      file.write(text);
      text.clear();
    }
  }
  file.write(text);
  file.commit();
}

void write_session(const std::string& path, const Rehearsal& rehearsal) {
  std::vector<std::pair<std::string, const std::vector<float>*>> channels;
  for (const auto& channel : rehearsal.channels)
    channels.emplace_back(channel.name, &channel.values);
  const double rate_hz = 1 / rehearsal.clock.period_s();
  write_sr(path, static_cast<std::int64_t>(std::llround(rate_hz)), channels);
}

void write_truth(const std::string& path, const Rehearsal& rehearsal) {
  WholeFile file(path);
  for (const Event& event : rehearsal.truth) file.write(event_json(event) + "\n");
  file.commit();
}

void write_rig(const std::string& path, const Rehearsal& rehearsal) {
  WholeFile file(path);
  file.write("# Invented: the instruments of a rehearsal.\n" + print_text(rehearsal.rig));
  file.commit();
}

}  // namespace airlatch
