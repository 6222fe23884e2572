// SPDX-License-Identifier: GPL-3.0-or-later
// fields.hpp: one row a field of every message: its number, its name in proto/, its member.
//
// In:   the structs of decoders/event.hpp, decoders/setup.hpp and plugin/message/report.hpp.
// Out:  Fields<M>::each(message, visit) calls visit(number, name, member) a row, numbers rising.
// How:  bytes (wire), text (text_format) and the oracle of the tests all walk these rows, so a field
//       is added here once. tests/plugin/message/fields_test compares them with proto/airlatch/v1.
//
// What a member's type says: std::optional<double> is an `optional double`, std::optional of a
// message one that may be absent, a message itself one that is always there, std::vector `repeated`.
#pragma once
#include <concepts>
#include <optional>
#include <string>
#include <string_view>
#include <type_traits>
#include <vector>

#include "decoders/event.hpp"
#include "decoders/setup.hpp"
#include "plugin/message/report.hpp"

namespace airlatch {

template <typename Message>
struct Fields;

template <typename T>
concept MessageType = requires {
  Fields<T>::kName;
};
template <typename T>
concept EnumType = std::is_enum_v<T>;

// Events.

template <>
struct Fields<Measure> {
  static constexpr std::string_view kName = "airlatch.v1.Measure";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "name", m.name);
    field(2, "value", m.value);
    field(3, "u", m.u);
    field(4, "unit", m.unit);
  }
};

template <>
struct Fields<Missing> {
  static constexpr std::string_view kName = "airlatch.v1.Missing";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "measure", m.measure);
    field(2, "code", m.code);
    field(3, "text", m.text);
  }
};

template <>
struct Fields<Event> {
  static constexpr std::string_view kName = "airlatch.v1.Event";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "kind", m.kind);
    field(2, "time_s", m.time_s);
    field(3, "time_u_s", m.time_u_s);
    field(4, "direction", m.direction);
    field(5, "contact", m.contact);
    field(6, "measures", m.measures);
    field(7, "note", m.note);
    field(8, "missing", m.missing);
  }
};

// What a user writes.

template <>
struct Fields<Rig::Channel> {
  static constexpr std::string_view kName = "airlatch.v1.Rig.Channel";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "source", m.source);
    field(2, "role", m.role);
    field(3, "scale", m.scale);
    field(4, "offset", m.offset);
    field(5, "invert", m.invert);
    field(6, "auto_zero", m.auto_zero);
    field(7, "range_min", m.range_min);
    field(8, "range_max", m.range_max);
    field(9, "u_abs", m.u_abs);
    field(10, "u_rel", m.u_rel);
    field(11, "unit", m.unit);
    field(12, "absolute", m.absolute);
    field(13, "lag_s", m.lag_s);
    field(14, "lag_u_s", m.lag_u_s);
    field(15, "average_s", m.average_s);
  }
};

template <>
struct Fields<TextLayout> {
  static constexpr std::string_view kName = "airlatch.v1.TextLayout";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "skip_lines", m.skip_lines);
    field(2, "time_column", m.time_column);
    field(3, "time_unit", m.time_unit);
    field(4, "date_order", m.date_order);
    field(5, "decimal", m.decimal);
  }
};

template <>
struct Fields<Rig> {
  static constexpr std::string_view kName = "airlatch.v1.Rig";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "name", m.name);
    field(2, "channel", m.channel);
    field(3, "contact_a_direction", m.contact_a_direction);
    field(4, "line_volume_ml", m.line_volume_ml);
    field(5, "line_volume_u_ml", m.line_volume_u_ml);
    field(6, "commutator_segments", m.commutator_segments);
    field(7, "ripples_per_turn", m.ripples_per_turn);
    field(8, "nominal_voltage_v", m.nominal_voltage_v);
    field(9, "ambient_kpa", m.ambient_kpa);
    field(10, "ambient_u_kpa", m.ambient_u_kpa);
    field(11, "text", m.text);
    field(12, "swept_volume_ml", m.swept_volume_ml);
  }
};

template <>
struct Fields<Plan::Limit> {
  static constexpr std::string_view kName = "airlatch.v1.Plan.Limit";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "measure", m.measure);
    field(2, "min", m.min);
    field(3, "max", m.max);
  }
};

template <>
struct Fields<Plan::Step> {
  static constexpr std::string_view kName = "airlatch.v1.Plan.Step";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "id", m.id);
    field(2, "title", m.title);
    field(3, "prompt", m.prompt);
    field(4, "expect", m.expect);
    field(5, "direction", m.direction);
    field(6, "limit", m.limit);
  }
};

template <>
struct Fields<Plan> {
  static constexpr std::string_view kName = "airlatch.v1.Plan";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "name", m.name);
    field(2, "response_limit_s", m.response_limit_s);
    field(3, "run_limit_s", m.run_limit_s);
    field(4, "step", m.step);
    field(5, "branch", m.branch);
  }
};

template <>
struct Fields<Job::Capture> {
  static constexpr std::string_view kName = "airlatch.v1.Job.Capture";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "file", m.file);
    field(2, "phase", m.phase);
    field(3, "step", m.step);
    field(4, "closed_branch", m.closed_branch);
    field(5, "rig", m.rig);
  }
};

