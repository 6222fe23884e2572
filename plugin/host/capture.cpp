// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch capture: records live, decodes while recording, leads through a plan.
#include <fmt/format.h>
#include <unistd.h>

#include <csignal>
#include <memory>
#include <optional>

#include "plugin/host/commands.hpp"
#include "plugin/host/output.hpp"
#include "plugin/host/screen.hpp"
#include "plugin/host/speech.hpp"
#include "plugin/host/tell.hpp"
#include "plugin/live/live_capture.hpp"
#include "plugin/message/event_json.hpp"
#include "plugin/message/plans.hpp"
#include "plugin/message/setup_file.hpp"
#include "plugin/message/text_format.hpp"
#include "plugin/report/job_report.hpp"
#include "plugin/report/words.hpp"
#include "plugin/session/summary.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

struct Options {
  std::vector<std::string> instruments;
  std::string rig, plan, events, report, record;
  double seconds = 0, fuse_a = 0;
  bool no_record = false, force = false, quiet = false, speak = false;
  [[nodiscard]] bool led() const { return !plan.empty(); }
  [[nodiscard]] bool events_alone() const { return events == "-"; }  // on standard output
};

volatile std::sig_atomic_t stop_asked = 0;

Screen::Form form_of(const Options& options) {
  if (options.quiet) return Screen::Form::kNothing;
  if (options.events_alone()) return Screen::Form::kRemarks;
  return ::isatty(STDOUT_FILENO) != 0 ? Screen::Form::kDrawn : Screen::Form::kLines;
}

LiveSettings settings_of(const Options& options, const Rig& rig, const Plan& plan) {
  LiveSettings settings;
  for (const std::string& text : options.instruments)
    settings.instruments.push_back(parse_instrument(text));
  settings.rig = rig;
  settings.plan = plan;
  if (!options.no_record) settings.record = options.record;
  settings.setup = {{"rig", print_text(rig)}, {"plan", print_text(plan)}};
  settings.seconds = options.seconds;
  settings.fuse_a = options.fuse_a;
  return settings;
}

// The live capture, and where what it reports goes.
class Capture {
 public:
  explicit Capture(const Options& options)
      : options_(options),
        rig_(options.rig.empty() ? Rig() : read_rig(options.rig)),
        plan_(options.plan.empty() ? Plan() : find_plan(options.plan)),
        screen_(form_of(options)),
        lines_(options.events.empty() ? nullptr : std::make_unique<Output>(options.events)),
        live_(settings_of(options, rig_, plan_),
              {[this](const Event& event) { on_event(event); },
               [this](const std::string& text) { screen_.remark(text); }, [this] { on_round(); }}) {
  }

  ExitStatus run() {
    live_.run([] { return stop_asked != 0; });
    screen_.clear();
    const bool whole = live_.close_recording();
    if (!options_.report.empty() && whole) {
      Job job;
      job.capture.emplace_back().file = live_.path();
      write_report(make_report(job, "", rig_, plan_, {}), options_.report, options_.force);
    }
    if (!options_.quiet && !options_.events_alone()) summarise(whole ? live_.path() : "live");
    if (lines_) lines_->close();
    if (live_.recording_failure().empty()) return ExitStatus::kDone;
    tell_error(live_.recording_failure());
    return ExitStatus::kReadWriteFailed;
  }

 private:
  void on_event(const Event& event) {
    if (lines_) lines_->write(event_json(event) + "\n");
    screen_.event(event);
  }

  void on_round() {
    for (const std::string& text : live_.guide().news()) {
      screen_.remark(text);
      aloud(text);
    }
    if (options_.led()) lead();
    if (screen_.due(host_now_s())) screen_.draw(facts());
  }

  // Only a new step is printed or spoken; its countdown is shown on the screen alone.
  void lead() {
    const int step = live_.guide().step();
    if (step == led_step_ || std::ssize(plan_.step) == 0) return;
    led_step_ = step;
    const std::string prompt = live_.guide().prompt();
    if (!screen_.drawn()) screen_.remark(prompt.empty() ? "the plan is done; Ctrl-C ends" : prompt);
    if (!prompt.empty()) aloud(prompt);
  }

  void aloud(const std::string& text) const {
    screen_.bell();
    if (options_.speak) speak(text);
  }

  [[nodiscard]] ScreenFacts facts() const {
    return {.ending = stop_asked != 0,
            .newest_s = live_.newest_s(),
            .queue_share = live_.fullest_queue(),
            .recording = live_.recording()                   ? live_.path()
                         : live_.recording_failure().empty() ? "not recording"
                                                             : "RECORDING FAILED",
            .figures = live_.figures(),
            .led = options_.led(),
            .prompt = live_.guide().prompt()};
  }

  void summarise(const std::string& file) const {
    CaptureFacts facts;
    facts.file = file;
    facts.duration_s = live_.newest_s();
    write_summary(facts, live_.events(), tell);
    std::string text;
    for (int k = 0; options_.led() && k < std::ssize(plan_.step); ++k) {
      const auto outcome = live_.guide().results()[static_cast<std::size_t>(k)].outcome;
      text += fmt::format("{}{:16} {}\n", k ? "  " : "\nSteps\n  ", shown_name(plan_.step[k].id),
                          outcome_words(outcome));
    }
    tell(text);
  }

  const Options& options_;
  Rig rig_;
  Plan plan_;
  Screen screen_;
  std::unique_ptr<Output> lines_;
  LiveCapture live_;
  int led_step_ = -1;
};

ExitStatus run(const Options& options) {
  if (!options.report.empty()) check_report_folder(options.report, Job{}, options.force);
  stop_asked = 0;
  for (const int signal : {SIGINT, SIGTERM, SIGHUP})
    std::signal(signal, [](int) { stop_asked = 1; });
  return Capture(options).run();
}

}  // namespace

Run add_capture(Arguments app) {
  auto options = std::make_shared<Options>();
  app.option("INSTRUMENT", options->instruments,
             "driver[:key=value...], for example demo:samplerate=10000 or "
             "scpi-dmm:conn=tcp-raw/192.0.2.7/5025:as=line_kpa; several at once")
      .required();
  app.option("--rig", options->rig, "what each channel measures (protobuf text)").reads();
  app.option("--plan", options->plan, "lead through this plan (a name or a file)").reads();
  app.option("--record", options->record, "recording to write (default: capture-DATE-TIME.mcap)")
      .writes();
  app.flag("--no-record", options->no_record, "do not record");
  app.option("--events", options->events,
             "write events as JSON lines to FILE; - for standard output and nothing else there")
      .writes();
  app.option("--report", options->report,
             "write report.html, .pdf, .json and .pb to this folder at the end")
      .writes_report();
  app.flag("--force", options->force, "overwrite another job's report in that folder");
  app.option("--seconds", options->seconds, {0.0, 1e7}, "end by itself after so long");
  app.option("--fuse", options->fuse_a, {0.0, 1000.0}, "the lead's fuse, A: warns before it opens");
  app.flag("--speak", options->speak,
           "say prompts aloud (spd-say or espeak-ng, where there is one)");
  app.flag("--quiet", options->quiet, "no screen and no summary");
  app.footer(
      "Use a fused lead; never let the clips touch; keep fingers, hair and sleeves from moving "
      "linkages;\nwear eye protection; take the feed off when asked to. The maker's documents come "
      "first.\n\nExample:\n  airlatch capture demo:samplerate=1000 --rig bench.rig --plan "
      "bench-pump --fuse 15");
  return [options] { return run(*options); };
}

}  // namespace airlatch
