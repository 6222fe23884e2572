// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/arrays.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <optional>

#include "plugin/sources/sample_rate.hpp"
#include "plugin/sources/text_words.hpp"
#include "plugin/sources/units.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kWindow = 1 << 14;  // numbers of an array at once

std::string group_of(const std::string& name) {
  const std::size_t slash = name.rfind('/');
  return slash == std::string::npos ? "" : name.substr(0, slash);
}

std::string last_of(const std::string& name) {
  const std::size_t slash = name.rfind('/');
  return slash == std::string::npos ? name : name.substr(slash + 1);
}

// Seconds to nanoseconds; beyond what can be counted the chain is told by a time that cannot be.
std::int64_t to_ns(double seconds) {
  const double ns = seconds * 1e9;
  return std::abs(ns) < 9e18 ? std::llround(ns) : std::numeric_limits<std::int64_t>::max();
}

// What is known of an array of time after one reading.
struct Times {
  double first_s = 0, last_s = 0, least_step_s = std::numeric_limits<double>::infinity();
  bool rising = true, whole = true;
  double worst_s = 0;  // distance from an even spacing
};

// A number that states how fast samples were taken, by its name; nothing: it does not.
std::optional<double> rate_of(const std::string& name, double value) {
  static const std::map<std::string, bool> kNames = {{"fs", true},
                                                     {"sample rate", true},
                                                     {"samplerate", true},
                                                     {"rate", true},
                                                     {"sampling rate", true},
                                                     {"sampling frequency", true},
                                                     {"rate hz", true},
                                                     {"sample rate hz", true},
                                                     {"sample frequency", true},
                                                     {"sr", true},
                                                     {"fsample", true},
                                                     {"abtastrate", true},
                                                     {"dt", false},
                                                     {"ts", false},
                                                     {"sample period", false},
                                                     {"period", false},
                                                     {"sample interval", false},
                                                     {"sampling interval", false},
                                                     {"delta t", false},
                                                     {"wf increment", false},
                                                     {"sampling period", false},
                                                     {"xinc", false},
                                                     {"tinterval", false},
                                                     {"t interval", false},
                                                     {"interval", false}};
  const auto at = kNames.find(folded(last_of(name)));
  if (at == kNames.end() || !(value > 0) || !std::isfinite(value)) return std::nullopt;
  return at->second ? value : 1 / value;
}

struct Group {
  std::optional<std::size_t> time = {};  // the array of its times
  double time_unit_s = 1;
  SampleClock clock = {};  // num_ns == 0: times of their own
  std::uint64_t length = 0;
  std::vector<std::size_t> channels = {};
  // Window: rows [from, from + rows) are in memory, those before `at` are handed out.
  std::uint64_t at = 0, from = 0, rows = 0;
  std::vector<std::int64_t> times_ns = {};
};

class ArraySource final : public Source {
 public:
  ArraySource(std::unique_ptr<ArrayFile> file, std::string path, const OpenOptions& options)
      : file_(std::move(file)), path_(std::move(path)), options_(options) {
    find_stated_rate();
    find_groups();
    name_channels();
  }
  [[nodiscard]] const std::vector<SourceChannel>& channels() const override { return channels_; }
  [[nodiscard]] std::vector<std::string> remarks() const override {
    std::vector<std::string> out;
    for (const std::string& what : table().left_out) out.push_back("left out: " + what);
    return out;
  }
  [[nodiscard]] std::string damage() const override { return damage_; }
  [[nodiscard]] double progress() const override {
    double done = 1;
    for (const Group& group : groups_)
      done = std::min(done, static_cast<double>(group.at) / static_cast<double>(group.length));
    return done;
  }
  bool next(SampleBlock& block) override;

 private:
  [[nodiscard]] const ArrayTable& table() const { return file_->table(); }
  [[nodiscard]] const NamedArray& array(std::size_t k) const { return table().arrays[k]; }
  [[noreturn]] void refuse(const std::string& place, const std::string& what,
                           const std::string& mend) const {
    throw InputError(ExitStatus::kUnusableData, path_, place, what, mend);
  }
  void find_stated_rate();
  [[nodiscard]] bool says_time(std::size_t k) const;
  [[nodiscard]] double time_unit_of(std::size_t k) const;
  Times look_at(std::size_t k);
  [[nodiscard]] std::optional<std::size_t> times_for(std::size_t k,
                                                     const std::vector<std::size_t>& times) const;
  void find_groups();
  void set_times(Group& group);
  void set_rate(Group& group, std::size_t of);
  void name_channels();
  void set_unit(SourceChannel& channel, const NamedArray& from);
  bool load(Group& group);
  [[nodiscard]] double next_time_s(const Group& group) const;

