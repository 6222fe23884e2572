// SPDX-License-Identifier: GPL-3.0-or-later
// A whole replay, from any capture's bytes to the written report: recognised by content, matched
// with a rig, decoded, judged, put in words; and decoded again in small blocks, to the same events.
//
// An input that begins with the line `# rig` is a rig up to the line `# capture`.
#include <algorithm>
#include <limits>
#include <span>

#include "plugin/message/setup_file.hpp"
#include "plugin/message/wire.hpp"
#include "plugin/report/job_report.hpp"
#include "plugin/report/report_file.hpp"
#include "plugin/session/chain_driver.hpp"
#include "plugin/session/rig_match.hpp"
#include "plugin/session/summary.hpp"
#include "tests/fuzz/mutator.hpp"
#include "tests/fuzz/replay_input.hpp"
#include "tests/fuzz/target.hpp"

namespace airlatch::fuzz {
namespace {

constexpr std::size_t kWhole = std::numeric_limits<std::size_t>::max();

SampleBlock part(const SampleBlock& whole, std::size_t from, std::size_t most) {
  SampleBlock out = whole;
  const std::size_t n = std::min(most, whole.values.size() - from);
  out.values = whole.values.subspan(from, n);
  if (whole.times_ns.empty())
    out.first += static_cast<std::int64_t>(from);
  else
    out.times_ns = whole.times_ns.subspan(from, n);
  return out;
}

// The capture's events as bytes, decoded in blocks of at most `most` values.
std::string events_of(const std::string& path, const Rig& rig, std::size_t most) {
  const auto source = open_source(path, kOpen);
  const RigMatch match = match_rig(source->channels(), rig, path);
  std::string out;
  ChainDriver driver(match, source->channels().size(), {.rig = rig, .plan = {}},
                     [&](const Event& event) { out += to_wire(event) + '\n'; });
  SampleBlock block;
  while (source->next(block))
    for (std::size_t from = 0; from < block.values.size();
         from += std::min(most, block.values.size() - from))
      driver.push(part(block, from, most));
  driver.finish();
  return out + std::to_string(driver.dropped());
}

void report(const std::string& path, const Rig& rig) {
  Job job;
  job.capture.emplace_back().file = path;
  const JobReport judged = make_report(job, "", rig, {}, kOpen);
  std::string text;
  write_summary(judged.facts.at(0), judged.events.at(0),
                [&](const std::string& piece) { text += piece; });
  promise(!judged.report.findings.empty(), "a verdict");
  Report again;
  promise(from_wire(to_wire(judged.report), again), "a report that can be read again");
  text += report_json(judged.report) + report_html(judged);
}

}  // namespace
}  // namespace airlatch::fuzz

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace airlatch::fuzz;
  const ReplayInput input(text_of(data, size));
  const MemoryFile file(input.capture);
  may_refuse([&] {
    const airlatch::Rig rig =
        airlatch::parse_rig(std::string(input.rig), airlatch::SetupFormat::kText, "rig");
    report(file.path(), rig);
    promise(events_of(file.path(), rig, kWhole) == events_of(file.path(), rig, 1 + size % 97),
            "events do not depend on how samples are cut into blocks");
  });
  return 0;
}

AIRLATCH_MUTATED_BY(mutate_replay)
