// SPDX-License-Identifier: GPL-3.0-or-later
// screen.hpp: what a live capture shows: a screen on a terminal, lines elsewhere.
//
// In    events and remarks as they come; the state of the capture, from time to time.
// Out   on a terminal one screen of 80 by 24 at most, in plain ANSI, so that it works over ssh;
//       elsewhere a line an event on standard output and a line a remark on standard error. Neither
//       is waited for: a terminal that stands still misses frames.
#pragma once
#include <deque>
#include <map>
#include <string>

#include "decoders/event.hpp"
#include "decoders/setup.hpp"
#include "plugin/host/side_output.hpp"

namespace airlatch {

// Where the capture stands.
struct ScreenFacts {
  bool ending = false;
  double newest_s = 0;     // of the capture
  double queue_share = 0;  // of the fullest instrument's queue
  std::string recording;   // to where, or that it does not
  std::map<Role, double> figures = {};
  bool led = false;         // by a plan
  std::string prompt = {};  // what to do now; empty: the plan, if there is one, is done
};

class Screen {
 public:
  enum class Form { kDrawn, kLines, kRemarks, kNothing };
  static constexpr double kRefresh_s = 0.2;
  static constexpr std::size_t kRecent = 6;  // lines

  // `shown`, `told`: standard output and error, as it were.
  Screen(Form form, SideOutput& shown, SideOutput& told)
      : form_(form), shown_(shown), told_(told) {}
  [[nodiscard]] bool drawn() const { return form_ == Form::kDrawn; }
  void event(const Event& event);
  void remark(const std::string& text);
  void bell();
  // Whether it is time to draw again. `now_s`: rising, from any origin.
  bool due(double now_s);
  void draw(const ScreenFacts& facts);
  void clear();
  [[nodiscard]] std::string frame(const ScreenFacts& facts) const;  // what `draw` writes

 private:
  void keep(const std::string& line);

  Form form_;
  SideOutput &shown_, &told_;
  double drawn_s_ = 0;
  std::deque<std::string> recent_ = {};
};

}  // namespace airlatch
