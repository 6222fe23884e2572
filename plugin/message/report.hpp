// SPDX-License-Identifier: GPL-3.0-or-later
// report.hpp: a vehicle's job and the report that judges it.
//
// Plain structs of the messages in proto/airlatch/v1/setup.proto (Job) and report.proto, field for
// field, names kept. A message that may be absent is a std::optional.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "decoders/event.hpp"
#include "decoders/setup.hpp"

namespace airlatch {

enum class Phase : int { UNSPECIFIED, BEFORE, AFTER };
template <>
struct EnumNames<Phase> {
  static constexpr std::array<std::string_view, 3> kAll = {"PHASE_UNSPECIFIED", "BEFORE", "AFTER"};
};

struct Job {
  struct Capture {
    std::string file = {};
    Phase phase = Phase::UNSPECIFIED;
    std::string step = {};
    std::string closed_branch = {};
    std::string rig = {};  // rig file for this capture; empty: the one on the command line
    friend bool operator==(const Capture&, const Capture&) = default;
  };
  std::string vehicle = {};
  std::string job_number = {};
  std::string date = {};  // ISO 8601, for example "2026-03-14"
  std::vector<Capture> capture = {};
  std::string garage = {};  // who tests
  std::string customer = {};
  std::string technician = {};
  std::string odometer = {};             // as it reads, with its unit: "182 340 km"
  std::vector<std::string> remark = {};  // complaint, what was done: for the customer
  friend bool operator==(const Job&, const Job&) = default;
};

// One run of the motor, from MOTOR_START to the stop that ended it.
struct RunRecord {
  std::optional<Event> start = {};
  std::optional<Event> stop = {};  // absent while it runs, or when the capture ended first
};

struct Finding {
  // An event that it rests on, for programs; `evidence` says the same to people.
  struct Basis {
    std::uint32_t capture = 0;  // its place in Report::captures
    Event event = {};           // with the one measure that counts, if one does
  };
  std::string code = {};  // as in the contract, for example "NOT_ENOUGH_TESTED"
  double likelihood = 0;  // 0 to 1
  std::vector<std::string> evidence = {};
  std::string next_step = {};
  std::vector<std::string> cautions = {};
  std::string title = {};  // in plain words, for what was tested
  std::vector<Basis> basis = {};
};

enum class Outcome : int { UNSPECIFIED, PASS, FAIL, NOT_MEASURABLE, NOT_DONE };
template <>
struct EnumNames<Outcome> {
  static constexpr std::array<std::string_view, 5> kAll = {"OUTCOME_UNSPECIFIED", "PASS", "FAIL",
                                                           "NOT_MEASURABLE", "NOT_DONE"};
};

struct Report {
  struct Channel {
    std::string name = {};
    Role role = Role::UNSPECIFIED;
    double rate_hz = 0;  // 0: unevenly sampled
    std::int64_t samples = 0;
  };
  struct Capture {
    std::string file = {};
    std::string sha256 = {};
    double duration_s = 0;
    std::vector<Channel> channels = {};
    Phase phase = Phase::UNSPECIFIED;
    std::string step = {};
    std::string closed_branch = {};
    std::vector<std::string> remarks = {};     // for example that the file is cut short
    std::vector<std::string> understood = {};  // how the file was read, for people
    std::optional<Rig> rig = {};            // by which it was read
    std::string started = {};  // ISO 8601, by the clock of the file; empty: it knows none
  };
  struct LimitResult {
    Plan::Limit limit = {};
    std::optional<Measure> value = {};
    Outcome verdict = Outcome::UNSPECIFIED;
    std::string note = {};   // for people
    bool undecided = false;  // the limit lies within the uncertainty: too close to call
  };
  struct StepResult {
    std::string id = {};
    Outcome outcome = Outcome::UNSPECIFIED;
    std::vector<LimitResult> limits = {};
    std::string note = {};
  };
  // Which branch loses how much, from holds with branches closed in turn.
  struct LeakBudget {
    struct Branch {
      std::string name = {};
      Measure loss = {};  // kPa/min of the whole line at its start pressure
    };
    Direction direction = Direction::UNKNOWN;
    std::optional<Measure> whole = {};
    std::vector<Branch> branches = {};
    std::optional<Measure> rest = {};  // pump, trunk, and branches that were never closed
    std::string leaking = {};          // the branch that leaks; empty: not known, or none
    std::string conclusion = {};       // in words, with what is missing
  };
  // Which of three unknown contacts is which, from a capture in which the clips were moved.
  struct ContactFinding {
    struct Contact {
      std::string name = {};  // its channel
      std::string use = {};   // "ground", "blows", "sucks", "undecided"
      double ground = 0;      // probabilities
      double blows = 0;
      double sucks = 0;
    };
    std::vector<Contact> contacts = {};
    std::vector<std::string> trials = {};  // what was seen, in words
    std::string next_trial = {};           // empty: all is decided
    std::string next_feed = {};            // its two contacts
    std::string next_ground = {};
  };
  // One measure before and after a repair, events paired by kind and direction.
  struct Change {
    std::string event = {};    // "run, blowing"
    std::string measure = {};  // empty: the event itself
    std::optional<Measure> before = {};
    std::optional<Measure> after = {};
    double change = 0;         // after minus before, in the measure's unit
    double u = 0;              // its combined standard uncertainty
    std::string verdict = {};  // "improved", "worse", "no real change", "not comparable"
    std::string reason = {};   // why it cannot be compared
  };
  std::vector<Capture> captures = {};
  std::vector<Event> events = {};
  std::vector<RunRecord> runs = {};
  std::vector<Event> decays = {};
  std::vector<StepResult> steps = {};
  std::vector<Finding> findings = {};
  std::vector<std::string> cautions = {};
  std::string software_version = {};
  Rig rig = {};
  Plan plan = {};
  std::optional<Job> job = {};
  std::vector<LeakBudget> leak_budgets = {};  // one a direction
  std::vector<Change> changes = {};
  std::vector<Finding> before_findings = {};  // where there are captures before and after a repair
  std::vector<std::string> remarks = {};      // for example that the rigs differ
  std::optional<ContactFinding> contact_finding = {};
  std::vector<std::string> untested = {};  // findings that nothing here can show or rule out
};

}  // namespace airlatch
