#include "plugin/report/test_report.hpp"

#include <fmt/format.h>
#include <google/protobuf/util/json_util.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>
#include <future>
#include <iterator>
#include <optional>
#include <thread>

#include "decoders/stream/rig_scale.hpp"
#include "plugin/session/decode_capture.hpp"
#include "plugin/session/runs.hpp"
#include "plugin/session/setup_file.hpp"
#include "plugin/session/steps.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/sha256.hpp"
#include "plugin/system/whole_file.hpp"
#include "plugin/verdict/branches.hpp"
#include "plugin/verdict/compare.hpp"
#include "plugin/verdict/contacts.hpp"
#include "plugin/verdict/rules.hpp"

namespace airlatch {
namespace {
namespace fs = std::filesystem;

// Scaled envelopes of a capture's channels, beside the decoding.
class Drawer {
 public:
  Drawer(CapturePlot& plot) : plot_(plot) {}
  void begin(const RigMatch& match) {
    for (const ChainChannel& channel : match.channels) {
      scales_.emplace_back(channel.rig);
      plot_.channels.push_back({channel.rig.source(), channel.rig.role(), {}});
    }
  }
  void take(const SampleBlock& raw) {
    if (!started_) t0_ns_ = raw.time_ns(0);
    started_ = true;
    plot_.channels[raw.channel].envelope.add(scales_[raw.channel].apply(raw, t0_ns_), t0_ns_);
  }

