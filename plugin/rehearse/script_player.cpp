// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/script_player.hpp"

#include <algorithm>
#include <utility>

namespace airlatch {
namespace {

constexpr double kLead_s = 0.5;        // quiet before the first feed
constexpr double kLeadSpread_s = 1.0;  // starts fall anywhere between a slow meter's readings
constexpr double kRestSpread_s = 0.5;
constexpr double kTail_s = 0.6;  // and after the last rest
constexpr double kDead_s = 2.5;  // a contact that does nothing is held this long at most
constexpr double kStep_s = 0.001;
constexpr double kDeadSource_v = 3.6;  // no feed channel takes less for a feed

// An interruption begins (open) or ends.
struct Switching {
  double t_s;
  bool open, brush;
};

// One feed, while the technician holds it.
struct Hold {
  const FeedPhase& phase;
  bool first;  // of the script
  double on_s, off_s;
  std::vector<Switching> switchings = {};
  std::size_t next_switching = 0;
  bool jammed = false, responded = false, restarts = false;
  double cut_s = -1;  // negative: has not cut off, or runs again
};

class Player {
 public:
  Player(const Script& script, MeasuredPump& pump, Random& random)
      : script_(script), pump_(pump), model_(pump.model()), random_(random) {
    const PumpParameters& p = model_.parameters();
    live_source_ = p.u_oc_v > kDeadSource_v;
    rearms_ = p.rearms;
  }

  Played play() {
    model_.set_dead(script_.dead_contact);
    pump_.run_to(kLead_s + kLeadSpread_s * random_.uniform());
    for (std::size_t index = 0; index < script_.phases.size(); ++index) {
      const FeedPhase& phase = script_.phases[index];
      const double on_s = model_.time_s();
      Hold hold{.phase = phase,
                .first = index == 0,
                .on_s = on_s,
                .off_s = on_s + (rearms_ ? phase.keep_s : phase.most_s)};
      connect(hold);
      bounce(hold);
      plan_interruptions(hold, static_cast<int>(index));
      keep(hold);
      release(hold);
    }
    pump_.run_to(model_.time_s() + kTail_s);
    return std::move(played_);
  }

 private:
  void connect(const Hold& hold) {
    const int contact = hold.phase.contact;
    pump_.set_command(contact == 0);
    model_.feed(contact, true);
    if (script_.command && contact == 1)  // the line falls: its other level asks for B
      played_.feeds.push_back({hold.on_s, 0, false});
    else if (live_source_)
      played_.feeds.push_back({hold.on_s, contact, true});
    pump_.record();
  }

  // The contact opens three times before it holds.
  void bounce(const Hold& hold) {
    if (script_.bounce_s <= 0) return;
    for (int k = 1; k <= 3; ++k) {
      pump_.run_to(hold.on_s + script_.bounce_s * (2 * k - 1) / 6);
      model_.open_wire(true);
      model_.advance(model_.time_s());
      pump_.run_to(hold.on_s + script_.bounce_s * 2 * k / 6);
      model_.open_wire(false);
    }
  }

  void plan_interruptions(Hold& hold, int index) {
    for (const Interruption& gap : script_.interruptions) {
      if (gap.phase != index) continue;
      const double at_s = hold.on_s + gap.at_s * (0.9 + 0.2 * random_.uniform());
      const double until_s = at_s + gap.length_s * (0.9 + 0.2 * random_.uniform());
      hold.switchings.push_back({at_s, true, gap.brush});
      hold.switchings.push_back({until_s, false, gap.brush});
    }
  }

  // Until the pump has cut off and was kept on for a while, or does nothing for too long.
  void keep(Hold& hold) {
    while (model_.time_s() < hold.off_s - 1e-9) {
      pump_.run_to(next_look_s(hold));
      switch_what_is_due(hold);
      hold.responded = hold.responded || model_.driven();
      if (hold.responded && model_.cut_off() && hold.cut_s < 0) {
        hold.cut_s = model_.time_s();
        // What moves still coasts to rest before the movement ends.
        while (model_.speed_rad_s() > 0) pump_.run_to(model_.time_s() + kStep_s);
        pump_.end_movement(false, hold.on_s, hold.restarts);
        hold.restarts = true;
        if (!rearms_) hold.off_s = hold.cut_s + hold.phase.keep_s;
      }
      if (rearms_ && model_.driven()) hold.cut_s = -1;
      if (!hold.responded && model_.time_s() > hold.on_s + kDead_s) break;
    }
  }

  [[nodiscard]] double next_look_s(const Hold& hold) const {
    const double to_s = std::min(hold.off_s, model_.time_s() + kStep_s);
    if (hold.next_switching == hold.switchings.size()) return to_s;
    return std::min(to_s,
                    std::max(hold.switchings[hold.next_switching].t_s, model_.time_s() + 1e-6));
  }

  void switch_what_is_due(Hold& hold) {
    if (hold.next_switching < hold.switchings.size() &&
        model_.time_s() >= hold.switchings[hold.next_switching].t_s - 1e-9) {
      const Switching& now = hold.switchings[hold.next_switching++];
      if (now.brush) {
        model_.open_brush(now.open);
      } else {
        model_.open_wire(now.open);
        played_.feeds.push_back({model_.time_s(), hold.phase.contact, !now.open});
      }
    }
    if (script_.jam_at_s > 0 && !hold.jammed && hold.first &&
        model_.time_s() >= hold.on_s + script_.jam_at_s) {
      model_.seize(true);
      hold.jammed = true;
    }
  }

  // Takes the feed away and leaves the line alone. A command pump's supply stays, unless it runs on
  // and on: then its fuse is pulled.
  void release(const Hold& hold) {
    const double gone_s = model_.time_s();
    const bool by_feed = pump_.in_movement();
    if (!script_.command || by_feed) {
      model_.feed(hold.phase.contact, false);
      if (live_source_ && !script_.command)
        played_.feeds.push_back({gone_s, hold.phase.contact, false});
    }
    if (by_feed) {
      while (model_.speed_rad_s() > 0 || model_.current_a() > 0)
        pump_.run_to(model_.time_s() + kStep_s);
      pump_.end_movement(true, hold.on_s, hold.restarts);
    }
    if (!hold.responded && live_source_ && !script_.command && gone_s - hold.on_s > kResponse_s)
      played_.unanswered.push_back({hold.on_s, hold.phase.contact, true});
    const double rest_from_s = hold.cut_s >= 0 ? hold.cut_s : gone_s;
    pump_.run_to(rest_from_s + hold.phase.rest_s + kRestSpread_s * random_.uniform());
  }

  const Script& script_;
  MeasuredPump& pump_;
  PumpModel& model_;
  Random& random_;
  bool live_source_ = false, rearms_ = false;
  Played played_;
};

}  // namespace

Played play(const Script& script, MeasuredPump& pump, Random& random) {
  return Player(script, pump, random).play();
}

}  // namespace airlatch
