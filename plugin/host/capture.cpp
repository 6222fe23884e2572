// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch capture: records live, decodes while recording, leads through a plan. The recording
// outlives whatever is shown beside it; what was lost there is said once, and the status tells it.
#include <fmt/format.h>
#include <unistd.h>

#include <csignal>
#include <memory>
#include <optional>
#include <set>

#include "plugin/host/commands.hpp"
#include "plugin/host/output.hpp"
#include "plugin/host/report_style.hpp"
#include "plugin/host/screen.hpp"
#include "plugin/host/side_output.hpp"
#include "plugin/host/speech.hpp"
#include "plugin/host/tell.hpp"
#include "plugin/host/terminal.hpp"
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
  StyleOptions style;
  std::vector<std::string> instruments;
  std::string rig, plan, events, report, record;
  double seconds = 0, fuse_a = 0, wait_s = 0;
  bool no_record = false, force = false, quiet = false, speak = false;
  [[nodiscard]] bool led() const { return !plan.empty(); }
  [[nodiscard]] bool events_alone() const { return events == "-"; }  // on standard output
};

volatile std::sig_atomic_t stop_asked = 0;  // how often

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
  settings.wait_s = options.wait_s;
  return settings;
}

// The live capture, and where what it reports goes.
class Capture {
 public:
  explicit Capture(const Options& options)
      : options_(options),
        rig_(options.rig.empty() ? Rig() : read_rig(options.rig)),
        plan_(options.plan.empty() ? Plan() : find_plan(options.plan)),
        screen_(form_of(options), shown_, told_),
        live_(settings_of(options, rig_, plan_),
              {[this](const Event& event) { on_event(event); },
               [this](const std::string& text) { screen_.remark(text); }, [this] { on_round(); }}) {
    if (options.speak) speech_.emplace();
    if (options.events_alone()) lines_ = &shown_;
    if (options.events.empty() || options.events_alone()) return;
    events_file_ = std::make_unique<Output>(options.events);
    lines_ = &events_.emplace(events_file_->fd(), options.events);
  }

  ExitStatus run() {
    live_.run([] { return stop_asked != 0; });
    take_the_screen_down();
    const bool whole = live_.close_recording();
    if (!options_.report.empty() && whole) beside([&] { report(); });
    if (!options_.quiet && !options_.events_alone()) summarise(whole ? live_.path() : "live");
    for (SideOutput* output : outputs()) finish(*output);
    look_for_losses();
    beside([&] {
      if (events_file_) events_file_->close();
    });
    if (!live_.recording_failure().empty())
      lose(ExitStatus::kReadWriteFailed, live_.recording_failure());
    tell_of_instruments();
    finish(told_);
    return status_;
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
    for (SideOutput* output : outputs()) output->pump();
    look_for_losses();
  }

  std::vector<SideOutput*> outputs() {
    std::vector<SideOutput*> all = {&shown_, &told_};
    if (events_) all.push_back(&*events_);
    return all;
  }

  // To the end, unless that is asked for once more: the recording is closed.
  static void finish(SideOutput& output) {
    const int asked = stop_asked;
    output.finish([asked] { return stop_asked != asked; });
  }

  // Each is looked at until it has failed.
  void look_for_losses() {
    for (const SideOutput* output : outputs()) {
      if (output->failure().empty() || !failed_.insert(output->name()).second) continue;
      if (options_.no_record) stop_asked = 1;  // nothing is left of what it measures
      if (options_.no_record && output->reader_gone()) continue;
      const bool kept = !live_.path().empty() && live_.recording_failure().empty();
      lose(ExitStatus::kReadWriteFailed,
           fmt::format("{}: {}; {}", output->name(), output->failure(),
                       kept ? "the recording goes on, airlatch replay " + live_.path()
                            : "free some space or name another place"));
    }
    if (speech_ && !speech_->failure().empty() && failed_.insert("--speak").second)
      lose(ExitStatus::kReadWriteFailed,
           fmt::format("--speak: {} does not speak: {}; read the prompts on the screen",
                       speech_->program(), speech_->failure()));
  }

  void take_the_screen_down() {
    screen_.clear();
    screen_is_up_ = false;
    told_.write(late_lines_);
  }