 private:
  CapturePlot& plot_;
  std::vector<RigScale> scales_;
  std::int64_t t0_ns_ = 0;
  bool started_ = false;
};

// Beyond this, two states are not compared without a word (common practice, no source).
constexpr double kWarmth_k = 5;

std::optional<double> mean_temperature(const TestReport& test) {
  double sum = 0;
  std::size_t n = 0;
  for (const CapturePlot& plot : test.plots)
    for (const PlottedChannel& channel : plot.channels) {
      if (channel.role != v1::AIR_TEMPERATURE) continue;
      for (const Envelope::Bin& bin : channel.envelope.bins()) {
        sum += 0.5 * (bin.least + bin.most);
        ++n;
      }
    }
  if (n == 0) return std::nullopt;
  return sum / static_cast<double>(n);
}

constexpr const char* kFindContacts = "find_contacts";  // a step, in job and plan

bool finds_contacts(const v1::Job::Capture& entry, const v1::Plan& plan) {
  return entry.step() == kFindContacts ||
         (entry.step().empty() && plan.step_size() > 0 && plan.step(0).id() == kFindContacts);
}

// What one capture holds, before it is judged beside the others.
struct Decoded {
  CapturePlot plot;
  CaptureFacts facts;
  EventStore events;
  std::string sha256;
};

Decoded decode(const v1::Job::Capture& entry, const std::string& folder, const v1::Rig& rig,
               const v1::Plan& plan, const OpenOptions& options, const ReportListener& listener) {
  const auto found = [&](const std::string& name) {
    return fs::path(name).is_absolute() || name == "-" ? name : (fs::path(folder) / name).string();
  };
  const std::string file = found(entry.file());
  const v1::Rig own = entry.rig().empty() ? rig : read_rig(found(entry.rig()));
  const bool drawn = listener.to_be_written || finds_contacts(entry, plan);
  Decoded out;
  Drawer drawer(out.plot);
  out.facts = decode_capture(file, options, own, plan,
                             [&](const v1::Event& event) {
                               if (listener.on_event) listener.on_event(event);
                               out.events.add(event);
                             },
                             listener.on_progress,
                             {.matched = [&](const RigMatch& match) { drawer.begin(match); },
                              .block =
                                  [&](const SampleBlock& block) {
                                    if (drawn) drawer.take(block);
                                  }});
  if (listener.to_be_written) out.plot.events = out.events.all();
  out.plot.duration_s = out.facts.duration_s;
  if (file != "-" && listener.to_be_written) out.sha256 = sha256_of_file(file);
  return out;
}

// Captures side by side, as many as there are processors; what is told comes one after the
// other, and the first that cannot be read is the one that is complained about.
std::vector<std::future<Decoded>> decoded(const v1::Job& job, const std::string& folder,
                                          const v1::Rig& rig, const v1::Plan& plan,
                                          const OpenOptions& options,
                                          const ReportListener& listener) {
  std::vector<std::future<Decoded>> out;
  const bool side_by_side = job.capture_size() > 1 && !listener.on_event && !listener.on_progress;
  const auto most = static_cast<std::size_t>(std::max(1U, std::thread::hardware_concurrency()));
  for (const v1::Job::Capture& entry : job.capture()) {
    if (out.size() >= most) out[out.size() - most].wait();
    out.push_back(std::async(side_by_side ? std::launch::async : std::launch::deferred,
                             [&] { return decode(entry, folder, rig, plan, options, listener); }));
    if (!side_by_side) out.back().wait();
  }
  return out;
}

// The three contacts' voltages, the current and the pressure on one even grid, from the pictures'
// envelopes: fine enough for clips that a hand moves. Nothing where a channel is missing.
std::vector<ContactSample> contact_samples(const CapturePlot& plot,
                                           std::array<std::string, 3>& names) {
  const std::array roles = {v1::FEED_A_VOLTAGE, v1::FEED_B_VOLTAGE, v1::RETURN_VOLTAGE,
                            v1::MOTOR_CURRENT, v1::LINE_PRESSURE};
  std::array<const Envelope*, roles.size()> envelopes = {};
  for (const PlottedChannel& channel : plot.channels)
    for (std::size_t r = 0; r < roles.size(); ++r)
      if (channel.role == roles[r]) {
        envelopes[r] = &channel.envelope;
        if (r < 3) names[r] = channel.name;
      }
  for (std::size_t r = 0; r < 4; ++r)  // without the pressure, directions stay open
    if (!envelopes[r]) return {};
  std::vector<ContactSample> out;
  const double step_s = std::max(0.05, plot.duration_s / Envelope::kMost);
  std::array<std::size_t, roles.size()> at = {};
  const auto steps = static_cast<std::int64_t>(std::ceil(plot.duration_s / step_s));
  for (std::int64_t k = 0; k < steps; ++k) {
    const double t = static_cast<double>(k) * step_s;
    std::array<double, roles.size()> value = {};
    for (std::size_t r = 0; r < roles.size(); ++r) {
      if (!envelopes[r] || envelopes[r]->bins().empty()) continue;
      const auto& bins = envelopes[r]->bins();
      while (at[r] + 1 < bins.size() && bins[at[r] + 1].time_s <= t) ++at[r];
      value[r] = 0.5 * (bins[at[r]].least + bins[at[r]].most);
    }
    out.push_back({t, {value[0], value[1], value[2]}, value[3], value[4]});
  }
  return out;
}

}  // namespace

TestReport make_report(const v1::Job& job, const std::string& folder, const v1::Rig& rig,
                       const v1::Plan& plan, const OpenOptions& options,
                       const ReportListener& listener) {
  TestReport out;
  v1::Report& report = out.report;
  report.set_software_version(AIRLATCH_VERSION);
  *report.mutable_rig() = rig;
  *report.mutable_plan() = plan;
  *report.mutable_job() = job;
  EvidenceGatherer before, now;
  std::vector<v1::Event> events_before, events_now;  // for what has changed
  std::vector<v1::Event> step_events;
  std::vector<Hold> holds;
  bool any_before = false;
  const bool repaired =
      std::any_of(job.capture().begin(), job.capture().end(),
                  [](const v1::Job::Capture& capture) { return capture.phase() == v1::AFTER; });
  const bool branched =
      std::any_of(job.capture().begin(), job.capture().end(),
                  [](const v1::Job::Capture& capture) { return !capture.closed_branch().empty(); });
  std::vector<std::future<Decoded>> all = decoded(job, folder, rig, plan, options, listener);
  for (int k = 0; k < job.capture_size(); ++k) {
    const v1::Job::Capture& entry = job.capture(k);
    auto [plot, facts, events, sha256] = all[static_cast<std::size_t>(k)].get();
    v1::Report::Capture& capture = *report.add_captures();
    capture.set_file(entry.file());
    capture.set_sha256(sha256);
    capture.set_duration_s(facts.duration_s);
    capture.set_phase(entry.phase());
    capture.set_step(entry.step());
    capture.set_closed_branch(entry.closed_branch());
    for (const auto& channel : facts.channels) {
      auto& c = *capture.add_channels();
      c.set_name(channel.name);
      c.set_role(channel.role);
      c.set_rate_hz(channel.rate_hz);
      c.set_samples(channel.samples);
    }
    for (const std::string& remark : facts.remarks) capture.add_remarks(remark);
    if (!facts.damage.empty()) {
      capture.add_remarks(facts.damage);
      out.damages.push_back(facts.damage);
    }
    if (listener.to_be_written) add_events(report, events);
    if (finds_contacts(
            entry, plan)) {  // its clips went to contacts nobody knows yet: no evidence of a fault
      std::array<std::string, 3> names = {"contact 1", "contact 2", "contact 3"};
      *report.mutable_contact_finding() = find_contacts(contact_samples(plot, names), names);
      if (plot.channels.empty() || report.contact_finding().trials().empty())
        capture.add_remarks(
            "finding the contacts needs feed_a_v, feed_b_v and return_v on the three contacts, and "
            "motor_a; line_kpa tells which way");
    } else if (!repaired || entry.phase() == v1::AFTER) {
      now.take(events);
      const bool planned = plan.step_size() > 0;
      if (repaired || planned || branched)
        events.for_each([&](const v1::Event& event) {
          if (repaired) events_now.push_back(event);
          if (planned) step_events.push_back(event);
          if (branched && event.kind() == v1::LEAK_DECAY)
            holds.push_back({branch_names(entry.closed_branch()), event});
        });
    } else {
      before.take(events);
      events.for_each([&](const v1::Event& event) { events_before.push_back(event); });
      any_before = true;
    }
    out.plots.push_back(std::move(plot));
    out.facts.push_back(std::move(facts));
    out.events.push_back(std::move(events));
  }
  for (auto& step : judge_steps(plan, step_events)) *report.add_steps() = std::move(step);
  for (auto& budget : leak_budgets(holds)) *report.add_leak_budgets() = std::move(budget);
  add_findings(report, now.finish());
  const auto named = std::find_if(report.leak_budgets().begin(), report.leak_budgets().end(),
                                  [](const auto& budget) { return !budget.leaking().empty(); });
  for (v1::Finding& finding : *report.mutable_findings()) {
    if (named == report.leak_budgets().end() || finding.code().find("LEAK") == std::string::npos)
      continue;
    finding.add_evidence("leak budget: " + named->conclusion());
    finding.set_next_step("Look at the branch " + named->leaking() +
                          ": hose ends, joints, its actuator's diaphragm. Mend it and hold again.");
  }
  if (any_before) {
    for (v1::Finding& finding : judge(before.finish()))
      *report.add_before_findings() = std::move(finding);
    for (v1::Report::Change& change : compare_events(events_before, events_now))
      *report.add_changes() = std::move(change);
  }
  return out;
}

TestReport compare_reports(TestReport before, TestReport after) {
  TestReport out = std::move(after);
  v1::Report& report = out.report;
  const v1::Report& was = before.report;
  const auto same = [](const auto& a, const auto& b) {
    return a.SerializeAsString() == b.SerializeAsString();
  };
  if (!same(was.rig(), report.rig()))
    report.add_remarks("The rigs differ: differences may be the instruments'.");
  if (!same(was.plan(), report.plan())) report.add_remarks("The plans differ.");
  if (const auto a = mean_temperature(before), b = mean_temperature(out);
      a && b && std::abs(*a - *b) > kWarmth_k)
    report.add_remarks(
        fmt::format("It was {:.1f} °C before and {:.1f} °C after: leaks and "
                    "pressures may differ by that alone.",
                    *a, *b));
  *report.mutable_before_findings() = was.findings();
  report.clear_changes();
  for (v1::Report::Change& change :
       compare_events({was.events().begin(), was.events().end()},
                      {report.events().begin(), report.events().end()}))
    *report.add_changes() = std::move(change);
  // Both states' captures, the earlier first.
  auto captures = was.captures();
  for (auto& capture : captures) capture.set_phase(v1::BEFORE);
  for (auto capture : report.captures()) {
    capture.set_phase(v1::AFTER);
    *captures.Add() = std::move(capture);
  }
  report.mutable_captures()->Swap(&captures);
  out.plots.insert(out.plots.begin(), std::make_move_iterator(before.plots.begin()),
                   std::make_move_iterator(before.plots.end()));
  out.facts.insert(out.facts.begin(), before.facts.begin(), before.facts.end());
  out.events.insert(out.events.begin(), std::make_move_iterator(before.events.begin()),
                    std::make_move_iterator(before.events.end()));
  out.damages.insert(out.damages.begin(), before.damages.begin(), before.damages.end());
  if (out.plots.size() != static_cast<std::size_t>(report.captures_size())) {
    out.plots.clear();  // a report that was read has no samples to draw
    out.facts.clear();
    out.events.clear();
  }
  return out;
}

std::pair<const CapturePlot*, const CapturePlot*> first_of_each(const TestReport& test) {
  std::pair<const CapturePlot*, const CapturePlot*> out = {nullptr, nullptr};
  for (std::size_t k = 0; k < test.plots.size(); ++k) {
    const v1::Phase phase = test.report.captures(static_cast<int>(k)).phase();
    if (phase == v1::BEFORE && !out.first) out.first = &test.plots[k];
    if (phase == v1::AFTER && !out.second) out.second = &test.plots[k];
  }
  return out;
}

void write_report(const TestReport& report, const std::string& folder) {
  std::error_code error;
  fs::create_directories(folder, error);
  if (!fs::is_directory(folder))
    throw InputError(ExitStatus::kCannotCreate, folder, "", "cannot be made a folder",
                     "name a folder you may write to");
  google::protobuf::util::JsonPrintOptions print;
  print.preserve_proto_field_names = true;
  print.always_print_primitive_fields = true;
  print.add_whitespace = true;
  std::string json;
  (void)google::protobuf::util::MessageToJsonString(report.report, &json, print);
  const std::pair<const char*, std::string> files[] = {
      {"report.pb", report.report.SerializeAsString()},
      {"report.json", json},
      {"report.html", report_html(report)},
      {"report.pdf", report_pdf(report)}};
  for (const auto& [name, content] : files) {
    WholeFile file((fs::path(folder) / name).string());
    file.write(content);
    file.commit();
  }
}

}  // namespace airlatch
