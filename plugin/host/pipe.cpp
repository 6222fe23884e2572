// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch pipe: samples on stdin, events on stdout, for logging pipelines.
#include <fmt/format.h>
#include <poll.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <cmath>
#include <cstring>
#include <memory>
#include <optional>

#include "plugin/host/commands.hpp"
#include "plugin/host/output.hpp"
#include "plugin/host/tell.hpp"
#include "plugin/message/event_json.hpp"
#include "plugin/message/plans.hpp"
#include "plugin/message/setup_file.hpp"
#include "plugin/session/kinds.hpp"
#include "plugin/session/live_chain.hpp"
#include "plugin/session/rig_match.hpp"
#include "plugin/sources/sample_lines.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

struct Options {
  std::string rig, plan, from = "json", to = "json", time_unit;
  std::vector<std::string> channels;
  double patience_s = 2;
  bool strict = false, quiet = false;
};

// InfluxDB line protocol: commas, equal signs and blanks of names are escaped, text is quoted.
std::string point(const Event& event, std::int64_t first_ns) {
  std::string out =
      fmt::format("airlatch,contact={},direction={},kind={} time_u_s={}", name_of(event.contact),
                  name_of(event.direction), name_of(event.kind), event.time_u_s);
  for (const Measure& m : event.measures)
    out += fmt::format(",{}={},{}_u={}", m.name, m.value, m.name, m.u);
  if (const std::string remark = remark_words(event); !remark.empty()) {
    out += ",note=\"";
    for (const char c : shown_text(remark)) {
      if (c == '"' || c == '\\') out += '\\';
      out += c;
    }
    out += '"';
  }
  const double whole = std::floor(event.time_s);
  const std::int64_t time_ns = first_ns + static_cast<std::int64_t>(whole) * 1'000'000'000 +
                               std::llround((event.time_s - whole) * 1e9);
  return out + fmt::format(" {}\n", time_ns);
}

double now_s() {
  return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

// Lines of standard input; while none comes, the caller can do what is due.
class LineInput {
 public:
  static constexpr std::size_t kLongest = std::size_t{1} << 24;
  static constexpr int kIdle_ms = 250;
  // A line without its end; false at the end of the input. A line beyond kLongest is cut, and
  // reported.
  bool next(std::string& line, bool& too_long, const std::function<void()>& idle) {
    line.clear();
    too_long = false;
    while (true) {
      const std::size_t end = buffer_.find('\n', at_);
      const std::size_t to = end == std::string::npos ? buffer_.size() : end;
      const std::size_t room = kLongest - std::min(kLongest, line.size());
      too_long = too_long || to - at_ > room;
      line.append(buffer_, at_, std::min(to - at_, room));
      at_ = end == std::string::npos ? to : to + 1;
      if (end != std::string::npos) return true;
      if (!fill(idle)) return !line.empty();
    }
  }

 private:
  bool fill(const std::function<void()>& idle) {
    pollfd input = {STDIN_FILENO, POLLIN, 0};
    while (::poll(&input, 1, kIdle_ms) == 0) idle();
    buffer_.resize(1 << 16);
    ssize_t n = 0;
    do n = ::read(STDIN_FILENO, buffer_.data(), buffer_.size());
    while (n < 0 && errno == EINTR);
    at_ = 0;
    buffer_.resize(n > 0 ? static_cast<std::size_t>(n) : 0);
    if (n < 0)
      throw InputError(ExitStatus::kReadWriteFailed, "standard input", "", std::strerror(errno),
                       "check what feeds it");
    return n > 0;
  }
  std::string buffer_;
  std::size_t at_ = 0;
};

// Remarks of one kind: the first few are told, the rest counted and told at the end.
class FewNotes {
 public:
  static constexpr std::int64_t kTold = 10;
  explicit FewNotes(std::string kind) : kind_(std::move(kind)) {}
  void add(const std::string& text) {
    if (++count_ <= kTold) tell_note(text);
  }
  void finish() const {
    if (count_ > kTold) tell_note(fmt::format("{} more {}", count_ - kTold, kind_));
  }

 private:
  std::string kind_;
  std::int64_t count_ = 0;
};

std::optional<TimeUnit> time_unit_of(const std::string& name) {
  if (name.empty()) return std::nullopt;
  return name == "s"    ? TimeUnit::kSeconds
         : name == "ms" ? TimeUnit::kMilliseconds
         : name == "us" ? TimeUnit::kMicroseconds
         : name == "ns" ? TimeUnit::kNanoseconds
                        : TimeUnit::kIso;
}

// The lines of standard input, into the chain; what is wrong with them, to the user.
class Pipe {
 public:
  explicit Pipe(const Options& options)
      : options_(options),
        unit_(time_unit_of(options.time_unit)),
        rig_(options.rig.empty() ? Rig() : read_rig(options.rig)),
        out_("-"),
        chain_(
            rig_, options.plan.empty() ? Plan() : find_plan(options.plan), options.channels,
            options.patience_s, [this](const Event& event) { on_event(event); },
            [this](const std::string& remark) {
              if (!options_.quiet) remarks_.add(remark);
            }) {
    if (unit_ == TimeUnit::kIso && options.from != "json")
      throw InputError(ExitStatus::kUsage, "", "", "stamps of line protocol are whole numbers",
                       "--time-unit is s, ms, us or ns for them");
  }

  ExitStatus run() {
    std::string line;
    bool too_long = false;
    const auto idle = [&] { chain_.idle(now_s()); };
    while (input_.next(line, too_long, idle)) {
      ++number_;
      try {
        if (too_long) throw LineError("the line is longer than 16 MiB");
        take(line);
      } catch (const LineError& error) {
        pass_over(error.what());
      }
    }
    chain_.finish();
    remarks_.finish();
    bad_lines_.finish();
    if (chain_.dropped() > 0)
      tell_note(fmt::format("{} samples were dropped: their time was not after the one before",
                            chain_.dropped()));
    if (good_ || first_fault_.empty()) return ExitStatus::kDone;
    throw InputError(ExitStatus::kUnusableData, "standard input", first_bad_,
                     "no line of it holds a sample; of the first, " + first_fault_,
                     "airlatch pipe --help shows lines that do");
  }

 private:
  void take(const std::string& line) {
    const bool json = options_.from == "json";
    std::vector<LineSamples> parts =
        json ? parse_json_line(line, unit_.value_or(TimeUnit::kSeconds))
             : parse_line_protocol(line, unit_.value_or(TimeUnit::kNanoseconds));
    if (parts.empty()) return;
    if (!json && !unit_ && !good_) expect_nanoseconds(parts[0].time_ns);
    for (LineSamples& samples : parts) {
      if (samples.unit) settle_unit_of(samples);
      chain_.push(samples.channel, samples.time_ns, samples.clock, samples.values, now_s());
    }
    good_ = true;
  }

  // Only the first stamp tells: one that counts from the sender's start grows through all sizes.
  void expect_nanoseconds(std::int64_t stamp) const {
    const std::string unit = rather_in(stamp);
    if (unit.empty()) return;
    throw InputError(
        ExitStatus::kUnusableData, "standard input", place(),
        fmt::format("the stamp {} is a day of 1970 in nanoseconds, and a recent one in {}", stamp,
                    unit),
        fmt::format("say which: --time-unit {} or --time-unit ns", unit));
  }

  // A line's unit and the rig do not multiply, as in files (rig_match.hpp).
  void settle_unit_of(LineSamples& samples) const {
    const auto entry = entry_of(samples.channel, rig_);
    if (!entry) return;
    const Unit& unit = *samples.unit;
    if (!fits(unit.dimension, *entry))
      throw LineError("its unit does not fit the role " + name_of(entry->role));
    if (unit.absolute && !entry->absolute && entry->unit.empty())
      throw LineError("its unit is absolute: put absolute: true in the rig");
    const bool rigs_own = !entry->unit.empty() || entry->scale.value_or(1) != 1;
    if (!rigs_own || (unit.scale == 1 && unit.offset == 0)) return;
    for (float& value : samples.values)
      value = static_cast<float>((static_cast<double>(value) - unit.offset) / unit.scale);
  }

  void pass_over(const std::string& why) {
    if (options_.strict)
      throw InputError(ExitStatus::kUnusableData, "standard input", place(), why,
                       "correct the sender");
    if (first_fault_.empty()) {
      first_bad_ = place();
      first_fault_ = why;
    }
    bad_lines_.add(fmt::format("standard input, {}: {}; passed over", place(), why));
  }

  void on_event(const Event& event) {
    out_.write(options_.to == "json" ? event_json(event) + "\n" : point(event, chain_.first_ns()));
  }

  [[nodiscard]] std::string place() const { return fmt::format("line {}", number_); }

  const Options& options_;
  std::optional<TimeUnit> unit_;  // nothing: the format's own
  Rig rig_;
  Output out_;
  FewNotes remarks_{"remarks about channels"}, bad_lines_{"lines were passed over"};
  LiveChain chain_;
  LineInput input_;
  std::int64_t number_ = 0;
  bool good_ = false;  // a line was
  std::string first_bad_, first_fault_;
};

ExitStatus run(const Options& options) { return Pipe(options).run(); }

}  // namespace

