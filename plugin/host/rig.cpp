// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch rig: a capture looked at, and a rig proposed for it.
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <iostream>
#include <memory>
#include <optional>

#include "plugin/host/commands.hpp"
#include "plugin/host/output.hpp"
#include "plugin/host/tell.hpp"
#include "plugin/host/terminal.hpp"
#include "plugin/message/setup_file.hpp"
#include "plugin/message/text_format.hpp"
#include "plugin/session/rig_proposal.hpp"
#include "plugin/sources/source.hpp"
#include "plugin/sources/units.hpp"
#include "plugin/system/shown_text.hpp"
#include "plugin/system/whole_file.hpp"

namespace airlatch {
namespace {

struct Options {
  std::string capture, rig, out;
  double rate_hz = 0;
  bool quiet = false;
};

constexpr int kPlotLines = 4, kLeastWidth = 40, kMostWidth = 100;

// An outline in blocks of eighths, from the least to the greatest: where samples reach.
std::string plot(const Outline& outline, int width) {
  static constexpr std::array<const char*, 9> kEighths = {" ", "▁", "▂", "▃", "▄",
                                                          "▅", "▆", "▇", "█"};
  const auto& buckets = outline.buckets();
  if (buckets.empty() || outline.range() <= 0) return "";
  std::vector<double> heights;  // in eighths of a line, over the least
  for (int x = 0; x < width; ++x) {
    const std::size_t from =
        static_cast<std::size_t>(x) * buckets.size() / static_cast<std::size_t>(width);
    const std::size_t to = std::max(from + 1, (static_cast<std::size_t>(x) + 1) * buckets.size() /
                                                  static_cast<std::size_t>(width));
    double most = NAN;
    for (std::size_t k = from; k < to && k < buckets.size(); ++k)
      if (buckets[k].n > 0) most = std::fmax(most, static_cast<double>(buckets[k].most));
    heights.push_back((most - outline.least()) / outline.range() * 8 * kPlotLines);
  }
  std::string out;
  for (int line = kPlotLines - 1; line >= 0; --line) {
    out += "  ";
    for (const double height : heights) {
      const double eighths = std::isfinite(height) ? height - 8 * line : 0;
      out += kEighths[static_cast<std::size_t>(std::clamp(std::lround(eighths), 0L, 8L))];
    }
    out += line == kPlotLines - 1 ? fmt::format(" {:.4g}\n", outline.most())
           : line == 0            ? fmt::format(" {:.4g}\n", outline.least())
                                  : "\n";
  }
  return out + fmt::format("  0 {:>{}.4g} s\n", outline.end_s(), width - 4);
}

// A comment's line: nothing of the file ends it.
std::string comment(const std::string& text) { return "# " + shown_text(text) + "\n"; }

std::string entry_text(const Rig::Channel& entry) {
  Rig rig;
  rig.channel.push_back(entry);
  std::string text = print_text(rig);
  // On one line: the printer escapes the ends of lines within texts.
  for (std::size_t at = text.find('\n'); at != std::string::npos; at = text.find('\n', at))
    text.replace(at,
                 text.find_first_not_of(" \n", at) == std::string::npos
                     ? text.size() - at
                     : text.find_first_not_of(" \n", at) - at,
                 " ");
  text.pop_back();  // the last end of a line, a blank now
  return text + "\n";
}

// What a given rig says of channels is kept.
void keep_given(const Rig& given, std::vector<Proposal>& proposals) {
  for (Proposal& one : proposals) {
    const auto entry =
        std::find_if(given.channel.begin(), given.channel.end(),
                     [&](const Rig::Channel& channel) { return channel.source == one.channel; });
    if (entry == given.channel.end()) continue;
    for (Proposal& other : proposals)
      if (other.entry && other.entry->role == entry->role) other.entry.reset();
    one.entry = *entry;
    one.certainty = Certainty::kSure;
    one.because = "the rig that was given";
    one.to_do.clear();
  }
}

std::string rig_text(const std::string& file, const Rig& given,
                     const std::vector<Proposal>& proposals,
                     const std::vector<SourceChannel>& channels) {
  std::string out =
      comment("Proposed by `airlatch rig` for " + shown_name(file) + ": look through it.");
  Rig rest = given;
  rest.channel.clear();
  out += print_text(rest);
  for (std::size_t c = 0; c < proposals.size(); ++c) {
    const Proposal& one = proposals[c];
    const std::string unit = channels[c].unit.empty() ? "" : fmt::format(" [{}]", channels[c].unit);
    out += "\n" + comment(fmt::format("'{}'{}: {}", one.channel, unit, one.seen));
    if (!one.entry) {
      out += comment("plays no role that was recognised");
      continue;
    }
    out += comment(fmt::format("{}: {}, {}", name_of(one.entry->role),
                               certainty_words(one.certainty), one.because));
    if (!one.to_do.empty()) out += comment("CHECK: " + one.to_do);
    std::string entry = entry_text(*one.entry);
    // Without a scale that only the user knows the entry would be refused.
    const auto unit_there = parse_unit(channels[c].unit);
    const bool refused = unit_there && one.entry->unit.empty() &&
                         unit_there->dimension != dimension_of(one.entry->role) &&
                         one.entry->role != Role::COMMAND_LEVEL;
    out += (refused ? "# " : "") + entry;
  }
  return out;
}

// One question a doubt: the roles that the channel could play, the proposed one first.
class Questions {
 public:
  explicit Questions(const std::vector<SourceChannel>& channels) : channels_(channels) {}
  void ask(std::vector<Proposal>& proposals) {
    std::array<bool, kRoles> taken = {};
    for (const Proposal& one : proposals)
      if (one.entry && one.certainty != Certainty::kGuess) take(taken, one.entry->role);
    for (std::size_t c = 0; c < proposals.size(); ++c) {
      Proposal& one = proposals[c];
      const bool doubt = one.entry && one.certainty == Certainty::kGuess;
      if (!doubt) continue;
      std::vector<Role> roles;
      if (!taken[static_cast<std::size_t>(one.entry->role)]) roles.push_back(one.entry->role);
      for (const Proposal::Guess& guess : one.guesses)
        if (guess.role != one.entry->role && !taken[static_cast<std::size_t>(guess.role)])
          roles.push_back(guess.role);
      const std::optional<Role> role = roles.empty() ? std::nullopt : answer(one, roles);
      if (!role) {
        one.entry.reset();
        continue;
      }
      take(taken, *role);
      if (*role != one.entry->role)
        one.entry = entry_for(channels_[c], one.outline, *role, one.to_do);
      one.certainty = Certainty::kSure;
      one.because = "you said so";
    }
  }

