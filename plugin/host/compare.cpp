// airlatch compare: two captures or two reports, and what really changed.
#include "plugin/verdict/compare.hpp"

#include <fmt/format.h>
#include <google/protobuf/util/json_util.h>

#include <fstream>
#include <memory>
#include <sstream>

#include "airlatch/v1/report.pb.h"
#include "plugin/host/commands.hpp"
#include "plugin/host/output.hpp"
#include "plugin/session/decode_capture.hpp"
#include "plugin/session/quantity.hpp"
#include "plugin/session/setup_file.hpp"

namespace airlatch {
namespace {

struct Options {
  std::string before, after, rig, rig_after;
  double rate_hz = 0;
  bool all = false;
};

struct State {
  std::vector<v1::Event> events;
  std::string rig, plan;  // serialised, to see that they differ; empty: not known
  std::string damage;
};

// A report (JSON or binary) tells itself by its content, everything else is a capture.
State read_state(const std::string& path, const v1::Rig& rig, double rate_hz) {
  State state;
  std::ifstream file(path, std::ios::binary);
  std::ostringstream content;
  char first = '\0';
  if (file.get(first) && (first == '{' || first == '\n')) {
    file.seekg(0);
    content << file.rdbuf();
    v1::Report report;
    const bool sound =
        first == '{' ? google::protobuf::util::JsonStringToMessage(content.str(), &report).ok()
                     : report.ParseFromString(content.str());
    if (!sound || report.captures_size() == 0)
      throw InputError(ExitStatus::kUnusableData, path, "", "this is no report of airlatch",
                       "name a capture, a report.json or a report.pb");
    state.events = {report.events().begin(), report.events().end()};
    state.rig = report.rig().SerializeAsString();
    state.plan = report.plan().SerializeAsString();
    return state;
  }
  const CaptureFacts facts =
      decode_capture(path, {.rate_hz = rate_hz}, rig, {},
                     [&](const v1::Event& event) { state.events.push_back(event); });
  state.rig = rig.SerializeAsString();
  state.damage = facts.damage;
  return state;
}

const char* words(Change change) {
  switch (change) {
    case Change::kImproved:
      return "improved";
    case Change::kWorse:
      return "worse";
    case Change::kNoRealChange:
      return "no real change";
    default:
      return "not comparable";
  }
}

ExitStatus run(const Options& options) {
  const v1::Rig rig = options.rig.empty() ? v1::Rig() : read_rig(options.rig);
  const v1::Rig rig_after = options.rig_after.empty() ? rig : read_rig(options.rig_after);
  const State before = read_state(options.before, rig, options.rate_hz),
              after = read_state(options.after, rig_after, options.rate_hz);
  std::string out = fmt::format("before: {}\nafter:  {}\n", options.before, options.after);
  if (before.rig != after.rig) out += "The rigs differ: differences may be the instruments'.\n";
  if (before.plan != after.plan) out += "The plans differ.\n";
  std::string event;
  int same = 0;
  for (const Comparison& line : compare_events(before.events, after.events)) {
    if (line.verdict == Change::kNoRealChange && !options.all) {
      ++same;
      continue;
    }
    if (line.event != event) out += "\n" + line.event + "\n";
    event = line.event;
    if (line.measure.empty()) {
      out += fmt::format("  {}: {}\n", words(line.verdict), line.reason);
    } else if (line.verdict == Change::kNotComparable) {
      out += fmt::format("  {:24} not comparable: {}\n", line.measure, line.reason);
    } else {
      out += fmt::format("  {:24} {} -> {}, change {}: {}\n", line.measure,
                         format_quantity(line.before.value(), line.before.u(), ""),
                         format_quantity(line.after.value(), line.after.u(), line.after.unit()),
                         format_quantity(line.change, line.u, ""), words(line.verdict));
    }
  }
  if (same > 0) out += fmt::format("\nNo real change in {} measures (--all shows them).\n", same);
  Output("-").write(out);
  for (const std::string& damage : {before.damage, after.damage})
    if (!damage.empty()) std::fputs(("airlatch: " + damage + "\n").c_str(), stderr);
  return before.damage.empty() && after.damage.empty() ? ExitStatus::kDone
                                                       : ExitStatus::kUnusableData;
}

}  // namespace

Run add_compare(CLI::App& app) {
  auto options = std::make_shared<Options>();
  app.add_option("BEFORE", options->before, "a capture, a report.json or a report.pb")->required();
  app.add_option("AFTER", options->after, "the same, after the repair")->required();
  app.add_option("--rig", options->rig, "what each channel measures (protobuf text)");
  app.add_option("--rig-after", options->rig_after, "where the second capture has its own rig");
  app.add_option("--rate", options->rate_hz, "samples a second, for text without a time column")
      ->check(CLI::Range(1e-3, 1e8));
  app.add_flag("--all", options->all, "show what did not change, too");
  app.footer(
      "A change counts as real beyond twice its combined standard uncertainty.\n\nExample:\n"
      "  airlatch compare captures/line-leak.sr captures/sound.sr --rig captures/line-leak.rig "
      "--rig-after captures/sound.rig");
  return [options] { return run(*options); };
}

}  // namespace airlatch