  std::unique_ptr<ArrayFile> file_;
  std::string path_;
  OpenOptions options_;
  std::optional<std::pair<std::string, double>> stated_;  // a rate, and by which name
  std::vector<Group> groups_;
  std::vector<SourceChannel> channels_;
  std::vector<std::size_t> array_of_;  // of each channel
  std::vector<std::vector<float>> values_;
  std::vector<double> numbers_;
  std::string damage_;
  // The turn that is handed out: channels of one group, rows [at, at + turn_).
  std::optional<std::size_t> group_ = {};
  std::size_t handed_ = 0;
  std::uint64_t turn_ = 0;
  std::vector<std::size_t> ended_ = {};  // channels whose end is still to be said
};

void ArraySource::find_stated_rate() {
  for (const auto& [name, value] : table().numbers) {
    const auto rate = rate_of(name, value);
    if (!rate) continue;
    if (stated_ && std::abs(stated_->second - *rate) > 1e-6 * *rate)
      refuse(name,
             fmt::format("it states {:.6g} samples a second, and {} {:.6g}", *rate, stated_->first,
                         stated_->second),
             "keep one of them");
    stated_ = {name, *rate};
  }
}

bool ArraySource::says_time(std::size_t k) const {
  const std::string& asked = options_.text.time_column;
  if (!asked.empty()) return array(k).name == asked || last_of(array(k).name) == asked;
  if (array(k).time_unit_s > 0) return true;
  const std::string name = folded(last_of(array(k).name));
  const auto unit = parse_unit(array(k).unit);
  return name == "t" || name.starts_with("t ") || means(name, Meaning::kTime) ||
         (unit && unit->dimension == Dimension::kTime && name == "x");
}

double ArraySource::time_unit_of(std::size_t k) const {
  const auto asked = parse_unit(options_.text.time_unit);
  if (asked && asked->dimension == Dimension::kTime) return asked->scale;
  if (array(k).time_unit_s > 0) return array(k).time_unit_s;
  std::string name = folded(last_of(array(k).name));
  const std::string word = name.substr(name.rfind(' ') + 1);
  for (const std::string& text : {array(k).unit, word == name ? std::string() : word})
    if (const auto unit = parse_unit(text); unit && unit->dimension == Dimension::kTime)
      return unit->scale;
  return 0;
}

Times ArraySource::look_at(std::size_t k) {
  Times out;
  const std::uint64_t n = array(k).length;
  const double unit_s = std::max(time_unit_of(k), 0.0) > 0 ? time_unit_of(k) : 1;
  double ends[2] = {0, 0};
  for (const std::size_t which : {0U, 1U})
    file_->read(k, which == 0 ? 0 : n - 1, std::span(&ends[which], 1));
  out.first_s = ends[0] * unit_s;
  out.last_s = ends[1] * unit_s;
  const double period_s = (out.last_s - out.first_s) / static_cast<double>(n - 1);
  double before = -std::numeric_limits<double>::infinity();
  for (std::uint64_t from = 0; from < n; from += kWindow) {
    numbers_.resize(static_cast<std::size_t>(std::min<std::uint64_t>(kWindow, n - from)));
    file_->read(k, from, numbers_);
    for (std::size_t i = 0; i < numbers_.size(); ++i) {
      const double t_s = numbers_[i] * unit_s;
      out.rising = out.rising && t_s > before && std::isfinite(t_s);
      out.whole = out.whole && numbers_[i] == std::floor(numbers_[i]);
      if (from + i > 0) out.least_step_s = std::min(out.least_step_s, t_s - before);
      before = t_s;
      const double even_s = out.first_s + static_cast<double>(from + i) * period_s;
      out.worst_s = std::max(out.worst_s, std::abs(t_s - even_s));
    }
  }
  return out;
}

// Of the same length and group; else of the same length, where that is one only.
std::optional<std::size_t> ArraySource::times_for(std::size_t k,
                                                  const std::vector<std::size_t>& times) const {
  std::vector<std::size_t> near, far;
  for (const std::size_t t : times) {
    if (array(t).length != array(k).length) continue;
    (group_of(array(t).name) == group_of(array(k).name) ? near : far).push_back(t);
  }
  const std::vector<std::size_t>& found = near.empty() ? far : near;
  if (found.empty()) return std::nullopt;
  if (found.size() > 1)
    refuse(
        array(k).name,
        fmt::format("both {} and {} may be its times", array(found[0]).name, array(found[1]).name),
        "name one in a rig: text { time_column: \"...\" }");
  return found[0];
}