  // Said once, at once: on the screen where there is one, and then again when that has gone.
  void lose(ExitStatus status, const std::string& what) {
    const bool first = status_ == ExitStatus::kDone;
    if (first) status_ = status;
    const std::string line = first ? error_line(what) : note_line(what);
    if (!screen_is_up_) return told_.write(line);
    screen_.remark(what);
    late_lines_ += line;
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

  void aloud(const std::string& text) {
    screen_.bell();
    if (speech_) speech_->say(text);
  }

  // Work whose failure costs nothing that is recorded.
  template <typename Work>
  void beside(Work&& work) {
    try {
      work();
    } catch (const InputError& error) {
      lose(error.status(), error.what());
    }
  }

  void report() const {
    Job job;
    job.capture.emplace_back().file = live_.path();
    write_report(make_report(job, "", rig_, plan_, {}), options_.report, options_.force,
                 options_.style.style());
  }

  void tell_of_instruments() {
    for (const std::string& text : live_.lost_instruments())
      lose(ExitStatus::kNoInstrument,
           text + ": lost, and not back until the end; check its cable and supply");
    if (options_.quiet && live_.lost_values() > 0)
      told_.write(
          note_line(fmt::format("{} values were lost, this computer is too slow; lower samplerate=",
                                live_.lost_values())));
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

  void summarise(const std::string& file) {
    CaptureFacts facts;
    facts.file = file;
    facts.duration_s = live_.newest_s();
    const int width = terminal_width();
    write_summary(facts, live_.events(), [&](const std::string& text) {
      shown_.write(wrapped(shown_lines(text), width));
    });
    std::string text;
    for (int k = 0; options_.led() && k < std::ssize(plan_.step); ++k) {
      const auto outcome = live_.guide().results()[static_cast<std::size_t>(k)].outcome;
      text += fmt::format("{}{:16} {}\n", k ? "  " : "\nSteps\n  ", shown_name(plan_.step[k].id),
                          outcome_words(outcome));
    }
    shown_.write(wrapped(shown_lines(text), width));
  }

  const Options& options_;
  Rig rig_;
  Plan plan_;
  SideOutput shown_{STDOUT_FILENO, "standard output"}, told_{STDERR_FILENO, "standard error"};
  Screen screen_;
  std::unique_ptr<Output> events_file_;
  std::optional<SideOutput> events_;
  SideOutput* lines_ = nullptr;  // where events go as JSON lines
  std::optional<Speech> speech_;
  LiveCapture live_;
  int led_step_ = -1;
  std::set<std::string> failed_;  // outputs whose failure is told
  ExitStatus status_ = ExitStatus::kDone;
  bool screen_is_up_ = screen_.drawn();
  std::string late_lines_;  // for standard error, when the screen has gone
};

ExitStatus run(const Options& options) {
  if (!options.report.empty()) check_report_folder(options.report, Job{}, options.force);
  stop_asked = 0;
  for (const int signal : {SIGINT, SIGTERM, SIGHUP})
    std::signal(signal, [](int) { stop_asked = stop_asked + 1; });
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
  options->style.declare(app);
  app.flag("--force", options->force, "overwrite another job's report in that folder");
  app.option("--seconds", options->seconds, {0.0, 1e7}, "end by itself after so long");
  app.option("--wait", options->wait_s, {0.0, 1e7},
             "wait so many seconds for an instrument that is not there yet");
  app.option("--fuse", options->fuse_a, {0.0, 1000.0}, "the lead's fuse, A: warns before it opens");
  app.flag("--speak", options->speak,
           "say prompts aloud (spd-say or espeak-ng, one of which must be installed)");
  app.flag("--quiet", options->quiet, "no screen and no summary");
  app.footer(
      "Use a fused lead; never let the clips touch; keep fingers, hair and sleeves from moving "
      "linkages;\nwear eye protection; take the feed off when asked to. The maker's documents come "
      "first.\n\nThe recording goes on whatever becomes of standard output, --events, --report and "
      "--speak, and\nwhen an instrument is lost. What failed is said once, and the exit status "
      "tells "
      "it: 74 for an\noutput that failed or whose reader has gone, 69 for an instrument that is "
      "away "
      "at the end, 0 where\nnothing is missing. With --no-record, a reader that goes ends the "
      "capture "
      "(0).\n\nExample:\n  airlatch capture demo:samplerate=1000 --rig bench.rig --plan "
      "bench-pump --fuse 15");
  return [options] { return run(*options); };
}

}  // namespace airlatch
