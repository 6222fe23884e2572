#include "plugin/session/summary.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "decoders/context.hpp"
#include "plugin/session/quantity.hpp"
#include "plugin/sources/units.hpp"

namespace airlatch {
namespace {

std::string quantity(const v1::Event& event, const char* name, const char* missing = "-") {
  const v1::Measure* m = find_measure(event, name);
  return m ? format_quantity(m->value(), m->u(), m->unit()) : missing;
}

std::string plain(const v1::Event& event, const char* name) {
  const v1::Measure* m = find_measure(event, name);
  return m ? format_quantity(m->value(), m->u(), "") : "-";
}

std::string contact(const v1::Event& event) {
  return event.contact() == v1::A ? "contact A" : event.contact() == v1::B ? "contact B" : "";
}

std::string direction(const v1::Event& event) { return direction_words(event.direction()); }

// What a line loses, or the bound where that cannot be told from nothing.
std::string loss(const v1::Event& event, const char* unit) {
  const v1::Measure* m = find_measure(event, "decay_rate");
  if (!m) return "-";
  if (std::abs(m->value()) > 2 * m->u()) return format_quantity(m->value(), m->u(), unit);
  return fmt::format("less than {:.2g}{}{} (95 %)", std::abs(m->value()) + 1.645 * m->u(),
                     *unit ? " " : "", unit);
}

// The words of each kind, and what of its measures belongs in the line.
std::string words(const v1::Event& event) {
  const std::string at = contact(event).empty() ? "" : ", " + contact(event);
  switch (event.kind()) {
    case v1::FEED_ON:
      return fmt::format("feed on{}, {}", at.empty() ? " (command line)" : at,
                         quantity(event, "level"));
    case v1::FEED_OFF:
      return fmt::format("feed off{}", at.empty() ? " (command line)" : at);
    case v1::MOTOR_START:
      return fmt::format("motor starts, {}{}; inrush {}", direction(event), at,
                         quantity(event, "inrush_peak", "not seen"));
    case v1::STALL_CUTOFF:
      return fmt::format("pump cuts off by itself{} after {} at {}", at,
                         quantity(event, "run_time"),
                         quantity(event, "end_pressure", "unknown pressure"));
    case v1::MOTOR_STOP:
      return fmt::format("motor stops{}, no cut-off of its own seen, after {}", at,
                         quantity(event, "run_time", "unknown time"));
    case v1::DIRECTION_REVERSAL:
      return fmt::format(
          "direction reversed, {}; rest before it {}",
          event.direction() == v1::UNKNOWN ? "by the other contact" : "now " + direction(event),
          quantity(event, "rest_time", "unknown"));
    case v1::LEAK_DECAY:
      return fmt::format("line left alone at {}: loses {}", quantity(event, "start_pressure"),
                         loss(event, "kPa/min"));
    case v1::NO_RESPONSE:
      return fmt::format("no response{}: no motor current within {}", at,
                         quantity(event, "waited"));
    case v1::RUN_ON:
      return fmt::format("motor runs on{} without cutting off, at {}", at,
                         quantity(event, "pressure", "unknown pressure"));
    case v1::LOCKED_ROTOR:
      return fmt::format("rotor does not turn{}: {}", at, quantity(event, "stall_current"));
    case v1::RESTART:
      return fmt::format("motor starts again by itself{}, {} after its cut-off", at,
                         quantity(event, "hold_time"));
    case v1::DROPOUT:
      return fmt::format("current drops out{} for {}", at, quantity(event, "duration"));
    case v1::GAP:
      return fmt::format("samples missing for {}", quantity(event, "duration", "the rest"));
    case v1::CLIPPED:
      return fmt::format("sensor at its range limit for {}", quantity(event, "duration"));
    default:
      return v1::Kind_Name(event.kind());
  }
}

std::size_t width_of(const std::string& text) {  // characters, not bytes
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xc0) != 0x80; }));
}

using Cells = std::vector<std::string>;

constexpr std::size_t kPiece = 1 << 14;  // told at a time