template <>
struct Fields<Job> {
  static constexpr std::string_view kName = "airlatch.v1.Job";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "vehicle", m.vehicle);
    field(2, "job_number", m.job_number);
    field(3, "capture", m.capture);
    field(4, "date", m.date);
    field(5, "garage", m.garage);
    field(6, "customer", m.customer);
    field(7, "technician", m.technician);
    field(8, "odometer", m.odometer);
    field(9, "remark", m.remark);
  }
};

// The report.

template <>
struct Fields<RunRecord> {
  static constexpr std::string_view kName = "airlatch.v1.Run";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "start", m.start);
    field(2, "stop", m.stop);
  }
};

template <>
struct Fields<Finding::Basis> {
  static constexpr std::string_view kName = "airlatch.v1.Finding.Basis";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "capture", m.capture);
    field(2, "event", m.event);
  }
};

template <>
struct Fields<Finding> {
  static constexpr std::string_view kName = "airlatch.v1.Finding";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "code", m.code);
    field(2, "likelihood", m.likelihood);
    field(3, "evidence", m.evidence);
    field(4, "next_step", m.next_step);
    field(5, "cautions", m.cautions);
    field(6, "title", m.title);
    field(7, "basis", m.basis);
  }
};

template <>
struct Fields<Report::Channel> {
  static constexpr std::string_view kName = "airlatch.v1.Report.Channel";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "name", m.name);
    field(2, "role", m.role);
    field(3, "rate_hz", m.rate_hz);
    field(4, "samples", m.samples);
  }
};

template <>
struct Fields<Report::Capture> {
  static constexpr std::string_view kName = "airlatch.v1.Report.Capture";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "file", m.file);
    field(2, "sha256", m.sha256);
    field(3, "duration_s", m.duration_s);
    field(4, "channels", m.channels);
    field(5, "phase", m.phase);
    field(6, "step", m.step);
    field(7, "closed_branch", m.closed_branch);
    field(8, "remarks", m.remarks);
    field(9, "understood", m.understood);
    field(10, "rig", m.rig);
    field(11, "started", m.started);
  }
};

template <>
struct Fields<Report::LimitResult> {
  static constexpr std::string_view kName = "airlatch.v1.Report.LimitResult";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "limit", m.limit);
    field(2, "value", m.value);
    field(3, "verdict", m.verdict);
    field(4, "note", m.note);
    field(5, "undecided", m.undecided);
  }
};

template <>
struct Fields<Report::StepResult> {
  static constexpr std::string_view kName = "airlatch.v1.Report.StepResult";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "id", m.id);
    field(2, "outcome", m.outcome);
    field(3, "limits", m.limits);
    field(4, "note", m.note);
  }
};

template <>
struct Fields<Report::LeakBudget::Branch> {
  static constexpr std::string_view kName = "airlatch.v1.Report.LeakBudget.Branch";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "name", m.name);
    field(2, "loss", m.loss);
  }
};

template <>
struct Fields<Report::LeakBudget> {
  static constexpr std::string_view kName = "airlatch.v1.Report.LeakBudget";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "direction", m.direction);
    field(2, "whole", m.whole);
    field(3, "branches", m.branches);
    field(4, "rest", m.rest);
    field(5, "leaking", m.leaking);
    field(6, "conclusion", m.conclusion);
  }
};

template <>
struct Fields<Report::ContactFinding::Contact> {
  static constexpr std::string_view kName = "airlatch.v1.Report.ContactFinding.Contact";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "name", m.name);
    field(2, "use", m.use);
    field(3, "ground", m.ground);
    field(4, "blows", m.blows);
    field(5, "sucks", m.sucks);
  }
};

template <>
struct Fields<Report::ContactFinding> {
  static constexpr std::string_view kName = "airlatch.v1.Report.ContactFinding";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "contacts", m.contacts);
    field(2, "trials", m.trials);
    field(3, "next_trial", m.next_trial);
    field(4, "next_feed", m.next_feed);
    field(5, "next_ground", m.next_ground);
  }
};

template <>
struct Fields<Report::Change> {
  static constexpr std::string_view kName = "airlatch.v1.Report.Change";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "event", m.event);
    field(2, "measure", m.measure);
    field(3, "before", m.before);
    field(4, "after", m.after);
    field(5, "change", m.change);
    field(6, "u", m.u);
    field(7, "verdict", m.verdict);
    field(8, "reason", m.reason);
  }
};

template <>
struct Fields<Report> {
  static constexpr std::string_view kName = "airlatch.v1.Report";
  template <typename M, typename Visit>
  static void each(M& m, Visit&& field) {
    field(1, "captures", m.captures);
    field(2, "events", m.events);
    field(3, "runs", m.runs);
    field(4, "decays", m.decays);
    field(5, "steps", m.steps);
    field(6, "findings", m.findings);
    field(7, "cautions", m.cautions);
    field(8, "software_version", m.software_version);
    field(9, "rig", m.rig);
    field(10, "plan", m.plan);
    field(11, "job", m.job);
    field(12, "leak_budgets", m.leak_budgets);
    field(13, "changes", m.changes);
    field(14, "before_findings", m.before_findings);
    field(15, "remarks", m.remarks);
    field(16, "contact_finding", m.contact_finding);
    field(17, "untested", m.untested);
  }
};

}  // namespace airlatch
