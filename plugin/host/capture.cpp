// airlatch capture: records live, decodes while recording, leads through a plan.
#include <fcntl.h>
#include <fmt/chrono.h>
#include <fmt/format.h>
#include <google/protobuf/text_format.h>
#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <cmath>
#include <csignal>
#include <deque>
#include <map>
#include <memory>
#include <optional>

#include "decoders/method/blade_fuse.hpp"
#include "decoders/stream/rig_scale.hpp"
#include "plugin/host/commands.hpp"
#include "plugin/host/output.hpp"
#include "plugin/host/terminal.hpp"
#include "plugin/recorder/mcap_writer.hpp"
#include "plugin/report/test_report.hpp"
#include "plugin/report/words.hpp"
#include "plugin/session/event_json.hpp"
#include "plugin/session/guide.hpp"
#include "plugin/session/live_chain.hpp"
#include "plugin/session/plans.hpp"
#include "plugin/session/setup_file.hpp"
#include "plugin/session/summary.hpp"
#include "plugin/sources/instrument.hpp"

namespace airlatch {
namespace {

constexpr double kHello_s = 10;       // an instrument answers within this
constexpr double kSilent_s = 2;       // or three readings: then it counts as lost
constexpr double kLastWords_s = 0.5;  // of silence at the end, until an instrument is killed
constexpr double kAgain_s = 2;        // between attempts to have it back
constexpr double kQueueTold = 0.25;   // of an instrument's queue: from here on it is told
constexpr double kFuseShare = 0.5;    // of the fuse's shortest opening time: then it is told

struct Options {
  std::vector<std::string> instruments;
  std::string rig, plan, events, report, record;
  double seconds = 0, fuse_a = 0;
  bool no_record = false, quiet = false, speak = false;
};

volatile std::sig_atomic_t stop_asked = 0;

double now_s() {
  return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

// One instrument, its child process, and whether it is still there.
struct Instrument {
  InstrumentSpec spec;
  std::unique_ptr<InstrumentProcess> process;
  std::vector<v1::InstrumentMessage::Channel> channels;
  std::string complaint;
  double heard_s = 0, tried_s = 0, period_s = 0;
  bool lost = false;
  double queue_share = 0;  // of its bounded queue, as it last told
  std::int64_t lost_values = 0;
  double drift_ppm = 0, drift_u_ppm = 0;  // of its clock; u = 0: not known
};

class Capture {
 public:
  explicit Capture(const Options& options)
      : options_(options),
        rig_(options.rig.empty() ? v1::Rig() : read_rig(options.rig)),
        plan_(options.plan.empty() ? v1::Plan() : find_plan(options.plan)),
        guide_(plan_),
        screen_(!options.quiet && options.events != "-" && ::isatty(STDOUT_FILENO) != 0) {
    if (!options.events.empty()) lines_.emplace(options.events);
  }

  ExitStatus run() {
    for (const std::string& text : options_.instruments) {
      instruments_.emplace_back();
      instruments_.back().spec = parse_instrument(text);
    }
    for (Instrument& instrument : instruments_) start(instrument);
    await_hello();
    begin();
    const double begun_s = now_s();
    while (!stop_asked && (options_.seconds <= 0 || now_s() - begun_s < options_.seconds)) {
      std::vector<pollfd> waits;
      for (const Instrument& instrument : instruments_)
        if (instrument.process) waits.push_back({instrument.process->fd(), POLLIN, 0});
      ::poll(waits.data(), waits.size(), 50);
      for (Instrument& instrument : instruments_) serve(instrument);
      chain_->idle(now_s());
      if (first_ns_) guide_.on_time(newest_s_);
      tell();
      record([&] { writer_->tick(now_s()); });
    }
    hear_out();
    return end();
  }

 private:
  void start(Instrument& instrument) {
    instrument.tried_s = instrument.heard_s = now_s();
    instrument.process = std::make_unique<InstrumentProcess>(instrument.spec);
  }

  // Every instrument tells its channels before anything is recorded.
  void await_hello() {
    const double begun_s = now_s();
    for (Instrument& instrument : instruments_) {
      while (instrument.channels.empty()) {
        pollfd wait = {instrument.process->fd(), POLLIN, 0};
        ::poll(&wait, 1, 100);
        std::vector<v1::InstrumentMessage> messages;
        const bool alive = instrument.process->read(messages);
        for (auto& message : messages) {
          if (!message.complaint().empty())
            throw InputError(ExitStatus::kNoInstrument, "", "", message.complaint(),
                             "airlatch instruments shows what answers");
          if (message.channels_size() > 0)
            instrument.channels = {message.channels().begin(), message.channels().end()};
          else
            early_.emplace_back(&instrument, std::move(message));
        }
        if (!alive || now_s() - begun_s > kHello_s || stop_asked)
          throw InputError(ExitStatus::kNoInstrument, instrument.spec.text, "",
                           "it does not answer",
                           "check the cable, and that it is switched on and sending");
      }
    }
  }

  void begin() {
    std::vector<RecordedChannel> recorded;
    std::vector<std::string> names;
    for (const Instrument& instrument : instruments_)
      for (const auto& channel : instrument.channels) {
        if (!index_.emplace(channel.name(), names.size()).second)
          throw InputError(ExitStatus::kUsage, instrument.spec.text, "",
                           fmt::format("two channels are called '{}'", channel.name()),
                           "name them apart with :as=NAME,NAME");
        names.push_back(channel.name());
        recorded.push_back({channel.name(), channel.unit(), channel.logic(), channel.rate_hz()});
      }
    chain_.emplace(
        rig_, plan_, names, kSilent_s, [this](const v1::Event& event) { on_event(event); },
        [this](const std::string& remark) { say(remark); });
    match_ = [&] {
      std::vector<SourceChannel> channels;
      for (const std::string& name : names) {
        SourceChannel channel;
        channel.name = name;
        channels.push_back(channel);
      }
      return match_rig(channels, rig_, "instruments");
    }();
    for (const ChainChannel& channel : match_.channels) scales_.emplace_back(channel.rig);
    if (!options_.no_record) {
      path_ = options_.record.empty()
                  ? fmt::format("capture-{:%Y%m%d-%H%M%S}.mcap", fmt::localtime(std::time(nullptr)))
                  : options_.record;
      std::string rig_text, plan_text;
      google::protobuf::TextFormat::PrintToString(rig_, &rig_text);
      google::protobuf::TextFormat::PrintToString(plan_, &plan_text);
      writer_ = std::make_unique<McapWriter>(
          path_, recorded,
          std::vector<std::pair<std::string, std::string>>{{"rig", rig_text}, {"plan", plan_text}});
      say("recording to " + path_);
    }
    for (auto& [instrument, message] : early_) take(*instrument, message);
    early_.clear();
  }

  void serve(Instrument& instrument) {
    const double now = now_s();
    if (!instrument.process) {
      if (now - instrument.tried_s > kAgain_s) start(instrument);
      return;
    }
    std::vector<v1::InstrumentMessage> messages;
    const bool alive = instrument.process->read(messages);
    for (const auto& message : messages) {
      if (!message.complaint().empty()) instrument.complaint = message.complaint();
      if (message.has_block()) take(instrument, message);
    }
    const double patience_s = std::max(kSilent_s, 3 * instrument.period_s);
    if (alive && now - instrument.heard_s <= patience_s) return;
    if (!instrument.lost)
      say(fmt::format("LOST: {}{}", instrument.spec.text,
                      instrument.complaint.empty() ? "" : " (" + instrument.complaint + ")"));
    instrument.lost = true;
    instrument.process.reset();  // it may hang or spin: it is killed
    instrument.tried_s = now;
  }

  // What the instruments had measured before the end is decoded too; one that is silent is killed.
  void hear_out() {
    for (const Instrument& instrument : instruments_)
      if (instrument.process) instrument.process->ask_to_end();
    for (Instrument& instrument : instruments_) {
      double heard_s = now_s();
      bool alive = instrument.process != nullptr;
      while (alive && now_s() - heard_s < kLastWords_s) {
        pollfd wait = {instrument.process->fd(), POLLIN, 0};
        ::poll(&wait, 1, 50);
        std::vector<v1::InstrumentMessage> messages;
        alive = instrument.process->read(messages);
        if (!messages.empty()) heard_s = now_s();
        for (const auto& message : messages) {
          if (message.has_block())
            take(instrument, message);
          else if (message.complaint().empty())
            follow(instrument, message);  // its last words
        }
      }
      instrument.process.reset();
    }
  }

  void take(Instrument& instrument, const v1::InstrumentMessage& message) {
    const v1::SampleBlock& in = message.block();
    const auto at = index_.find(in.channel());
    if (at == index_.end() || in.values().empty()) return;
    const double now = now_s();
    if (instrument.lost) say("back again: " + instrument.spec.text);
    instrument.lost = false;
    instrument.complaint.clear();
    follow(instrument, message);
    if (in.times_ns_size() > 0)
      instrument.period_s =
          std::max(0.9 * instrument.period_s, std::min(10.0, now - instrument.heard_s));
    instrument.heard_s = now;
    SampleBlock block{.channel = at->second};
    const std::vector<float> values(in.values().begin(), in.values().end());
    const std::vector<std::int64_t> times(in.times_ns().begin(), in.times_ns().end());
    block.values = values;
    block.times_ns = times;
    if (times.empty()) {
      block.clock = {in.clock().start_ns(), in.clock().period_num_ns(), in.clock().period_den()};
      block.first = in.first_index();
    }
    record([&] { writer_->block(block); });  // raw, before it is decoded
    first_ns_ = std::min(first_ns_.value_or(block.time_ns(0)), block.time_ns(0));
    newest_s_ = std::max(newest_s_,
                         static_cast<double>(block.time_ns(values.size() - 1) - *first_ns_) * 1e-9);
    watch(at->second, block);
    chain_->push(block, in.channel(), now);
  }

  // Its queue and its clock. What a full queue lost leaves a GAP in the events too.
  void follow(Instrument& instrument, const v1::InstrumentMessage& message) {
    if (message.lost_values() > instrument.lost_values)
      say(fmt::format("THIS COMPUTER IS TOO SLOW: {} values of {} lost; lower samplerate=",
                      message.lost_values() - instrument.lost_values, instrument.spec.text));
    instrument.lost_values = message.lost_values();
    const double before = instrument.queue_share;
    instrument.queue_share = static_cast<double>(message.queue_share());
    if (before < kQueueTold && instrument.queue_share >= kQueueTold)
      say(fmt::format("this computer does not keep up with {}: its queue is {:.0f} % full",
                      instrument.spec.text, 100 * instrument.queue_share));
    instrument.drift_ppm = message.drift_ppm();
    instrument.drift_u_ppm = message.drift_u_ppm();
  }

  [[nodiscard]] double fullest_queue() const {
    double share = 0;
    for (const Instrument& instrument : instruments_)
      share = std::max(share, instrument.queue_share);
    return share;
  }

  // The figures on the screen, and the fuse.
  void watch(std::size_t channel, const SampleBlock& block) {
    for (std::size_t c = 0; c < match_.channels.size(); ++c) {
      if (match_.source_channel[c] != channel) continue;
      const v1::Rig::Channel& entry = match_.channels[c].rig;
      const auto value = static_cast<double>(scales_[c].apply(block, *first_ns_).values.back());
      figures_[entry.role()] = value;
      if (entry.role() != v1::MOTOR_CURRENT || options_.fuse_a <= 0) continue;
      const FuseOpening opening = blade_fuse_opening(std::abs(value) / options_.fuse_a);
      if (!opening.not_after_s) {
        over_since_s_.reset();
        continue;
      }
      if (!over_since_s_) over_since_s_ = now_s();
      if (now_s() - *over_since_s_ > kFuseShare * opening.not_before_s) {
        say(fmt::format("TAKE THE FEED OFF NOW: {:.1f} A on a fuse of {:.0f} A", std::abs(value),
                        options_.fuse_a));
        over_since_s_.reset();
      }
    }
  }

  void on_event(const v1::Event& event) {
    if (lines_) lines_->write(event_json(event) + "\n");
    record(
        [&] { writer_->event(event, first_ns_.value_or(0) + std::llround(event.time_s() * 1e9)); });
    events_.add(event);
    guide_.on_event(event);
    if (!screen_ && !options_.quiet && options_.events != "-")
      Output("-").write(event_line(event) + "\n");
    recent_.push_back(event_line(event));
    if (recent_.size() > 6) recent_.pop_front();
  }

  static std::string event_line(const v1::Event& event) {
    return fmt::format("{:9.3f} s  {}{}", event.time_s(), v1::Kind_Name(event.kind()),
                       event.contact() == v1::NONE ? "" : " " + v1::Contact_Name(event.contact()));
  }

  // A recording that fails is told loudly; decoding goes on.
  template <typename Work>
  void record(Work&& work) {
    if (!writer_) return;
    try {
      work();
    } catch (const InputError& error) {
      writer_.reset();
      record_failed_ = error.what();
      say(std::string("NOT RECORDING ANY MORE: ") + error.what());
    }
  }

  void say(const std::string& text) {
    if (screen_) {
      recent_.push_back("* " + text);
      if (recent_.size() > 6) recent_.pop_front();
    } else if (!options_.quiet) {
      std::fputs(("airlatch: " + text + "\n").c_str(), stderr);
    }
  }

  void tell() {
    for (const std::string& text : guide_.news()) {
      say(text);
      aloud(text);
    }
    if (!options_.plan.empty() && guide_.prompt() != prompt_) {
      const std::string now = guide_.prompt();
      // Only a new step is worth a line where there is no screen.
      if (!screen_ && guide_.step() != told_step_)
        say(now.empty() ? "the plan is done; Ctrl-C ends" : now);
      if (guide_.step() != told_step_ && !now.empty()) aloud(now);
      told_step_ = guide_.step();
      prompt_ = now;
    }
    if (!screen_ || now_s() - drawn_s_ < 0.2) return;
    drawn_s_ = now_s();
    draw();
  }

  // Through whatever speaks here, without waiting for it; a bell otherwise.
  void aloud(const std::string& text) const {
    if (screen_) std::fputs("\a", stdout);
    if (!options_.speak) return;
    if (const pid_t child = ::fork(); child == 0) {
      if (::fork() != 0) ::_exit(0);  // nobody waits for the one that speaks
      const int quiet = ::open("/dev/null", O_RDWR);
      for (const int fd : {0, 1, 2}) ::dup2(quiet, fd);
      ::execlp("spd-say", "spd-say", "--", text.c_str(), nullptr);
      ::execlp("espeak-ng", "espeak-ng", "--", text.c_str(), nullptr);
      ::_exit(127);
    } else if (child > 0) {
      ::waitpid(child, nullptr, 0);
    }
  }

  // 80 by 24 at most; plain ANSI, so that it works over ssh.
  void draw() const {
    const auto figure = [&](std::initializer_list<v1::Role> roles, const char* unit) {
      std::optional<double> most;  // the fed contact of two; "-" where nobody measures
      for (const v1::Role role : roles)
        if (const auto at = figures_.find(role); at != figures_.end() && std::isfinite(at->second))
          most = std::max(most.value_or(at->second), at->second);
      return most ? fmt::format("{:8.2f} {:3}", *most, unit) : fmt::format("{:>8} {:3}", "-", unit);
    };
    std::string out = "\033[H\033[J";
    out += fmt::format("airlatch  {}   {:02}:{:02}   queue {:.0f} %   {}\n\n",
                       stop_asked ? "ending" : "capturing", static_cast<int>(newest_s_) / 60,
                       static_cast<int>(newest_s_) % 60, 100 * fullest_queue(),
                       writer_                  ? path_
                       : record_failed_.empty() ? "not recording"
                                                : "RECORDING FAILED");
    out += fmt::format("\033[1m   {}   {}   {}\033[0m\n",
                       figure({v1::FEED_A_VOLTAGE, v1::FEED_B_VOLTAGE}, "V"),
                       figure({v1::MOTOR_CURRENT}, "A"), figure({v1::LINE_PRESSURE}, "kPa"));
    out += "   feed         motor          line\n\n";
    if (!prompt_.empty()) out += wrapped("\033[1mNow\033[0m " + prompt_ + "\n", 78) + "\n";
    if (!options_.plan.empty() && prompt_.empty()) out += "The plan is done. Ctrl-C ends.\n\n";
    for (const std::string& line : recent_) out += wrapped(line, 78);
    out += "\nFused lead, clips apart, fingers clear. Ctrl-C ends.\n";
    std::fputs(out.c_str(), stdout);
    std::fflush(stdout);
  }

  ExitStatus end() {
    chain_->finish();
    tell();
    if (screen_) std::fputs("\033[H\033[J", stdout);
    record([&] { writer_->close(); });
    const bool whole = writer_ != nullptr;
    writer_.reset();
    if (chain_->dropped() > 0)
      say(fmt::format("{} samples were dropped: they came out of order", chain_->dropped()));
    for (const Instrument& instrument : instruments_)
      if (instrument.drift_u_ppm > 0)
        say(fmt::format("the clock of {} ran {:.1f} ± {:.1f} ppm {} (95 %); taken out",
                        instrument.spec.text, std::abs(instrument.drift_ppm),
                        2 * instrument.drift_u_ppm, instrument.drift_ppm > 0 ? "fast" : "slow"));
    CaptureFacts facts;
    facts.file = whole ? path_ : "live";
    facts.duration_s = newest_s_;
    const bool print = !options_.quiet && options_.events != "-";
    if (!options_.report.empty() && whole) {
      v1::Job job;
      job.add_capture()->set_file(path_);
      write_report(make_report(job, "", rig_, plan_, {}), options_.report);
    }
    if (print) {
      Output out("-");
      const int width = terminal_width();
      tell_summary(facts, events_,
                   [&](const std::string& text) { out.write(wrapped(text, width)); });
      std::string text;
      for (int k = 0; !options_.plan.empty() && k < plan_.step_size(); ++k)
        text += fmt::format("{}{:16} {}\n", k ? "  " : "\nSteps\n  ", plan_.step(k).id(),
                            outcome_words(guide_.results()[static_cast<std::size_t>(k)].outcome()));
      out.write(wrapped(text, width));
    }
    if (lines_) lines_->close();
    if (record_failed_.empty()) return ExitStatus::kDone;
    std::fputs(("airlatch: " + record_failed_ + "\n").c_str(), stderr);
    return ExitStatus::kReadWriteFailed;
  }

  const Options& options_;
  v1::Rig rig_;
  v1::Plan plan_;
  Guide guide_;
  bool screen_;
  std::optional<Output> lines_;
  std::deque<Instrument> instruments_;
  std::vector<std::pair<Instrument*, v1::InstrumentMessage>> early_;
  std::map<std::string, std::size_t> index_;
  std::optional<LiveChain> chain_;
  RigMatch match_;
  std::vector<RigScale> scales_;  // one a matched channel
  std::string path_, record_failed_, prompt_;
  std::unique_ptr<McapWriter> writer_;
  std::optional<std::int64_t> first_ns_;
  double newest_s_ = 0, drawn_s_ = 0;
  std::optional<double> over_since_s_;
  int told_step_ = -1;
  std::map<v1::Role, double> figures_;
  EventStore events_;
  std::deque<std::string> recent_;
};

ExitStatus run(const Options& options) {
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
  app.option("--rig", options->rig, "what each channel measures (protobuf text)");
  app.option("--plan", options->plan, "lead through this plan (a name or a file)");
  app.option("--record", options->record, "recording to write (default: capture-DATE-TIME.mcap)");
  app.flag("--no-record", options->no_record, "do not record");
  app.option("--events", options->events,
             "write events as JSON lines to FILE; - for standard output and nothing else there");
  app.option("--report", options->report,
             "write report.html, .pdf, .json and .pb to this folder at the end");
  app.option("--seconds", options->seconds, "end by itself after so long").within(0.0, 1e7);
  app.option("--fuse", options->fuse_a, "the lead's fuse, A: warns before it opens")
      .within(0.0, 1000.0);
  app.flag("--speak", options->speak,
           "say prompts aloud (spd-say or espeak-ng, where there is one)");
  app.flag("--quiet", options->quiet, "no screen and no summary");
  app.footer(
      "Use a fused lead; never let the clips touch; keep fingers, hair and sleeves from moving "
      "linkages;\nwear eye protection; take the feed off when told. The maker's documents come "
      "first.\n\nExample:\n  airlatch capture demo:samplerate=1000 --rig bench.rig --plan "
      "bench-pump --fuse 15");
  return [options] { return run(*options); };
}

}  // namespace airlatch