 private:
  static void take(std::array<bool, kRoles>& taken, Role role) {
    taken[static_cast<std::size_t>(role)] = true;
  }
  static std::optional<Role> answer(const Proposal& one, const std::vector<Role>& roles) {
    std::string text =
        fmt::format("\nWhat is '{}' ({})?\n", shown_name(one.channel), shown_text(one.seen));
    for (std::size_t k = 0; k < roles.size(); ++k)
      text += fmt::format("  {}  {}{}\n", k + 1, name_of(roles[k]), k == 0 ? " (Enter)" : "");
    text += "  0  nothing of these\n";
    for (;;) {
      tell(text + "> ");
      std::string line;
      if (!std::getline(std::cin, line)) return roles[0];
      line.erase(std::remove_if(line.begin(), line.end(), ::isspace), line.end());
      if (line.empty()) return roles[0];
      if (line == "0") return std::nullopt;
      if (line.size() == 1 && line[0] > '0' &&
          line[0] <= '0' + static_cast<int>(std::min<std::size_t>(9, roles.size())))
        return roles[static_cast<std::size_t>(line[0] - '1')];
    }
  }
  const std::vector<SourceChannel>& channels_;
};

ExitStatus run(const Options& options) {
  const Rig given = options.rig.empty() ? Rig() : read_rig(options.rig);
  const std::unique_ptr<Source> source = open_source(
      options.capture, {.rate_hz = options.rate_hz, .text = given.text.value_or(TextLayout{})});
  const std::vector<SourceChannel> channels = source->channels();
  RigProposer proposer(channels);
  SampleBlock block;
  while (source->next(block)) proposer.take(block);
  std::vector<Proposal> proposals = proposer.propose();
  keep_given(given, proposals);
  const int width = terminal_width();
  const bool shown = width > 0 && !options.quiet;
  if (shown)
    for (const Proposal& one : proposals) {
      tell(fmt::format("\n{}: {}\n", shown_name(one.channel), shown_text(one.seen)));
      tell(plot(one.outline, std::clamp(width - 16, kLeastWidth, kMostWidth)));
    }
  if (shown && ::isatty(STDIN_FILENO) != 0 && options.capture != "-")
    Questions(channels).ask(proposals);
  const std::string text = rig_text(options.capture, given, proposals, channels);
  // What is proposed must be taken: a mistake here is ours.
  parse_rig(text, SetupFormat::kText, "the proposed rig");
  if (!options.out.empty()) {
    WholeFile file(options.out);
    file.write(text);
    file.commit();
  } else if (width > 0) {
    tell("\n" + text);
  } else {
    Output("-").write(text);
  }
  if (!source->damage().empty()) {
    tell_error(source->damage());
    return ExitStatus::kUnusableData;
  }
  if (std::none_of(proposals.begin(), proposals.end(), [](const auto& one) { return one.entry; }))
    tell_note("no channel was recognised: say in the rig what they measure");
  return ExitStatus::kDone;
}

}  // namespace

Run add_rig(Arguments app) {
  auto options = std::make_shared<Options>();
  app.option("CAPTURE", options->capture,
             "a capture in any format; - reads text from standard input")
      .required()
      .reads();
  app.option("--rig", options->rig, "a rig to go on from: what it says is kept").reads();
  app.option("--out", options->out, "write the rig to FILE instead of standard output").writes();
  app.option("--rate", options->rate_hz, {1e-3, 1e8},
             "samples a second, for captures without times");
  app.flag("--quiet", options->quiet, "no plots and no questions");
  app.footer(
      "It looks at names, units and the signals themselves, and says of each guess how certain it "
      "is "
      "and\nwhat it rests on. On a terminal the channels are drawn, and each guess is asked "
      "about.\n\n"
      "Examples:\n"
      "  airlatch rig meter.csv --out meter.rig\n"
      "  airlatch replay meter.csv --rig meter.rig");
  return [options] { return run(*options); };
}

}  // namespace airlatch
