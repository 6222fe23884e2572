// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/job/judge.hpp"

#include <algorithm>
#include <array>
#include <ctime>
#include <filesystem>
#include <future>
#include <thread>
#include <utility>

#include "plugin/job/air_temperature.hpp"
#include "plugin/job/contact_samples.hpp"
#include "plugin/message/setup_file.hpp"
#include "plugin/session/runs.hpp"
#include "plugin/session/steps.hpp"
#include "plugin/verdict/branches.hpp"
#include "plugin/verdict/compare.hpp"
#include "plugin/verdict/contacts.hpp"
#include "plugin/verdict/rules.hpp"
#include "plugin/verdict/trust.hpp"

namespace airlatch {
namespace {
namespace fs = std::filesystem;

bool finds_contacts(const Job::Capture& entry, const Plan& plan) {
  return entry.step == kFindContacts ||
         (entry.step.empty() && !plan.step.empty() && plan.step[0].id == kFindContacts);
}

// What one capture holds, before it is judged beside the others.
struct Decoded {
  CaptureFacts facts;
  EventStore events;
  AirTemperature air;
  ContactSampler contacts;
  Rig rig;
  std::int64_t t0_ns = 0;  // of the first sample, by the file's own clock
};

// What all captures of a job are decoded with.
struct Setting {
  const Job& job;
  const std::string& folder;
  const Rig& rig;
  const Plan& plan;
  const OpenOptions& options;
  const JobListener& listener;