void ArraySource::find_groups() {
  std::vector<std::size_t> times, data;
  std::map<std::size_t, Times> looks;
  for (std::size_t k = 0; k < table().arrays.size(); ++k) {
    if (array(k).length < 2) continue;
    if (says_time(k)) looks.emplace(k, look_at(k));
    (says_time(k) && looks.at(k).rising ? times : data).push_back(k);
  }
  if (data.empty()) refuse("", "it holds no array of samples", "save the samples beside the times");
  std::map<std::optional<std::size_t>, std::vector<std::size_t>> by_time;
  for (const std::size_t k : data) by_time[times_for(k, times)].push_back(k);
  for (const auto& [time, arrays] : by_time) {
    std::map<std::uint64_t, Group> by_length;
    for (const std::size_t k : arrays) {
      Group& group = by_length[array(k).length];
      group.time = time;
      group.length = array(k).length;
      group.channels.push_back(array_of_.size());
      array_of_.push_back(k);
    }
    for (auto& [length, group] : by_length) {
      if (group.time)
        set_times(group);
      else
        set_rate(group, array_of_[group.channels[0]]);
      groups_.push_back(std::move(group));
    }
  }
}

void ArraySource::set_times(Group& group) {
  const std::size_t k = *group.time;
  const Times times = look_at(k);
  const double stated_unit_s = time_unit_of(k);
  group.time_unit_s = stated_unit_s > 0 ? stated_unit_s : 1;
  const auto n = static_cast<double>(group.length);
  const double rate = (n - 1) / (times.last_s - times.first_s);
  constexpr double kFarApart_s = 5;
  if (stated_unit_s == 0 && times.whole && times.least_step_s >= kFarApart_s && !stated_)
    refuse(
        array(k).name,
        fmt::format("its times are whole numbers, {:.6g} apart: in which unit?",
                    times.least_step_s),
        fmt::format("say it in a rig: text {{ time_unit: \"ms\" }}, or name them {0}_ms or {0}_s",
                    last_of(array(k).name)));
  if (stated_ && std::abs(std::log(stated_->second / rate)) > 0.1)
    refuse(array(k).name,
           fmt::format("by it there are {:.6g} samples a second, by {} {:.6g}", rate,
                       stated_->first, stated_->second),
           stated_unit_s > 0 ? "correct one of them"
                             : "say the unit of its times in a rig: text { time_unit: \"ms\" }");
  // Within a thousandth of the period, or of what a number of that size resolves.
  const double resolution_s =
      std::max(std::abs(times.first_s), std::abs(times.last_s)) * 2e-7 * (n > 0 ? 1 : 0);
  const double tolerance_s = std::max(1e-3 / rate, std::min(resolution_s, 0.1 / rate));
  if (times.worst_s > tolerance_s) return;
  const double whole_rate = std::round(rate);
  const bool near_whole = whole_rate >= 1 && std::abs(n / rate - n / whole_rate) <= 2 * tolerance_s;
  const auto clock = SampleClock::of_rate_hz(near_whole ? whole_rate : rate);
  const double end_s =
      clock
          ? static_cast<double>(clock->time_ns(static_cast<std::int64_t>(group.length - 1))) * 1e-9
          : 0;
  if (!clock || std::abs(end_s - (times.last_s - times.first_s)) > 2 * tolerance_s) return;
  group.clock = *clock;
  group.clock.start_ns = to_ns(times.first_s);
}

void ArraySource::set_rate(Group& group, std::size_t of) {
  if (stated_)
    group.clock = clock_of_rate(stated_->second, path_, stated_->first);
  else if (options_.rate_hz > 0)
    group.clock = clock_of_rate(options_.rate_hz, path_, "--rate");
  else
    refuse(array(of).name, "nothing says when its samples were taken",
           "give --rate HZ, or save their times beside them (time, in seconds) or a number fs");
}

void ArraySource::set_unit(SourceChannel& channel, const NamedArray& from) {
  std::string text = from.unit;
  if (text.empty() && !channel.name.empty() && channel.name.ends_with(')'))
    if (const std::size_t open = channel.name.rfind('('); open != std::string::npos && open > 0) {
      text = channel.name.substr(open + 1, channel.name.size() - open - 2);
      if (!parse_unit(text)) return;
      channel.name.resize(open);
      while (channel.name.ends_with(' ')) channel.name.pop_back();
    }
  if (text.empty() || is_other_unit(text)) return;
  channel.unit = text;
  const auto unit = parse_unit(text);
  if (!unit || unit->dimension == Dimension::kTime) return;  // judged once it has a role
  channel.unit_scale = unit->scale;
  channel.unit_offset = unit->offset;
}

