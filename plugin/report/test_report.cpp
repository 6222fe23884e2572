#include "plugin/report/test_report.hpp"

#include <google/protobuf/util/json_util.h>
#include <openssl/evp.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <set>

#include "decoders/stream/rig_scale.hpp"
#include "plugin/recorder/whole_file.hpp"
#include "plugin/session/decode_capture.hpp"
#include "plugin/session/setup_file.hpp"
#include "plugin/session/steps.hpp"
#include "plugin/sources/input_error.hpp"
#include "plugin/verdict/rules.hpp"

namespace airlatch {
namespace {
namespace fs = std::filesystem;

std::string sha256(const std::string& path) {
  const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen(path.c_str(), "rb"),
                                                             std::fclose);
  if (!file) return {};
  const std::unique_ptr<EVP_MD_CTX, void (*)(EVP_MD_CTX*)> context(EVP_MD_CTX_new(),
                                                                   EVP_MD_CTX_free);
  EVP_DigestInit_ex(context.get(), EVP_sha256(), nullptr);
  std::vector<unsigned char> buffer(1 << 16);
  while (const std::size_t n = std::fread(buffer.data(), 1, buffer.size(), file.get()))
    EVP_DigestUpdate(context.get(), buffer.data(), n);
  unsigned int size = 0;
  EVP_DigestFinal_ex(context.get(), buffer.data(), &size);
  std::string hex;
  for (unsigned int k = 0; k < size; ++k) {
    char pair[3];
    std::snprintf(pair, sizeof pair, "%02x", buffer[k]);
    hex += pair;
  }
  return hex;
}

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

void add_runs(v1::Report& report, const std::vector<v1::Event>& events) {
  v1::Run run;
  for (const v1::Event& event : events) {
    if (event.kind() == v1::MOTOR_START) {
      if (run.has_start()) *report.add_runs() = run;
      run.Clear();
      *run.mutable_start() = event;
    } else if (event.kind() == v1::STALL_CUTOFF || event.kind() == v1::MOTOR_STOP) {
      *run.mutable_stop() = event;
      *report.add_runs() = run;
      run.Clear();
    } else if (event.kind() == v1::LEAK_DECAY) {
      *report.add_decays() = event;
    }
  }
  if (run.has_start()) *report.add_runs() = run;
}

}  // namespace

TestReport make_report(const v1::Job& job, const std::string& folder, const v1::Rig& rig,
                       const v1::Plan& plan, const OpenOptions& options) {
  TestReport out;
  v1::Report& report = out.report;
  report.set_software_version(AIRLATCH_VERSION);
  *report.mutable_rig() = rig;
  *report.mutable_plan() = plan;
  *report.mutable_job() = job;
  std::vector<std::vector<v1::Event>> before, now;
  std::vector<v1::Event> step_events;
  const bool repaired =
      std::any_of(job.capture().begin(), job.capture().end(),
                  [](const v1::Job::Capture& capture) { return capture.phase() == v1::AFTER; });
  const auto found = [&](const std::string& name) {
    return fs::path(name).is_absolute() || name == "-" ? name : (fs::path(folder) / name).string();
  };
  for (const v1::Job::Capture& entry : job.capture()) {
    const std::string file = found(entry.file());
    const v1::Rig own = entry.rig().empty() ? rig : read_rig(found(entry.rig()));
    CapturePlot plot;
    Drawer drawer(plot);
    std::vector<v1::Event> events;
    const CaptureFacts facts = decode_capture(
        file, options, own, plan, [&](const v1::Event& event) { events.push_back(event); }, {},
        {.matched = [&](const RigMatch& match) { drawer.begin(match); },
         .block = [&](const SampleBlock& block) { drawer.take(block); }});
    std::stable_sort(events.begin(), events.end(), [](const v1::Event& a, const v1::Event& b) {
      return a.time_s() < b.time_s();
    });
    v1::Report::Capture& capture = *report.add_captures();
    capture.set_file(entry.file());
    capture.set_sha256(file == "-" ? "" : sha256(file));
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
    for (const v1::Event& event : events) *report.add_events() = event;
    add_runs(report, events);
    if (!repaired || entry.phase() == v1::AFTER) {
      now.push_back(events);
      step_events.insert(step_events.end(), events.begin(), events.end());
    } else {
      before.push_back(events);
    }
    plot.events = std::move(events);
    plot.duration_s = facts.duration_s;
    out.plots.push_back(std::move(plot));
  }
  for (auto& step : judge_steps(plan, step_events)) *report.add_steps() = std::move(step);
  std::set<std::string> cautions;
  for (v1::Finding& finding : judge(gather_evidence(now))) {
    for (const std::string& caution : finding.cautions())
      if (cautions.insert(caution).second) report.add_cautions(caution);
    *report.add_findings() = std::move(finding);
  }
  report.add_cautions("The maker's documents, local rules and qualified practice come first.");
  if (!before.empty()) out.before_findings = judge(gather_evidence(before));
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
