// rules.hpp: from evidence to findings, by a table of likelihoods anyone can read.
//
// How   naive Bayes: each finding has a prior and, for each statement, the probability that the
//       statement holds when the finding is the truth. Independent evidence multiplies; evidence
//       that is itself uncertain is averaged over; what is not known weighs nothing. The table is
//       rules.cpp's first page; its numbers are ours (common practice, no source), tried on
//       rehearsals of every finding.
#pragma once
#include <string>
#include <vector>

#include "airlatch/v1/report.pb.h"
#include "plugin/verdict/evidence.hpp"

namespace airlatch {

// Findings, most likely first, with those below kLeast left out; at least one.
constexpr double kLeastLikelihood = 0.01;
std::vector<v1::Finding> judge(const EvidenceTable& evidence);

// The same as the report's findings, with all their cautions once, and the last word's.
void add_findings(v1::Report& report, const EvidenceTable& evidence);

// How often a finding is taken to be the case before anything is measured, as the table has it.
double prior_of(const std::string& code);

// Whether a finding names something to repair.
bool is_fault(const std::string& code);

}  // namespace airlatch
