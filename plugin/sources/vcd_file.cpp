// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/vcd_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>
#include <optional>
#include <unordered_map>

#include "plugin/sources/line_reader.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr double kMostValues = 1 << 25;  // of all channels: a longer dump gets a longer period
constexpr double kLongestPeriod_s = 0.01;
constexpr std::size_t kTurn = 1 << 14;
constexpr float kMissing = std::numeric_limits<float>::quiet_NaN();

__extension__ using Wide = __int128;

// The file's words.
class Words {
 public:
  Words(const std::string& path, bool hashed) : lines_(path, hashed) {}
  // Empty at the end.
  std::string_view next() {
    for (;;) {
      const std::size_t begin = line_.find_first_not_of(" \t\r\f\v");
      if (begin != std::string_view::npos) {
        line_.remove_prefix(begin);
        const std::size_t end = std::min(line_.find_first_of(" \t\r\f\v"), line_.size());
        const std::string_view word = line_.substr(0, end);
        line_.remove_prefix(end);
        return word;
      }
      if (!lines_.next(line_)) return {};
    }
  }
  [[nodiscard]] std::string place() const { return fmt::format("line {}", lines_.number()); }
  LineReader& lines() { return lines_; }
  [[nodiscard]] const LineReader& lines() const { return lines_; }

 private:
  LineReader lines_;
  std::string_view line_;
};

struct Signal {
  std::string scopes, name, id;
  bool real = false, bit = false;
};

// The definitions before the first value.
class Definitions {
 public:
  explicit Definitions(const std::string& path) : path_(path) {}
  void read(Words& words) {
    for (std::string word(words.next()); word != "$enddefinitions"; word = words.next()) {
      if (word.empty()) refuse(words, "it ends before $enddefinitions", "record it again");
      if (!word.starts_with('$'))
        refuse(words, "a value before $enddefinitions", "record it again");
      std::vector<std::string> parts;
      for (std::string part(words.next()); part != "$end"; part = words.next()) {
        if (part.empty()) refuse(words, word + " has no $end", "record it again");
        if (parts.size() < 16) parts.push_back(part);
      }
      take(words, word, parts);
    }
    while (!words.next().starts_with("$end")) {
    }
    if (signals.empty()) refuse(words, "it defines no signal", "record one");
    if (step_fs == 0) refuse(words, "it has no $timescale", "state one: $timescale 1 us $end");
  }
  std::vector<Signal> signals;
  std::int64_t step_fs = 0;  // of one count of time, in femtoseconds

