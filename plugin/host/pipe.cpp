// airlatch pipe: samples on stdin, events on stdout, for logging pipelines.
#include <fmt/format.h>

#include <chrono>
#include <iostream>
#include <memory>

#include "plugin/host/commands.hpp"
#include "plugin/host/output.hpp"
#include "plugin/session/event_json.hpp"
#include "plugin/session/live_chain.hpp"
#include "plugin/session/plans.hpp"
#include "plugin/session/setup_file.hpp"
#include "plugin/sources/sample_lines.hpp"

namespace airlatch {
namespace {

struct Options {
  std::string rig, plan, from = "json", to = "json";
  std::vector<std::string> channels;
  double patience_s = 2;
  bool strict = false, quiet = false;
};

// InfluxDB line protocol: commas, equal signs and blanks of names are escaped, text is quoted.
std::string point(const v1::Event& event, std::int64_t first_ns) {
  std::string out = fmt::format(
      "airlatch,contact={},direction={},kind={} time_u_s={}", v1::Contact_Name(event.contact()),
      v1::Direction_Name(event.direction()), v1::Kind_Name(event.kind()), event.time_u_s());
  for (const v1::Measure& m : event.measures())
    out += fmt::format(",{}={},{}_u={}", m.name(), m.value(), m.name(), m.u());
  if (!event.note().empty()) {
    out += ",note=\"";
    for (const char c : event.note()) {
      if (c == '"' || c == '\\') out += '\\';
      out += c;
    }
    out += '"';
  }
  const double whole = std::floor(event.time_s());
  const std::int64_t time_ns = first_ns + static_cast<std::int64_t>(whole) * 1'000'000'000 +
                               std::llround((event.time_s() - whole) * 1e9);
  return out + fmt::format(" {}\n", time_ns);
}

double now_s() {
  return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

// A line without its end; false at the end of the input. Lines beyond kLongest are cut and bad.
constexpr std::size_t kLongest = std::size_t{1} << 24;
bool read_line(std::istream& in, std::string& line, bool& too_long) {
  line.clear();
  too_long = false;
  std::streambuf& buffer = *in.rdbuf();
  for (int c = buffer.sbumpc(); c != std::char_traits<char>::eof(); c = buffer.sbumpc()) {
    if (c == '\n') return true;
    if (line.size() < kLongest)
      line += static_cast<char>(c);
    else
      too_long = true;
  }
  return !line.empty();
}

ExitStatus run(const Options& options) {
  const v1::Rig rig = options.rig.empty() ? v1::Rig() : read_rig(options.rig);
  const v1::Plan plan = options.plan.empty() ? v1::Plan() : find_plan(options.plan);
  Output out("-");
  LiveChain* live = nullptr;
  LiveChain chain(
      rig, plan, options.channels, options.patience_s,
      [&](const v1::Event& event) {
        out.write(options.to == "json" ? event_json(event) + "\n" : point(event, live->first_ns()));
      },
      [&](const std::string& remark) {
        if (!options.quiet) std::fputs(("airlatch: " + remark + "\n").c_str(), stderr);
      });
  live = &chain;
  std::ios::sync_with_stdio(false);
  std::string line;
  bool too_long = false;
  for (std::int64_t number = 1; read_line(std::cin, line, too_long); ++number) {
    try {
      if (too_long) throw LineError("the line is longer than 16 MiB");
      for (const LineSamples& samples :
           options.from == "json" ? parse_json_line(line) : parse_line_protocol(line))
        chain.push(samples.channel, samples.time_ns, samples.clock, samples.values, now_s());
    } catch (const LineError& error) {
      if (options.strict)
        throw InputError(ExitStatus::kUnusableData, "standard input",
                         fmt::format("line {}", number), error.what(), "correct the sender");
      std::fputs(
          fmt::format("airlatch: standard input, line {}: {}; passed over\n", number, error.what())
              .c_str(),
          stderr);
    }
  }
  chain.finish();
  if (chain.dropped() > 0)
    std::fputs(
        fmt::format("airlatch: {} samples were dropped: their time was not after the one before\n",
                    chain.dropped())
            .c_str(),
        stderr);
  return ExitStatus::kDone;
}

}  // namespace

Run add_pipe(CLI::App& app) {
  auto options = std::make_shared<Options>();
  app.add_option("--rig", options->rig, "what each channel measures (protobuf text)");
  app.add_option("--plan", options->plan, "a plan's name or file: limits");
  app.add_option("--from", options->from, "what comes in: json (default) or line-protocol")
      ->check(CLI::IsMember({"json", "line-protocol"}));
  app.add_option("--to", options->to, "what goes out: json (default) or line-protocol")
      ->check(CLI::IsMember({"json", "line-protocol"}));
  app.add_option("--channels", options->channels,
                 "the channels that will come (default: those of the first 2 s of samples)")
      ->delimiter(',');
  app.add_option("--patience", options->patience_s,
                 "seconds a silent channel may hold the others up (default 2)")
      ->check(CLI::Range(0.0, 3600.0));
  app.add_flag("--strict", options->strict,
               "stop at a bad line (status 65) instead of passing it over");
  app.add_flag("--quiet", options->quiet, "no remarks about channels");
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
