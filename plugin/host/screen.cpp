// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/screen.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <optional>

#include "plugin/host/tell.hpp"
#include "plugin/host/terminal.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

constexpr int kWidth = 78;
constexpr std::size_t kLongestRemark = 150, kLongestPrompt = 280;  // bytes: two and four rows
constexpr const char* kClear = "\033[H\033[J";

std::string event_line(const Event& event) {
  std::string line = fmt::format("{:9.3f} s  {}", event.time_s, name_of(event.kind));
  if (event.contact != Contact::NONE) line += fmt::format(" {}", name_of(event.contact));
  return line;
}

// The fed contact of two; "-" where it is not measured.
std::string figure(const std::map<Role, double>& figures, std::initializer_list<Role> roles,
                   const char* unit) {
  std::optional<double> most;
  for (const Role role : roles)
    if (const auto at = figures.find(role); at != figures.end() && std::isfinite(at->second))
      most = std::max(most.value_or(at->second), at->second);
  return most ? fmt::format("{:8.2f} {:3}", *most, unit) : fmt::format("{:>8} {:3}", "-", unit);
}

}  // namespace

void Screen::keep(const std::string& line) {
  recent_.push_back(shown_text(line, kLongestRemark));
  if (recent_.size() > kRecent) recent_.pop_front();
}

void Screen::event(const Event& event) {
  if (form_ == Form::kDrawn) keep(event_line(event));
  if (form_ == Form::kLines) shown_.write(event_line(event) + "\n");
}

void Screen::remark(const std::string& text) {
  if (form_ == Form::kDrawn)
    keep("* " + text);
  else if (form_ != Form::kNothing)
    told_.write(note_line(text));
}

void Screen::bell() {
  if (drawn()) shown_.write("\a");
}

bool Screen::due(double now_s) {
  if (!drawn() || !shown_.idle() || now_s - drawn_s_ < kRefresh_s) return false;
  drawn_s_ = now_s;
  return true;
}

std::string Screen::frame(const ScreenFacts& facts) const {
  const int whole_s = static_cast<int>(facts.newest_s);
  std::string out = kClear;
  out += fmt::format("airlatch  {}   {:02}:{:02}   queue {:.0f} %   {}\n\n",
                     facts.ending ? "ending" : "capturing", whole_s / 60, whole_s % 60,
                     100 * facts.queue_share, shown_name(facts.recording));
  out += fmt::format("\033[1m   {}   {}   {}\033[0m\n",
                     figure(facts.figures, {Role::FEED_A_VOLTAGE, Role::FEED_B_VOLTAGE}, "V"),
                     figure(facts.figures, {Role::MOTOR_CURRENT}, "A"),
                     figure(facts.figures, {Role::LINE_PRESSURE}, "kPa"));
  out += "   feed         motor          line\n\n";
  if (!facts.prompt.empty())
    out += wrapped("\033[1mNow\033[0m " + shown_text(facts.prompt, kLongestPrompt) + "\n", kWidth) +
           "\n";
  if (facts.led && facts.prompt.empty()) out += "The plan is done. Ctrl-C ends.\n\n";
  for (const std::string& line : recent_) out += wrapped(line, kWidth);
  out += "\nFused lead, clips apart, fingers clear. Ctrl-C ends.\n";
  return out;
}

void Screen::draw(const ScreenFacts& facts) { shown_.write(frame(facts)); }

void Screen::clear() {
  if (drawn()) shown_.write(kClear);
}

}  // namespace airlatch