// `row(event)` for each event it has one for, under a head: once for the widths, once to be told.
// Only events that are `wanted` are looked at.
template <typename Wanted, typename Row>
void tell_table(const std::string& title, const Cells& head, const EventStore& events,
                const Wanted& wanted, const Row& row,
                const std::function<void(const std::string&)>& tell) {
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
    tell(out);
    out.clear();
  };
  v1::Event event;
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
  tell(out);
}

}  // namespace

void tell_summary(const CaptureFacts& facts, const EventStore& events,
                  const std::function<void(const std::string&)>& tell) {
  std::string out = fmt::format("{}: {:.4g} s\n", facts.file, facts.duration_s);
  std::string line;
  for (const auto& channel : facts.channels) {
    const std::string one =
        fmt::format("{} [{}] {}", channel.name, unit_of(channel.role),
                    channel.rate_hz > 0 ? fmt::format("{:.6g}/s", channel.rate_hz) : "own times");
    if (line.size() + one.size() > 96) {
      out += line + ",\n";
      line.clear();
    }
    line += (line.empty() ? "  " : ", ") + one;
  }
  out += line + "\n\n";
  if (events.empty()) out += "No events.\n";
  tell(out);

  tell_table(
      "", {}, events, [](v1::Kind) { return true; },
      [](const v1::Event& event) -> Cells {
        return {format_value(event.time_s(), std::max(event.time_u_s(), 1e-5)) + " s",
                "± " + format_u(std::max(event.time_u_s(), 1e-6)), words(event)};
      },
      tell);
  tell_table(
      "\nRuns\n",
      {"run", "way", "time s", "current A", "end kPa", "rise kPa/s", "feed path Ω", "return path Ω",
       "shaft rev/min"},
      events, [](v1::Kind kind) { return kind == v1::STALL_CUTOFF || kind == v1::MOTOR_STOP; },
      [](const v1::Event& event) -> Cells {
        return {contact(event).empty() ? "run" : contact(event),
                direction(event),
                plain(event, "run_time"),
                plain(event, "run_current"),
                plain(event, "end_pressure"),
                plain(event, "rise_rate"),
                plain(event, "feed_path_resistance"),
                plain(event, "return_path_resistance"),
                plain(event, "shaft_speed")};
      },
      tell);
  tell_table(
      "\nLine left alone\n",
      {"from s", "for s", "start kPa", "loses kPa/min", "time constant s", "leak Pa·m³/s",
       "hole mm"},
      events, [](v1::Kind kind) { return kind == v1::LEAK_DECAY; },
      [](const v1::Event& event) -> Cells {
        return {format_value(event.time_s(), 0.05), plain(event, "duration"),
                plain(event, "start_pressure"),     loss(event, ""),
                plain(event, "time_constant"),      plain(event, "leak_rate"),
                plain(event, "leak_hole")};
      },
      tell);

  std::set<std::string> notes;
  bool caution = false;
  events.for_each([&](const v1::Event& event) {
    caution = caution || event.kind() == v1::LOCKED_ROTOR || event.kind() == v1::RUN_ON;
    std::size_t at = 0;
    while (at < event.note().size()) {  // notes are parts joined by "; "
      const std::size_t end = std::min(event.note().find("; ", at), event.note().size());
      const std::string note = event.note().substr(at, end - at);
      // These stand in the event's own line already.
      if (note != "command line" && !note.starts_with("decay_rate below")) notes.insert(note);
      at = end + 2;
    }
  });
  std::vector<std::string> remarks = facts.remarks;
  remarks.insert(remarks.end(), notes.begin(), notes.end());
  if (!facts.damage.empty()) remarks.insert(remarks.begin(), facts.damage);
  out = remarks.empty() ? "" : "\nRemarks\n";
  for (const std::string& remark : remarks) out += "  - " + remark + "\n";
  if (caution)
    out +=
        "\nCaution: take the feed off. A motor that draws current without turning, or never cuts "
        "off,\noverheats in seconds. The maker's documents and local rules come first.\n";
  if (!out.empty()) tell(out);
}

const char* direction_words(v1::Direction direction) {
  return direction == v1::PRESSURE ? "blowing"
         : direction == v1::VACUUM ? "sucking"
                                   : "direction not known";
}

}  // namespace airlatch
