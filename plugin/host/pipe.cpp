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

#include "plugin/host/commands.hpp"
#include "plugin/host/output.hpp"
#include "plugin/host/tell.hpp"
#include "plugin/message/event_json.hpp"
#include "plugin/message/plans.hpp"
#include "plugin/message/setup_file.hpp"
#include "plugin/session/kinds.hpp"
#include "plugin/session/live_chain.hpp"
#include "plugin/sources/sample_lines.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

struct Options {
  std::string rig, plan, from = "json", to = "json";
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

ExitStatus run(const Options& options) {
  const Rig rig = options.rig.empty() ? Rig() : read_rig(options.rig);
  const Plan plan = options.plan.empty() ? Plan() : find_plan(options.plan);
  Output out("-");
  LiveChain* live = nullptr;
  LiveChain chain(
      rig, plan, options.channels, options.patience_s,
      [&](const Event& event) {
        out.write(options.to == "json" ? event_json(event) + "\n" : point(event, live->first_ns()));
      },
      [&](const std::string& remark) {
        if (!options.quiet) tell_note(remark);
      });
  live = &chain;
  LineInput input;
  std::string line;
  bool too_long = false;
  const auto idle = [&] { chain.idle(now_s()); };
  for (std::int64_t number = 1; input.next(line, too_long, idle); ++number) {
    try {
      if (too_long) throw LineError("the line is longer than 16 MiB");
      for (const LineSamples& samples :
           options.from == "json" ? parse_json_line(line) : parse_line_protocol(line))
        chain.push(samples.channel, samples.time_ns, samples.clock, samples.values, now_s());
    } catch (const LineError& error) {
      if (options.strict)
        throw InputError(ExitStatus::kUnusableData, "standard input",
                         fmt::format("line {}", number), error.what(), "correct the sender");
      tell_note(fmt::format("standard input, line {}: {}; passed over", number, error.what()));
    }
  }
  chain.finish();
  if (chain.dropped() > 0)
    tell_note(fmt::format("{} samples were dropped: their time was not after the one before",
                          chain.dropped()));
  return ExitStatus::kDone;
}

}  // namespace

Run add_pipe(Arguments app) {
  auto options = std::make_shared<Options>();
  app.option("--rig", options->rig, "what each channel measures (protobuf text)");
  app.option("--plan", options->plan, "a plan's name or file: limits");
  app.option("--from", options->from, "what comes in: json (default) or line-protocol")
      .one_of({"json", "line-protocol"});
  app.option("--to", options->to, "what goes out: json (default) or line-protocol")
      .one_of({"json", "line-protocol"});
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
      "or, with --from line-protocol, a point of the InfluxDB line protocol:\n"
      "  pump motor_a=2.31,line_kpa=12.5 1465839830100400200\n\n"
      "Example:\n  my-logger | airlatch pipe --rig bench.rig | my-store");
  return [options] { return run(*options); };
}

}  // namespace airlatch
