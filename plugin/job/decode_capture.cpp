// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/job/decode_capture.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <system_error>

#include "plugin/session/chain_driver.hpp"
#include "plugin/sources/read_ahead.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

void refuse_impossible(const RigMatch& match, const ChainDriver& driver, const std::string& file,
                       bool ended) {
  if (const auto found = impossible(match, driver, ended))
    throw InputError(ExitStatus::kUnusableData, file, fmt::format("channel '{}'", found->channel),
                     found->what, found->mend);
}

}  // namespace

CaptureFacts decode_capture(const std::string& file, const OpenOptions& options, const Rig& rig,
                            const Plan& plan, const std::function<void(const Event&)>& on_event,
                            const std::function<void(double)>& on_progress,
                            const CaptureListener& listener, RigUse use) {
  auto source = open_source(file, options);
  const RigMatch match = match_rig(source->channels(), rig, file, use);
  CaptureFacts facts;
  facts.file = file;
  facts.remarks = match.remarks;
  if (listener.matched) listener.matched(match);
  Plausibility plausibility;
  ChainDriver driver(match, source->channels().size(), {.rig = rig, .plan = plan},
                     [&](const Event& event) {
                       plausibility.take(event);
                       on_event(event);
                     });
  const std::vector<SourceChannel> channels = source->channels();
  // A pipe may keep its reader waiting for ever; a file does not.
  std::error_code no_matter;
  if (std::filesystem::is_regular_file(file, no_matter))
    source = std::make_unique<ReadAhead>(std::move(source));
  SampleBlock block;
  std::int64_t blocks = 0;
  while (source->next(block)) {
    if (block.values.empty()) {
      driver.end_channel(block.channel);
      continue;
    }
    if (const auto place = driver.place(block.channel); place && listener.block) {
      SampleBlock placed = block;
      placed.channel = *place;
      listener.block(placed);
    }
    driver.push(block);
    if (const auto place = driver.place(block.channel);
        place && driver.readings(*place).impossible().in_a_row)
      refuse_impossible(match, driver, file, false);
    if (on_progress && ++blocks % 256 == 0) on_progress(source->progress());
  }
  driver.finish();
  refuse_impossible(match, driver, file, true);
  plausibility.finish(match, driver);
  facts.doubts = plausibility.doubts();
  facts.distrusted = plausibility.distrusted();
  facts.remarks.insert(facts.remarks.end(), plausibility.remarks().begin(),
                       plausibility.remarks().end());
  for (std::size_t c = 0; c < match.channels.size(); ++c) {
    const std::size_t at = match.source_channel[c];
    const double period_s = channels[at].clock.period_s();
    facts.channels.push_back({channels[at].name, match.channels[c].rig.role,
                              period_s > 0 ? 1 / period_s : 0, driver.channel(at).samples});
    const Readings& readings = driver.readings(c);
    if (match.channels[c].rig.role == Role::SUPPLY_VOLTAGE && readings.count() > 0)
      facts.source_most_v = readings.most();
    if (driver.channel(at).samples == 0)
      facts.remarks.push_back(fmt::format("channel '{}' ({}) holds no samples: it was not measured",
                                          channels[at].name, name_of(match.channels[c].rig.role)));
  }
  facts.duration_s = driver.duration_s();
  if (driver.dropped() > 0)
    facts.remarks.push_back(fmt::format(
        "{} samples were dropped: their time was not after the one before, or beyond 126 years",
        driver.dropped()));
  for (const std::string& remark : source->remarks()) facts.remarks.push_back(remark);
  facts.understood = source->understood();
  facts.understood.insert(facts.understood.end(), match.understood.begin(), match.understood.end());
  facts.damage = source->damage();
  facts.sha256 = source->sha256();
  if (!facts.damage.empty()) {
    Event end;
    end.kind = Kind::GAP;
    end.time_s = facts.duration_s;
    add_missing(end, "duration", MissingCode::CUT_SHORT, "the data end here; " + facts.damage);
    on_event(end);
  }
  return facts;
}

}  // namespace airlatch
