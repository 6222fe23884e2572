// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/summary.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "plugin/session/kinds.hpp"
#include "plugin/session/quantity.hpp"
#include "plugin/sources/units.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

std::string plain(const Event& event, const char* name) {
  const Measure* m = find_measure(event, name);
  return m ? format_quantity(m->value, m->u, "") : "-";
}

std::size_t width_of(const std::string& text) {  // characters, not bytes
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xc0) != 0x80; }));
}

using Cells = std::vector<std::string>;

constexpr std::size_t kPiece = 1 << 14;  // handed out at a time

// `row(event)` for each event it has one for, under a head: once for the widths, once for the text.
// Only events that are `wanted` are looked at.
template <typename Wanted, typename Row>
void write_table(const std::string& title, const Cells& head, const EventStore& events,
                 const Wanted& wanted, const Row& row,
                 const std::function<void(const std::string&)>& write) {
  std::vector<std::size_t> widths;
  std::string out;
  const auto widen = [&](const Cells& cells) {
    widths.resize(std::max(widths.size(), cells.size()));
    for (std::size_t c = 0; c < cells.size(); ++c)
      widths[c] = std::max(widths[c], width_of(cells[c]));
  };
  const auto put = [&](const Cells& cells) {
    out += ' ';
    for (std::size_t c = 0; c < cells.size(); ++c) {
      out += ' ' + cells[c];
      if (c + 1 < cells.size()) out += std::string(widths[c] - width_of(cells[c]) + 1, ' ');
    }
    out += '\n';
    if (out.size() < kPiece) return;
    write(out);
    out.clear();
  };
  Event event;
  const auto each = [&](auto&& look) {
    for (std::size_t i = 0; i < events.size(); ++i) {
      if (!wanted(events.kind(i))) continue;
      events.get(i, event);
      look(row(event));
    }
  };
  each(widen);
  if (widths.empty()) return;
  out += title;
  if (!head.empty()) {
    widen(head);
    put(head);
  }
  each(put);
  write(out);
}

}  // namespace

void write_summary(const CaptureFacts& facts, const EventStore& events,
                   const std::function<void(const std::string&)>& write) {
  std::string out = fmt::format("{}: {:.4g} s\n", shown_name(facts.file), facts.duration_s);
  for (const std::string& doubt : facts.doubts)
    out += fmt::format("DOUBTFUL: {}\n", shown_text(doubt));
  std::string line;
  for (const auto& channel : facts.channels) {
    const std::string one =
        fmt::format("{} [{}] {}", shown_name(channel.name), unit_of(channel.role),
                    channel.rate_hz > 0 ? fmt::format("{:.6g}/s", channel.rate_hz) : "own times");
    if (line.size() + one.size() > 96) {
      out += line + ",\n";
      line.clear();
    }
    line += (line.empty() ? "  " : ", ") + one;
  }
  out += line + "\n";
  for (const std::string& fact : facts.understood) out += "  " + shown_text(fact) + "\n";
  out += "\n";
  if (events.empty()) out += "No events.\n";
  write(out);

  write_table(
      "", {}, events, [](Kind) { return true; },
      [](const Event& event) -> Cells {
        return {format_value(event.time_s, std::max(event.time_u_s, 1e-5)) + " s",
                "± " + format_u(std::max(event.time_u_s, 1e-6)), row_of(event.kind).words(event)};
      },
      write);
  write_table(
      "\nRuns\n",
      {"run", "way", "time s", "current A", "end kPa", "rise kPa/s", "feed path Ω", "return path Ω",
       "shaft rev/min"},
      events, [](Kind kind) { return kind == Kind::STALL_CUTOFF || kind == Kind::MOTOR_STOP; },
      [](const Event& event) -> Cells {
        const char* contact = contact_words(event.contact);
        return {*contact ? contact : "run",
                direction_words(event.direction),
                plain(event, "run_time"),
                plain(event, "run_current"),
                plain(event, "end_pressure"),
                plain(event, "rise_rate"),
                plain(event, "feed_path_resistance"),
                plain(event, "return_path_resistance"),
                plain(event, "shaft_speed")};
      },
      write);
  write_table(
      "\nLine left alone\n",
      {"from s", "for s", "start kPa", "loses kPa/min", "time constant s", "leak Pa·m³/s",
       "hole mm"},
      events, [](Kind kind) { return kind == Kind::LEAK_DECAY; },
      [](const Event& event) -> Cells {
        return {format_value(event.time_s, 0.05), plain(event, "duration"),
                plain(event, "start_pressure"),   loss_words(event, ""),
                plain(event, "time_constant"),    plain(event, "leak_rate"),
                plain(event, "leak_hole")};
      },
      write);

  std::set<std::string> notes;
  bool caution = false;
  events.for_each([&](const Event& event) {
    caution = caution || row_of(event.kind).alarm != nullptr;
    for (const Missing& missing : event.missing)
      notes.insert(missing.measure + ": " + missing.text);
    // A feed's own line says already that it is the command line's.
    const bool said = event.kind == Kind::FEED_ON || event.kind == Kind::FEED_OFF;
    if (!event.note.empty() && !said) notes.insert(event.note);
  });
  std::vector<std::string> remarks = facts.remarks;
  remarks.insert(remarks.end(), notes.begin(), notes.end());
  if (!facts.damage.empty()) remarks.insert(remarks.begin(), facts.damage);
  out = remarks.empty() ? "" : "\nRemarks\n";
  for (const std::string& remark : remarks) out += "  - " + shown_text(remark) + "\n";
  if (caution)
    out +=
        "\nCaution: take the feed off. A motor that draws current without turning, or never cuts "
        "off,\noverheats in seconds. The maker's documents and local rules come first.\n";
  if (!out.empty()) write(out);
}

}  // namespace airlatch