Run add_pipe(Arguments app) {
  auto options = std::make_shared<Options>();
  app.reads_standard_input();
  app.option("--rig", options->rig, "what each channel measures (protobuf text)").reads();
  app.option("--plan", options->plan, "a plan's name or file: limits").reads();
  app.option("--from", options->from, "what comes in: json (default) or line-protocol")
      .one_of({"json", "line-protocol"});
  app.option("--to", options->to, "what goes out: json (default) or line-protocol")
      .one_of({"json", "line-protocol"});
  app.option("--time-unit", options->time_unit,
             "unit of \"time\" in JSON (default s; iso: date and time of ISO 8601) and of line "
             "protocol's stamps (default ns): s, ms, us, ns or iso")
      .one_of({"s", "ms", "us", "ns", "iso"});
  app.option("--channels", options->channels,
             "the channels that will come (default: those of the first 2 s of samples)")
      .separated_by(',');
  app.option("--patience", options->patience_s, {0.0, 3600.0},
             "seconds a silent channel may hold the others up (default 2)");
  app.flag("--strict", options->strict,
           "stop at a bad line (status 65) instead of passing it over");
  app.flag("--quiet", options->quiet, "no remarks about channels");
  app.footer(
      "Each line is a sample or a block of samples, for example\n"
      "  {\"channel\":\"motor_a\",\"time_s\":1.25,\"value\":2.31}\n"
      "  {\"channel\":\"motor_a\",\"time_s\":1.25,\"period_s\":0.0001,\"values\":[2.31,2.30]}\n"
      "with \"time\" instead of \"time_s\" in the unit of --time-unit, and \"unit\":\"mbar\", for "
      "example, where\nvalues are not in V, A, kPa or degrees Celsius;\n"
      "or, with --from line-protocol, a point of the InfluxDB line protocol:\n"
      "  pump motor_a=2.31,line_kpa=12.5 1465839830100400200\n\n"
      "Example:\n  my-logger | airlatch pipe --rig bench.rig | my-store");
  return [options] { return run(*options); };
}

}  // namespace airlatch