 private:
  [[noreturn]] void refuse(const Words& words, const std::string& what,
                           const std::string& mend) const {
    throw InputError(ExitStatus::kUnusableData, path_, words.place(), what, mend);
  }
  void take(const Words& words, const std::string& word, const std::vector<std::string>& parts) {
    if (word == "$timescale") timescale(words, parts);
    if (word == "$scope") scopes_.push_back(parts.size() > 1 ? parts[1] : "");
    if (word == "$upscope" && !scopes_.empty()) scopes_.pop_back();
    if (word != "$var" || parts.size() < 4) return;
    if (signals.size() > Source::kMostChannels)
      refuse(words, fmt::format("more than {} signals", Source::kMostChannels),
             "keep those you need");
    Signal signal;
    for (const std::string& scope : scopes_) signal.scopes += scope + ".";
    signal.name = parts[3];
    signal.id = parts[2];
    signal.real = parts[0] == "real" || parts[0] == "realtime";
    signal.bit = !signal.real && parts[1] == "1";
    signals.push_back(std::move(signal));
  }
  void timescale(const Words& words, const std::vector<std::string>& parts) {
    std::string text;
    for (const std::string& part : parts) text += part;
    std::int64_t count = 0;
    const auto end = std::from_chars(text.data(), text.data() + text.size(), count);
    const std::string unit = text.substr(static_cast<std::size_t>(end.ptr - text.data()));
    constexpr std::array<std::pair<std::string_view, std::int64_t>, 6> kUnits = {
        {{"s", 1'000'000'000'000'000},
         {"ms", 1'000'000'000'000},
         {"us", 1'000'000'000},
         {"ns", 1'000'000},
         {"ps", 1000},
         {"fs", 1}}};
    for (const auto& [name, fs] : kUnits)
      if (unit == name && (count == 1 || count == 10 || count == 100)) step_fs = count * fs;
    if (step_fs == 0)
      refuse(words, fmt::format("the timescale '{}' is not known", text),
             "1, 10 or 100 of s, ms, us, ns, ps or fs can be read");
  }
  const std::string& path_;
  std::vector<std::string> scopes_;
};

std::optional<std::int64_t> time_of(std::string_view word) {
  std::int64_t t = 0;
  const auto end = std::from_chars(word.data() + 1, word.data() + word.size(), t);
  if (end.ec != std::errc() || end.ptr != word.data() + word.size() || t < 0) return std::nullopt;
  return t;
}

float bits_of(std::string_view digits) {
  double value = 0;
  for (const char c : digits) {
    if (c != '0' && c != '1') return kMissing;
    value = 2 * value + (c == '1' ? 1 : 0);
  }
  return static_cast<float>(value);
}

float real_of(std::string_view digits) {
  double value = 0;
  const auto end = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  return end.ec == std::errc() ? static_cast<float>(value) : kMissing;
}

// The values' part, a piece at a time.
struct Change {
  enum class What { kTime, kValue, kEnd, kNonsense } what = What::kEnd;
  std::int64_t time = 0;
  std::string id = {};
  float value = 0;
};

Change next_change(Words& words) {
  for (;;) {
    const std::string_view word = words.next();
    if (word.empty()) return {};
    const char first = word.front();
    if (first == '#') {
      const auto t = time_of(word);
      if (!t) return {.what = Change::What::kNonsense};
      return {.what = Change::What::kTime, .time = *t};
    }
    if (word == "$comment") {
      for (std::string_view skipped = words.next(); skipped != "$end"; skipped = words.next())
        if (skipped.empty()) return {};
      continue;
    }
    if (first == '$') continue;  // $dumpvars, $dumpoff ... and their $end
    if (first == 'b' || first == 'B' || first == 'r' || first == 'R') {
      const bool real = first == 'r' || first == 'R';
      const float value = real ? real_of(word.substr(1)) : bits_of(word.substr(1));
      const std::string_view id = words.next();
      if (id.empty()) return {};
      return {.what = Change::What::kValue, .id = std::string(id), .value = value};
    }
    if (first == 's' || first == 'S') {  // a text, which some programs dump
      words.next();
      continue;
    }
    if (word.size() < 2 ||
        std::string_view("01xXzZuU-wWhHlL").find(first) == std::string_view::npos)
      return {.what = Change::What::kNonsense};
    const float value = first == '0' || first == '1' ? static_cast<float>(first - '0') : kMissing;
    return {.what = Change::What::kValue, .id = std::string(word.substr(1)), .value = value};
  }
}

class VcdFile final : public Source {
 public:
  VcdFile(const std::string& path, const OpenOptions& options) : path_(path), options_(options) {
    look_for_times();
    words_.emplace(path, options.hashed);
    Definitions again(path_);
    again.read(*words_);
  }
  [[nodiscard]] const std::vector<SourceChannel>& channels() const override { return channels_; }
  [[nodiscard]] std::string damage() const override { return damage_; }
  [[nodiscard]] double progress() const override { return words_->lines().progress(); }
  [[nodiscard]] std::string sha256() override {
    return options_.hashed ? words_->lines().sha256() : "";
  }
  bool next(SampleBlock& block) override {
    if (handing_ == channels_.size()) {
      fill();
      handing_ = 0;
      if (values_[0].empty()) return false;
    }
    block = {.channel = handing_, .clock = clock_, .first = step_ - std::ssize(values_[0])};
    block.values = values_[handing_++];
    return true;
  }

 private:
  [[noreturn]] void refuse(const std::string& place, const std::string& what,
                           const std::string& mend) const {
    throw InputError(ExitStatus::kUnusableData, path_, place, what, mend);
  }
  void look_for_times();
  void set_clock(const Definitions& definitions, std::int64_t step);
  void name_channels(const std::vector<Signal>& signals);
  void fill();
  // Steps of the clock before a time, counted from the first.
  [[nodiscard]] std::int64_t steps_before(std::int64_t time) const {
    const Wide parts = static_cast<Wide>(time - first_) * per_count_num_;
    return static_cast<std::int64_t>((parts + per_count_den_ - 1) / per_count_den_);
  }

  std::string path_;
  OpenOptions options_;
  std::optional<Words> words_;
  std::vector<SourceChannel> channels_;
  std::unordered_map<std::string, std::vector<std::size_t>> of_id_;
  SampleClock clock_;
  std::int64_t first_ = 0, last_ = 0;                   // counts of time
  std::int64_t per_count_num_ = 1, per_count_den_ = 1;  // steps of the clock in one count
  std::size_t turn_ = kTurn;
  std::vector<std::vector<float>> values_;
  std::vector<float> now_;
  std::int64_t step_ = 0,
               until_ = 0;  // the next step; those before `until_` have the values of now
  std::size_t handing_ = 0;
  bool ended_ = false;
  std::string damage_;
};

// The first reading.
void VcdFile::look_for_times() {
  Words words(path_, false);
  Definitions definitions(path_);
  definitions.read(words);
  std::optional<std::int64_t> first, before;
  std::int64_t step = 0;
  for (Change change = next_change(words); change.what != Change::What::kEnd;
       change = next_change(words)) {
    if (change.what == Change::What::kNonsense) break;  // told by the second reading
    if (change.what != Change::What::kTime) continue;
    if (before && change.time < *before) break;
    if (!first) first = change.time;
    step = std::gcd(step, change.time - *first);
    before = change.time;
  }
  if (!first || step == 0) refuse("", "it holds no changes over time", "record it again");
  first_ = *first;
  last_ = *before;
  name_channels(definitions.signals);
  set_clock(definitions, step);
}

void VcdFile::set_clock(const Definitions& definitions, std::int64_t step) {
  const bool all_real = std::all_of(definitions.signals.begin(), definitions.signals.end(),
                                    [](const Signal& signal) { return signal.real; });
  const double count_s = static_cast<double>(definitions.step_fs) * 1e-15;
  const double step_s = static_cast<double>(step) * count_s;
  const double whole_s = static_cast<double>(last_ - first_) * count_s;
  const double least_s =
      std::max(kVcdLeast_s, whole_s * static_cast<double>(channels_.size()) / kMostValues);
  if (least_s > kLongestPeriod_s)
    refuse("", fmt::format("{:.3g} s of {} signals are too many", whole_s, channels_.size()),
           "cut it, or keep the signals you need");
  // A period of `times` steps, or a `parts`-th of one.
  std::int64_t times = 1, parts = 1;
  if (step_s < least_s)
    times = static_cast<std::int64_t>(std::ceil(least_s / step_s * (1 - 1e-9)));
  else if (step_s > kVcdMost_s && !all_real)
    parts = static_cast<std::int64_t>(std::ceil(std::min(step_s / kVcdMost_s, 1e12)));
  Wide period_fs = static_cast<Wide>(step) * definitions.step_fs * times;
  Wide den = static_cast<Wide>(1'000'000) * parts;  // femtoseconds in a nanosecond
  for (const std::int64_t factor : {1'000'000, 1000, 10})
    while (period_fs % factor == 0 && den % factor == 0) {
      period_fs /= factor;
      den /= factor;
    }
  constexpr Wide kMost = 1'000'000'000'000'000'000;
  if (period_fs > kMost || den > kMost)
    refuse("", "its times cannot be counted", "record it again");
  clock_ = {0, static_cast<std::int64_t>(period_fs), static_cast<std::int64_t>(den)};
  per_count_num_ = parts;
  const Wide per = static_cast<Wide>(step) * times;
  per_count_den_ = per > kMost ? 0 : static_cast<std::int64_t>(per);
  if (!clock_.sound() || per_count_den_ <= 0)
    refuse("", "its times cannot be counted", "record it again");
  for (SourceChannel& channel : channels_) channel.clock = clock_;
  turn_ = static_cast<std::size_t>(
      std::clamp(kLargestLead_s / clock_.period_s(), 1.0, static_cast<double>(kTurn)));
}

void VcdFile::name_channels(const std::vector<Signal>& signals) {
  std::map<std::string, int> uses;
  for (const Signal& signal : signals) ++uses[signal.name];
  for (const Signal& signal : signals) {
    of_id_[signal.id].push_back(channels_.size());
    SourceChannel channel;
    channel.name = uses[signal.name] > 1 ? signal.scopes + signal.name : signal.name;
    channel.logic = signal.bit;
    channels_.push_back(std::move(channel));
  }
  values_.resize(channels_.size());
  now_.assign(channels_.size(), kMissing);
  handing_ = channels_.size();
}

// The next turn of values, fewer at the end.
void VcdFile::fill() {
  for (auto& values : values_) values.clear();
  while (values_[0].size() < turn_) {
    if (step_ < until_) {
      const auto n = std::min<std::int64_t>(until_ - step_,
                                            static_cast<std::int64_t>(turn_ - values_[0].size()));
      for (std::size_t c = 0; c < values_.size(); ++c)
        values_[c].insert(values_[c].end(), static_cast<std::size_t>(n), now_[c]);
      step_ += n;
      continue;
    }
    if (ended_) return;
    const Change change = next_change(*words_);
    switch (change.what) {
      case Change::What::kValue:
        if (const auto at = of_id_.find(change.id); at != of_id_.end())
          for (const std::size_t c : at->second) now_[c] = change.value;
        break;
      case Change::What::kTime:
        if (change.time > last_ || change.time < first_) {  // not one of the first reading's
          damage_ = fmt::format("{}, {}: the time {} steps back; record it again", path_,
                                words_->place(), change.time);
          ended_ = true;
        } else {
          until_ = std::max(until_, steps_before(change.time));
        }
        break;
      case Change::What::kNonsense:
        damage_ = fmt::format("{}, {}: this is no change of a value; what comes before it is read",
                              path_, words_->place());
        [[fallthrough]];
      case Change::What::kEnd:
        ended_ = true;
        until_ = steps_before(last_) + 1;  // the last value's own instant
        break;
    }
  }
}

}  // namespace

bool is_vcd(std::string_view head) {
  const std::size_t begin = head.find_first_not_of(" \t\r\n");
  if (begin == std::string_view::npos) return false;
  head.remove_prefix(begin);
  for (const std::string_view word :
       {"$date", "$version", "$timescale", "$comment", "$scope", "$var"})
    if (head.starts_with(word) && head.size() > word.size() &&
        std::string_view(" \t\r\n").find(head[word.size()]) != std::string_view::npos)
      return true;
  return false;
}

std::unique_ptr<Source> open_vcd(const std::string& path, const OpenOptions& options) {
  return std::make_unique<VcdFile>(path, options);
}

}  // namespace airlatch