void ArraySource::name_channels() {
  std::map<std::string, int> uses;
  for (const std::size_t k : array_of_) ++uses[last_of(array(k).name)];
  channels_.resize(array_of_.size());
  values_.resize(array_of_.size());
  for (const Group& group : groups_)
    for (const std::size_t c : group.channels) {
      const NamedArray& from = array(array_of_[c]);
      const std::string last = last_of(from.name);
      channels_[c].name = uses[last] > 1 ? from.name : last;
      channels_[c].clock = group.clock;
      channels_[c].logic = from.logic;
      set_unit(channels_[c], from);
    }
}

double ArraySource::next_time_s(const Group& group) const {
  if (group.clock.num_ns > 0)
    return static_cast<double>(group.clock.time_ns(static_cast<std::int64_t>(group.at))) * 1e-9;
  return static_cast<double>(group.times_ns[group.at - group.from]) * 1e-9;
}

// The window that begins at the group's next row. False: it cannot be read.
bool ArraySource::load(Group& group) {
  group.from = group.at;
  group.rows = std::min<std::uint64_t>(kWindow, group.length - group.at);
  numbers_.resize(static_cast<std::size_t>(group.rows));
  try {
    if (group.time && group.clock.num_ns == 0) {
      file_->read(*group.time, group.from, numbers_);
      group.times_ns.clear();
      for (const double t : numbers_) group.times_ns.push_back(to_ns(t * group.time_unit_s));
    }
    for (const std::size_t c : group.channels) {
      file_->read(array_of_[c], group.from, numbers_);
      values_[c].clear();
      for (const double v : numbers_)
        values_[c].push_back(
            static_cast<float>(channels_[c].unit_scale * v + channels_[c].unit_offset));
    }
  } catch (const ArrayError& error) {
    damage_ = fmt::format("{}: {} of {} samples are read, then: {}", path_, group.at, group.length,
                          error.what());
    return false;
  }
  return true;
}

bool ArraySource::next(SampleBlock& block) {
  if (!damage_.empty()) return false;
  if (!ended_.empty()) {
    block = {.channel = ended_.back()};
    ended_.pop_back();
    return true;
  }
  if (!group_) {
    double least_s = std::numeric_limits<double>::infinity();
    for (std::size_t g = 0; g < groups_.size(); ++g) {
      Group& group = groups_[g];
      if (group.at == group.length) continue;
      if (group.at == group.from + group.rows && !load(group)) return false;
      if (next_time_s(group) < least_s || !group_) group_ = g;
      least_s = std::min(least_s, next_time_s(group));
    }
    if (!group_) return false;
    Group& group = groups_[*group_];
    const double until_s = next_time_s(group) + kLargestLead_s;
    const std::uint64_t left = group.from + group.rows - group.at;
    turn_ = 1;
    if (group.clock.num_ns > 0)
      turn_ = std::clamp<std::uint64_t>(
          static_cast<std::uint64_t>(kLargestLead_s / group.clock.period_s()), 1, left);
    else
      while (turn_ < left &&
             static_cast<double>(group.times_ns[group.at - group.from + turn_]) * 1e-9 < until_s)
        ++turn_;
    handed_ = 0;
  }
  Group& group = groups_[*group_];
  const std::size_t c = group.channels[handed_++];
  const auto first = static_cast<std::size_t>(group.at - group.from);
  const auto n = static_cast<std::size_t>(turn_);
  block = {.channel = c, .clock = group.clock, .first = static_cast<std::int64_t>(group.at)};
  block.values = std::span<const float>(values_[c]).subspan(first, n);
  if (group.clock.num_ns == 0)
    block.times_ns = std::span<const std::int64_t>(group.times_ns).subspan(first, n);
  if (handed_ == group.channels.size()) {
    group.at += turn_;
    group_.reset();
    if (group.at == group.length) ended_ = group.channels;
  }
  return true;
}

}  // namespace

std::unique_ptr<Source> open_arrays(const InputFile& file, OpensArrayFile open,
                                    const OpenOptions& options) {
  try {
    return std::make_unique<ArraySource>(open(file), file.path(), options);
  } catch (const ArrayError& error) {
    throw InputError(ExitStatus::kUnusableData, file.path(), "", error.what(), "save it again");
  }
}

}  // namespace airlatch
