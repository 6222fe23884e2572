// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/faults.hpp"

#include <stdexcept>

namespace airlatch {
namespace {

void ran_a_try_a(PumpParameters&, Script& s) {
  s.dead_contact = 0;
  s.phases = {{.contact = 0, .most_s = 2.5, .rest_s = 3}};
}

}  // namespace

const std::vector<Fault>& faults() {
  using P = PumpParameters;
  static const std::vector<Fault> table = {
      {"sound", "SOUND", "a tight line and a healthy pump, both contacts run to their cut-off",
       [](P&, Script&) {}},
      {"source-dead", "SOURCE_DEAD", "a flat battery: 2 V at the terminals",
       [](P& p, Script& s) {
         p.u_oc_v = 2;
         s.phases[0].most_s = s.phases[1].most_s = 2.5;
       }},
      {"feed-resistance", "FEED_RESISTANCE", "a corroded feed contact, 1.2 ohm in contact A",
       [](P& p, Script&) { p.r_feed_ohm[0] = 1.2; }},
      {"return-resistance", "RETURN_RESISTANCE", "a corroded ground point, 1.0 ohm",
       [](P& p, Script&) { p.r_return_ohm = 1.0; }},
      {"contact-intermittent", "CONTACT_INTERMITTENT", "a loose feed clip: short breaks in a run",
       [](P&, Script& s) {
         s.interruptions = {{0, 0.55, 0.08, false}, {0, 1.0, 0.2, false}, {1, 0.8, 0.12, false}};
       }},
      {"motor-open", "MOTOR_OPEN", "no current on either contact: an open winding or brush",
       [](P& p, Script& s) {
         p.motor_open = true;
         s.phases[0].most_s = s.phases[1].most_s = 2.5;
         s.phases[0].rest_s = s.phases[1].rest_s = 3;
       }},
      {"motor-seized", "MOTOR_SEIZED", "the rotor does not turn: stall current",
       [](P& p, Script& s) {
         p.seized = true;
         s.phases[0].most_s = s.phases[1].most_s = 2;
         s.phases[0].rest_s = s.phases[1].rest_s = 3;
       }},
      {"motor-worn", "MOTOR_WORN", "worn brushes: high winding resistance, breaks while turning",
       [](P& p, Script& s) {
         p.r_ohm = 1.7;
         p.friction_nm *= 1.3;
         s.interruptions = {{0, 0.6, 0.05, true}, {0, 1.1, 0.1, true}, {1, 0.7, 0.07, true}};
       }},
      {"changeover-stuck", "CHANGEOVER_STUCK",
       "contact A runs, B stays dead, and A does not come back",
       [](P& p, Script& s) {
         p.stuck_contact = 1;
         s.phases = {{.contact = 0},
                     {.contact = 1, .most_s = 2.5, .rest_s = 3},
                     {.contact = 0, .most_s = 2.5, .rest_s = 3}};
       }},
      {"cutoff-missing", "CUTOFF_MISSING",
       "the pump reaches its end pressure and never stops itself",
       [](P& p, Script& s) {
         p.cutoff = false;
         s.phases = {{.contact = 0, .most_s = 17}, {.contact = 1, .most_s = 17}};
       }},
      {"pump-weak", "PUMP_WEAK", "worn vanes: the pressure stays below the cut-off",
       [](P& p, Script& s) {
         p.end_kpa = 30;
         p.displacement_m3 *= 0.6;
         s.phases = {{.contact = 0, .most_s = 17}, {.contact = 1, .most_s = 17}};
       }},
      {"line-leak", "LINE_LEAK", "a leak on both sides, time constant 60 s",
       [](P& p, Script&) { p.tau_leak_pressure_s = p.tau_leak_vacuum_s = 60; }},
      {"leak-pressure-side", "LEAK_PRESSURE_SIDE", "tight on vacuum, leaks on pressure",
       [](P& p, Script&) { p.tau_leak_pressure_s = 60; }},
      {"leak-vacuum-side", "LEAK_VACUUM_SIDE", "tight on pressure, leaks on vacuum",
       [](P& p, Script&) { p.tau_leak_vacuum_s = 60; }},
      {"line-blocked", "LINE_BLOCKED",
       "a kinked line: hardly any volume to fill, and nothing arrives",
       [](P& p, Script& s) {
         p.volume_m3 = 40e-6;
         p.blocked = true;
         s.branch_gauge = true;  // without it the pump might as well be alone
       }},
      {"not-enough-tested", "NOT_ENOUGH_TESTED",
       "a sound pump, tried only on the contact that is dead", ran_a_try_a},
      {"early-release", "", "the feed is taken away before the cut-off",
       [](P&, Script& s) { s.phases[0].most_s = 0.9; }},
      {"restart", "", "a leaking line lets the pump start again by itself while the feed is held",
       [](P& p, Script& s) {
         p.tau_leak_pressure_s = 40;
         p.rearms = true;
         p.changeover = false;
         s.phases = {{.contact = 0, .keep_s = 18}};
       }},
      {"bounce", "", "contact bounce at each switch-on", [](P&, Script& s) { s.bounce_s = 0.004; }},
      {"jam", "", "the rotor jams in the middle of the first run",
       [](P&, Script& s) {
         s.jam_at_s = 0.7;
         s.phases = {{.contact = 0, .most_s = 2.5, .rest_s = 5}};
       }},
      {"gap", "", "samples lost in the rest after the first run",
       [](P&, Script& s) {
         s.gap_at_s = 8;
         s.gap_s = 0.5;
       }},
      {"clipped", "", "a current probe with too small a range for the inrush",
       [](P&, Script& s) { s.clip_current_a = 6; }},
      {"command-pump", "SOUND",
       "a later pump: constant supply, a command line asks for the direction",
       [](P&, Script& s) { s.command = true; }},
  };
  return table;
}

const Fault& find_fault(const std::string& name) {
  std::string known;
  for (const Fault& fault : faults()) {
    if (name == fault.name) return fault;
    known += (known.empty() ? "" : ", ") + std::string(fault.name);
  }
  throw std::invalid_argument("no fault is called '" + name + "'; known: " + known);
}

}  // namespace airlatch