  [[nodiscard]] std::string found(const std::string& name) const { return found_in(folder, name); }
};

Decoded decode(const Setting& setting, std::size_t k) {
  const Job::Capture& entry = setting.job.capture[k];
  const JobListener& listener = setting.listener;
  const std::string file = setting.found(entry.file);
  const Rig own = entry.rig.empty() ? setting.rig : read_rig(setting.found(entry.rig));
  const CaptureListener outside = listener.samples_of ? listener.samples_of(k) : CaptureListener{};
  const bool contacts = finds_contacts(entry, setting.plan);
  Decoded out;
  out.rig = own;
  bool started = false;
  CaptureListener looks;
  looks.matched = [&](const RigMatch& match) {
    out.air.begin(match);
    if (contacts) out.contacts.begin(match);
    if (outside.matched) outside.matched(match);
  };
  looks.block = [&](const SampleBlock& block) {
    if (!std::exchange(started, true)) out.t0_ns = block.time_ns(0);
    out.air.take(block);
    if (contacts) out.contacts.take(block);
    if (outside.block) outside.block(block);
  };
  const auto on_event = [&](const Event& event) {
    if (listener.on_event) listener.on_event(event);
    out.events.add(event);
  };
  const bool shared = entry.rig.empty() && setting.job.capture.size() > 1;
  const RigUse use = shared ? RigUse::kMany : RigUse::kThisCapture;
  OpenOptions options = setting.options;
  options.hashed = listener.to_be_written;
  options.text = own.text.value_or(TextLayout{});
  out.facts =
      decode_capture(file, options, own, setting.plan, on_event, listener.on_progress, looks, use);
  return out;
}

// Captures side by side, as many as there are processors; what is reported comes one after the
// other, and the first that cannot be read is the one that the error names.
std::vector<std::future<Decoded>> decode_all(const Setting& setting) {
  std::vector<std::future<Decoded>> out;
  const std::size_t n = setting.job.capture.size();
  const bool side_by_side = n > 1 && !setting.listener.on_event && !setting.listener.on_progress;
  const auto most = static_cast<std::size_t>(std::max(1U, std::thread::hardware_concurrency()));
  for (std::size_t k = 0; k < n; ++k) {
    if (k >= most) out[k - most].wait();
    out.push_back(std::async(side_by_side ? std::launch::async : std::launch::deferred,
                             [&setting, k] { return decode(setting, k); }));
    if (!side_by_side) out.back().wait();
  }
  return out;
}

// ISO 8601; empty where the file counts from a zero of its own, so that no date of ours comes out.
std::string date_and_time(std::int64_t t_ns) {
  constexpr std::int64_t kYear2000_s = 946'684'800, kYear2200_s = 7'258'118'400;
  const std::time_t t_s = t_ns / 1'000'000'000;
  std::tm parts{};
  if (t_s < kYear2000_s || t_s > kYear2200_s || !::gmtime_r(&t_s, &parts)) return {};
  std::array<char, 32> text{};
  return {text.data(), std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%S", &parts)};
}

Report::Capture described(const Job::Capture& entry, const Decoded& decoded) {
  Report::Capture capture;
  capture.file = entry.file;
  capture.sha256 = decoded.facts.sha256;
  capture.duration_s = decoded.facts.duration_s;
  capture.phase = entry.phase;
  capture.step = entry.step;
  capture.closed_branch = entry.closed_branch;
  for (const auto& channel : decoded.facts.channels)
    capture.channels.push_back({channel.name, channel.role, channel.rate_hz, channel.samples});
  capture.remarks = decoded.facts.doubts;
  capture.remarks.insert(capture.remarks.end(), decoded.facts.remarks.begin(),
                         decoded.facts.remarks.end());
  capture.understood = decoded.facts.understood;
  if (!decoded.facts.damage.empty()) capture.remarks.push_back(decoded.facts.damage);
  capture.rig = decoded.rig;
  capture.started = date_and_time(decoded.t0_ns);
  return capture;
}

// A capture in which clips went to contacts that nobody knows yet: no evidence of a fault.
void judge_contacts(Report& report, const ContactSampler& contacts) {
  const std::vector<ContactSample> samples = contacts.samples();
  report.contact_finding = find_contacts(samples, contacts.names());
  if (samples.empty() || report.contact_finding->trials.empty())
    report.captures.back().remarks.emplace_back(
        "finding the contacts needs feed_a_v, feed_b_v and return_v on the three contacts, and "
        "motor_a; line_kpa shows which way");
}

// The job's captures by what they are evidence of.
class States {
 public:
  States(const Job& job, const Plan& plan)
      : plan_(plan),
        repaired_(std::any_of(job.capture.begin(), job.capture.end(),
                              [](const auto& c) { return c.phase == Phase::AFTER; })),
        now_(limits_of(plan)),
        before_(limits_of(plan)) {}

  void take(const Job::Capture& entry, const EventStore& events, std::size_t place,
            const std::optional<double>& source_most_v) {
    const bool past = repaired_ && entry.phase != Phase::AFTER;
    (past ? before_ : now_).take(events, place, source_most_v);
    any_before_ = any_before_ || past;
    events.for_each([&](const Event& event) {
      if (repaired_) (past ? events_before_ : events_now_).push_back(event);
      if (past) return;
      if (!plan_.step.empty()) step_events_.push_back(event);
      if (event.kind == Kind::LEAK_DECAY)
        holds_.push_back({branch_names(entry.closed_branch), event});
    });
  }

  void judge(Report& report) {
    report.steps = judge_steps(plan_, step_events_);
    report.leak_budgets = leak_budgets(holds_, limits_of(plan_));
    add_findings(report, now_.finish());
    name_the_branch(report);
    if (!any_before_) return;
    report.before_findings = airlatch::judge(before_.finish());
    report.changes = compare_events(events_before_, events_now_, limits_of(plan_));
  }

 private:
  // A finding of a leak sends the reader to the branch that the budget names.
  static void name_the_branch(Report& report) {
    const auto named = std::find_if(report.leak_budgets.begin(), report.leak_budgets.end(),
                                    [](const auto& budget) { return !budget.leaking.empty(); });
    if (named == report.leak_budgets.end()) return;
    for (Finding& finding : report.findings) {
      if (!is_leak(finding.code)) continue;
      finding.evidence.push_back("leak budget: " + named->conclusion);
      finding.next_step =
          "Look at the branch " + named->leaking +
          ": hose ends, joints, its actuator's diaphragm. Repair it and hold again.";
    }
  }

  const Plan& plan_;
  bool repaired_, any_before_ = false;
  EvidenceGatherer now_, before_;
  std::vector<Event> events_before_, events_now_, step_events_;
  std::vector<Hold> holds_;
};

}  // namespace

std::string found_in(const std::string& folder, const std::string& name) {
  return name.empty() || name == "-" || fs::path(name).is_absolute()
             ? name
             : (fs::path(folder) / name).string();
}

JudgedJob judge_job(const Job& job, const std::string& folder, const Rig& rig, const Plan& plan,
                    const OpenOptions& options, const JobListener& listener) {
  JudgedJob out;
  Report& report = out.report;
  report.software_version = AIRLATCH_VERSION;
  report.rig = rig;
  report.plan = plan;
  report.job = job;
  States states(job, plan);
  const Setting setting{job, folder, rig, plan, options, listener};
  std::vector<std::future<Decoded>> all = decode_all(setting);
  for (std::size_t k = 0; k < job.capture.size(); ++k) {
    Decoded decoded = all[k].get();
    report.captures.push_back(described(job.capture[k], decoded));
    if (!decoded.facts.damage.empty()) out.damages.push_back(decoded.facts.damage);
    if (listener.to_be_written) add_events(report, decoded.events);
    if (finds_contacts(job.capture[k], plan))
      judge_contacts(report, decoded.contacts);
    else if (any(decoded.facts.distrusted))
      states.take(job.capture[k], trusted(decoded.events, decoded.facts.distrusted), k,
                  decoded.facts.source_most_v);
    else
      states.take(job.capture[k], decoded.events, k, decoded.facts.source_most_v);
    out.facts.push_back(std::move(decoded.facts));
    out.events.push_back(std::move(decoded.events));
    out.air_c.push_back(decoded.air.mean_c());
  }
  states.judge(report);
  return out;
}

}  // namespace airlatch
