// SPDX-License-Identifier: GPL-3.0-or-later
// rules.hpp: from evidence to findings, by a table of likelihoods that anyone can read.
//
// How   naive Bayes: each finding has a prior and, for each statement, the probability that the
//       statement holds when the finding is the truth. Independent evidence multiplies; evidence
//       that is itself uncertain is averaged over; what is not known weighs nothing, and a finding
//       none of whose marks was looked for is left out and named as untested. The table is
//       rules.cpp's first page; its numbers are ours (common practice, no source), tried on
//       rehearsals of every finding.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "plugin/message/report.hpp"
#include "plugin/verdict/evidence.hpp"

namespace airlatch {

// The contract's findings.
enum class FindingCode : int {
  SOUND,
  NOT_ENOUGH_TESTED,
  SOURCE_DEAD,
  FEED_RESISTANCE,
  RETURN_RESISTANCE,
  CONTACT_INTERMITTENT,
  MOTOR_OPEN,
  MOTOR_SEIZED,
  MOTOR_WORN,
  CHANGEOVER_STUCK,
  CUTOFF_MISSING,
  PUMP_WEAK,
  LINE_LEAK,
  LEAK_PRESSURE_SIDE,
  LEAK_VACUUM_SIDE,
  LINE_BLOCKED,
};
template <>
struct EnumNames<FindingCode> {
  static constexpr std::array<std::string_view, 16> kAll = {"SOUND",
                                                            "NOT_ENOUGH_TESTED",
                                                            "SOURCE_DEAD",
                                                            "FEED_RESISTANCE",
                                                            "RETURN_RESISTANCE",
                                                            "CONTACT_INTERMITTENT",
                                                            "MOTOR_OPEN",
                                                            "MOTOR_SEIZED",
                                                            "MOTOR_WORN",
                                                            "CHANGEOVER_STUCK",
                                                            "CUTOFF_MISSING",
                                                            "PUMP_WEAK",
                                                            "LINE_LEAK",
                                                            "LEAK_PRESSURE_SIDE",
                                                            "LEAK_VACUUM_SIDE",
                                                            "LINE_BLOCKED"};
};
// Of a code as reports hold it; nothing where a newer version wrote it.
std::optional<FindingCode> finding_of(const std::string& code);

// Findings, most likely first, with those below kLeast left out; at least one.
constexpr double kLeastLikelihood = 0.01;
std::vector<Finding> judge(const EvidenceTable& evidence);

// Codes of the findings that the evidence can neither show nor rule out: left out by judge().
std::vector<std::string> untested(const EvidenceTable& evidence);

// Adds them to the report as its findings, with each of their cautions once and a general one
// last.
void add_findings(Report& report, const EvidenceTable& evidence);

// How often a finding is taken to be the case before anything is measured, as the table has it.
double prior_of(const std::string& code);

// Whether a finding names something to repair, and whether that is a leak of the line.
bool is_fault(const std::string& code);
bool is_leak(const std::string& code);
// "The line leaks"; the code itself where it is not known.
std::string finding_words(const std::string& code);
// "Not tested here: the source, the motor." of report.untested; empty where all was.
std::string untested_words(const std::vector<std::string>& codes);

}  // namespace airlatch
