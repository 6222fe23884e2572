// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch ledger: reports by vehicle, and how a measure went over the years.
#include "plugin/ledger/ledger.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <limits>
#include <memory>
#include <set>

#include "plugin/host/commands.hpp"
#include "plugin/host/output.hpp"
#include "plugin/host/tell.hpp"
#include "plugin/recorder/csv_cell.hpp"
#include "plugin/report/panel.hpp"
#include "plugin/report/report_file.hpp"
#include "plugin/report/words.hpp"
#include "plugin/session/kinds.hpp"
#include "plugin/session/quantity.hpp"
#include "plugin/system/shown_text.hpp"
#include "plugin/system/whole_file.hpp"
#include "plugin/verdict/rules.hpp"

namespace airlatch {
namespace {

struct Options {
  std::string file = default_ledger_path(), vehicle, measure, svg, out = "-";
  std::vector<std::string> reports;
  std::int64_t id = 0;
};

std::string day(const LedgerEntry& entry) {
  return entry.date.empty() ? entry.added.substr(0, 10) : entry.date;
}

ExitStatus add(const Options& options) {
  Ledger ledger(options.file);
  for (const std::string& path : options.reports) {
    const auto [id, is_new] =
        ledger.add(read_report(path), fmt::format("{:%FT%TZ}", fmt::gmtime(std::time(nullptr))));
    tell(fmt::format("{}: entry {}{}\n", shown_name(path), id,
                     is_new ? "" : ", which was there already"));
  }
  return ExitStatus::kDone;
}

ExitStatus list(const Options& options) {
  std::string out;
  for (const LedgerEntry& entry : Ledger(options.file).list(options.vehicle))
    out += fmt::format("{:>5}  {}  {:10}  {:28}  {}\n", entry.id, shown_name(day(entry)),
                       shown_name(entry.job_number), shown_name(entry.vehicle),
                       finding_words(entry.finding));
  tell(out.empty() ? "No report here yet; airlatch ledger add report.pb\n" : out);
  return ExitStatus::kDone;
}

ExitStatus show(const Options& options) {
  const Report report = Ledger(options.file).show(options.id);
  Output("-").write(report_json(report) + "\n");
  return ExitStatus::kDone;
}

// Least and most of value - 2u .. value + 2u.
std::pair<double, double> span(const std::vector<LedgerPoint>& points) {
  double low = 0, high = 0;
  for (const LedgerPoint& point : points) {
    low = std::min(low, point.measure.value - 2 * point.measure.u);
    high = std::max(high, point.measure.value + 2 * point.measure.u);
  }
  return {low, high > low ? high : low + 1};
}

std::string trend_text(const std::vector<LedgerPoint>& points, const std::string& measure) {
  constexpr int kWide = 30;
  const auto [low, high] = span(points);
  const auto column = [&, low = low, high = high](double value) {
    return std::clamp(static_cast<int>(std::lround((value - low) / (high - low) * (kWide - 1))), 0,
                      kWide - 1);
  };
  std::string out = fmt::format("{} [{}], from {:.4g} to {:.4g}\n", shown_name(measure),
                                shown_name(points[0].measure.unit), low, high);
  for (const LedgerPoint& point : points) {
    std::string bar(kWide, ' ');
    const double value = point.measure.value, u2 = 2 * point.measure.u;
    for (int k = column(value - u2); k <= column(value + u2); ++k)
      bar[static_cast<std::size_t>(k)] = '-';
    bar[static_cast<std::size_t>(column(value))] = 'o';
    out += fmt::format("{}  {:10}  {:8}|{}| {}\n", shown_name(day(point.entry)),
                       shown_name(point.entry.job_number), direction_words(point.direction), bar,
                       format_quantity(value, point.measure.u, ""));
  }
  return out + "o: value, ---: within two standard uncertainties\n";
}

std::string trend_svg(const std::vector<LedgerPoint>& points, const std::string& measure) {
  Canvas canvas(Canvas::Kind::kSvg, 640, 320);
  const auto [low, high] = span(points);
  const double margin = 0.06 * (high - low);
  std::vector<std::int64_t> reports;
  for (const LedgerPoint& point : points)
    if (reports.empty() || reports.back() != point.entry.id) reports.push_back(point.entry.id);
  Panel panel(canvas, 60, 30, 560, 230,
              {0.5, static_cast<double>(reports.size()) + 0.5, "", false, false},
              {low - margin, high + margin, "", false, true});
  lazy::cairo_set_source_rgb(canvas.cairo(), 0.11, 0.14, 0.16);
  canvas.text(60, 18,
              shown_name(points[0].entry.vehicle) + ": " + measure + ", " + points[0].measure.unit,
              11, 0, true);
  const Colour colours[] = {{0.4, 0.4, 0.4}, {0.10, 0.36, 0.60}, {0.72, 0.33, 0.05}};
  for (const Direction direction : {Direction::UNKNOWN, Direction::PRESSURE, Direction::VACUUM}) {
    Panel::Points marks;
    const Colour colour = colours[static_cast<std::size_t>(direction)];
    for (const LedgerPoint& point : points) {
      if (point.direction != direction) continue;
      const auto at = std::find(reports.begin(), reports.end(), point.entry.id);
      const double x = static_cast<double>(at - reports.begin()) + 1, v = point.measure.value;
      panel.line({{x, v - 2 * point.measure.u}, {x, v + 2 * point.measure.u}}, colour);
      marks.emplace_back(x, v);
    }
    if (marks.empty()) continue;
    panel.line(marks, colour, 0.8, direction == Direction::VACUUM);
    panel.marks(marks, colour, static_cast<int>(direction));
    lazy::cairo_set_source_rgb(canvas.cairo(), colour.r, colour.g, colour.b);
    canvas.text(60 + 150.0 * static_cast<int>(direction), 308,
                direction == Direction::UNKNOWN    ? "disc: direction not known"
                : direction == Direction::PRESSURE ? "square: blowing"
                                                   : "triangle: sucking",
                9);
  }
  lazy::cairo_set_source_rgb(canvas.cairo(), 0.11, 0.14, 0.16);
  for (std::size_t k = 0; k < reports.size(); ++k) {
    const auto point = std::find_if(points.begin(), points.end(),
                                    [&](const LedgerPoint& p) { return p.entry.id == reports[k]; });
    if (reports.size() <= 12 || k % (reports.size() / 6) == 0)
      canvas.text(panel.x_of(static_cast<double>(k) + 1), 276, day(point->entry), 7.5, 0.5);
  }
  return canvas.finish();
}

ExitStatus trend(const Options& options) {
  const Ledger ledger(options.file);
  std::string vehicle = options.vehicle;
  if (vehicle.empty()) {
    std::set<std::string> all;
    for (const LedgerEntry& entry : ledger.list()) all.insert(entry.vehicle);
    if (all.size() > 1)
      throw InputError(ExitStatus::kUsage, "", "", "the ledger holds several vehicles",
                       "name one with --vehicle; airlatch ledger list shows them");
    if (!all.empty()) vehicle = *all.begin();
  }
  const auto points = ledger.trend(vehicle, options.measure);
  if (points.empty())
    throw InputError(
        ExitStatus::kUnusableData, options.file, "",
        fmt::format("no report of {} has a measure {}",
                    vehicle.empty() ? "any vehicle" : shown_name(vehicle), options.measure),
        "decay_rate, run_time, end_pressure and feed_path_resistance are usual ones");
  if (!options.svg.empty()) {
    const std::string drawn = trend_svg(points, options.measure);
    WholeFile file(options.svg);
    file.write(drawn);
    file.commit();
  }
  tell(trend_text(points, options.measure));
  return ExitStatus::kDone;
}

ExitStatus export_csv(const Options& options) {
  const Ledger ledger(options.file);
  WholeFile out(options.out);
  out.write("entry,date,vehicle,job_number,finding,event,time_s,direction,measure,value,u,unit\n");
  for (const LedgerEntry& entry : ledger.list(options.vehicle)) {
    const Report report = ledger.show(entry.id);
    for (const Event& event : report.events)
      for (const Measure& m : event.measures)
        out.write(fmt::format("{},{},{},{},{},{},{},{},{},{},{},{}\n", entry.id,
                              csv_cell(day(entry)), csv_cell(entry.vehicle),
                              csv_cell(entry.job_number), csv_cell(entry.finding),
                              name_of(event.kind), event.time_s, name_of(event.direction),
                              csv_cell(m.name), m.value, m.u, csv_cell(m.unit)));
  }
  out.commit();
  return ExitStatus::kDone;
}

}  // namespace

Run add_ledger(Arguments app) {
  auto options = std::make_shared<Options>();
  struct Verb {
    Arguments arguments;
    ExitStatus (*run)(const Options&);
  };
  auto verbs = std::make_shared<std::vector<Verb>>();
  const std::vector<std::string> beside = {"-journal", "-wal", "-shm"};  // the database's own
  const auto verb = [&](const char* name, const char* about, ExitStatus (*run)(const Options&)) {
    Arguments sub = app.verb(name, about);
    // As names, not as this user's folders: the manual page is made where the program is built.
    auto file = sub.option("--ledger", options->file,
                           "the ledger's file (default: $XDG_DATA_HOME/airlatch/ledger.sqlite, or "
                           "~/.local/share/airlatch/ledger.sqlite)");
    run == add ? file.writes(beside) : file.reads(beside);
    verbs->push_back({sub, run});
    return sub;
  };
  verb("add", "keep reports (report.pb or report.json); one added twice is one entry", add)
      .option("REPORT", options->reports, "reports to keep")
      .required()
      .reads();
  verb("list", "what is kept", list).option("--vehicle", options->vehicle, "only this one");
  verb("show", "one report, as JSON", show)
      .option("ENTRY", options->id, {1, std::numeric_limits<std::int64_t>::max()},
              "its number, as list shows it")
      .required();
  Arguments t = verb("trend", "a measure of one vehicle over its reports", trend);
  t.option("MEASURE", options->measure, "for example decay_rate").required();
  t.option("--vehicle", options->vehicle, "needed where the ledger holds several");
  t.option("--svg", options->svg, "draw it to this file, too").writes();
  Arguments e = verb("export", "every measure of every report as CSV", export_csv);
  e.option("--out", options->out, "file (default: standard output)").writes();
  e.option("--vehicle", options->vehicle, "only this one");
  app.footer(
      "Examples:\n  airlatch ledger add report/report.pb\n"
      "  airlatch ledger trend decay_rate --vehicle \"Merganser estate, 1984\"");
  return [options, verbs] {
    for (const Verb& v : *verbs)
      if (v.arguments.given()) return v.run(*options);
    return ExitStatus::kUsage;
  };
}

}  // namespace airlatch
