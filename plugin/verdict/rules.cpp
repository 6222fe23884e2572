#include "plugin/verdict/rules.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <string>
#include <utility>

namespace airlatch {
namespace {
using S = Statement;

// How often each statement shows without being the finding's mark.
constexpr std::array<double, kStatements> kUnmarked = {
    0.01,   // source low
    0.005,  // both dead
    0.005,  // armed contact dead
    0.02,   // untried
    0.005,  // locked
    0.01,   // wiring breaks
    0.01,   // brush breaks
    0.005,  // runs on, full
    0.005,  // runs on, low
    0.02,   // feed ohm
    0.02,   // return ohm
    0.03,   // leaks, pressure
    0.03,   // leaks, vacuum
    0.02,   // rises fast
    0.02,   // motor ohm
    0.5,    // both cut
};

struct Rule {
  const char* code;
  double prior;
  std::vector<std::pair<S, double>> marks;  // statement, its probability under this finding
  const char* next_step;
  std::vector<const char*> cautions;
};

constexpr const char* kFused =
    "Use a fused lead, starting with the rating the car's documents give; never let the clips "
    "touch.";
constexpr const char* kBattery =
    "Make the last connection away from the battery, which vents explosive gas.";
constexpr const char* kHeat =
    "Do not power a dead line repeatedly: a motor that draws current without turning overheats in "
    "seconds.";
constexpr const char* kMoving = "Keep fingers, hair and sleeves from moving linkages.";
constexpr const char* kPressure =
    "Wear eye protection when parts are under pressure; do not exceed the pressure the maker "
    "gives.";
constexpr const char* kAirbag = "Never probe restraint-system (airbag) wiring.";

// Cheapest cause first: source, contacts and wiring, pump, line.
const std::vector<Rule>& rules() {
  static const std::vector<Rule> table = {
      {"SOUND",
       0.2,
       {{S::kBothCut, 0.99}},
       "Nothing to repair here. If the locks still fail, test the branches one by one.",
       {kMoving}},
      {"NOT_ENOUGH_TESTED",
       0.1,
       {{S::kUntried, 0.99}, {S::kBothCut, 0.02}},
       "Run the other contact until the pump cuts off by itself, then try the first one again: a "
       "contact that was run to its limit is dead until then. Condemn nothing yet.",
       {kFused, kHeat}},
      {"SOURCE_DEAD",
       0.05,
       {{S::kSourceLow, 0.98},
        {S::kUntried, 0.3},
        {S::kBothCut, 0.02},
        {S::kMotorOhm, 0.3},
        {S::kLocked, 0.3},
        {S::kRisesFast, 0.02}},
       "Charge or replace the source, check its fuse, and test again.",
       {kBattery, kFused}},
      {"FEED_RESISTANCE",
       0.05,
       {{S::kFeedOhm, 0.97}, {S::kBothCut, 0.9}, {S::kMotorOhm, 0.1}},
       "Clean the feed contact and its connectors; measure the voltage drop piece by piece.",
       {kFused, kAirbag}},
      {"RETURN_RESISTANCE",
       0.05,
       {{S::kReturnOhm, 0.97}, {S::kBothCut, 0.9}, {S::kMotorOhm, 0.1}},
       "Clean the ground point; measure the voltage drop from the pump's ground to the source.",
       {kFused, kAirbag}},
      {"CONTACT_INTERMITTENT",
       0.05,
       {{S::kWiringBreaks, 0.97}, {S::kBothCut, 0.9}},
       "Find the loose contact: move connectors and leads while the pump runs, and watch the feed.",
       {kFused, kMoving}},
      {"MOTOR_OPEN",
       0.05,
       {{S::kBothDead, 0.97}, {S::kBothCut, 0.01}},
       "Measure the motor's resistance at the pump's contacts; open on both: the pump is done.",
       {kHeat}},
      {"MOTOR_SEIZED",
       0.05,
       {{S::kLocked, 0.97}, {S::kBothCut, 0.02}, {S::kUntried, 0.1}},
       "Take the feed off. Open the pump: damp and rust seize it; free it or replace it.",
       {kHeat, kFused}},
      {"MOTOR_WORN",
       0.05,
       {{S::kBrushBreaks, 0.9}, {S::kMotorOhm, 0.9}, {S::kBothCut, 0.9}},
       "Open the pump and look at brushes and commutator.",
       {kMoving}},
      {"CHANGEOVER_STUCK",
       0.05,
       {{S::kArmedDead, 0.97}, {S::kBothCut, 0.01}, {S::kUntried, 0.05}},
       "The pump does not arm the other direction: free its internal changeover, or replace the "
       "pump.",
       {kHeat}},
      {"CUTOFF_MISSING",
       0.05,
       {{S::kRunsOnFull, 0.97}, {S::kBothCut, 0.02}},
       "The pressure is there and the pump does not stop: repair its pressure switch; never leave "
       "it fed.",
       {kHeat, kPressure}},
      {"PUMP_WEAK",
       0.05,
       {{S::kRunsOnLow, 0.97},
        {S::kBothCut, 0.02},
        {S::kLeaksPressure, 0.05},
        {S::kLeaksVacuum, 0.05}},
       "Test the pump alone with its port closed: low there too, the vanes are worn.",
       {kHeat, kPressure}},
      {"LINE_LEAK",
       0.05,
       {{S::kLeaksPressure, 0.97},
        {S::kLeaksVacuum, 0.97},
        {S::kBothCut, 0.85},
        {S::kRunsOnLow, 0.15}},
       "Close the branches one at a time and hold again; the one that stops the loss leaks.",
       {kMoving, kPressure}},
      {"LEAK_PRESSURE_SIDE",
       0.05,
       {{S::kLeaksPressure, 0.97}, {S::kBothCut, 0.85}},
       "Tight when sucked, leaks when blown: look for a hose end that is pushed off, or a torn "
       "diaphragm's pressure side.",
       {kMoving, kPressure}},
      {"LEAK_VACUUM_SIDE",
       0.05,
       {{S::kLeaksVacuum, 0.97}, {S::kBothCut, 0.85}},
       "Tight when blown, leaks when sucked: look for a crack that opens inwards, or a torn "
       "diaphragm's vacuum side.",
       {kMoving, kPressure}},
      {"LINE_BLOCKED",
       0.05,
       {{S::kRisesFast, 0.97}, {S::kBothCut, 0.9}},
       "Hardly any volume was filled: look for a kinked or blocked line close to the pump.",
       {kMoving}},
  };
  return table;
}

double given(const Rule& rule, S statement) {
  for (const auto& [marked, probability] : rule.marks)
    if (marked == statement) return probability;
  return kUnmarked[static_cast<std::size_t>(statement)];
}

}  // namespace

std::vector<v1::Finding> judge(const EvidenceTable& evidence) {
  std::vector<std::pair<double, const Rule*>> scores;
  double total = 0;
  for (const Rule& rule : rules()) {
    double score = rule.prior;
    for (std::size_t s = 0; s < kStatements; ++s) {
      if (!evidence[s].known) continue;
      const double p = evidence[s].probability, here = given(rule, static_cast<S>(s));
      score *= p * here + (1 - p) * (1 - here);
    }
    scores.emplace_back(score, &rule);
    total += score;
  }
  std::stable_sort(scores.begin(), scores.end(),
                   [](const auto& a, const auto& b) { return a.first > b.first; });
  std::vector<v1::Finding> findings;
  for (const auto& [score, rule] : scores) {
    const double likelihood = score / total;
    if (likelihood < kLeastLikelihood && !findings.empty()) break;
    v1::Finding finding;
    finding.set_code(rule->code);
    finding.set_likelihood(likelihood);
    for (const auto& [statement, probability] : rule->marks) {
      const Evidence& e = evidence[static_cast<std::size_t>(statement)];
      if (!e.known || e.probability <= 0.5 || probability <= 0.5) continue;
      for (const std::string& because : e.because) finding.add_evidence(because);
      if (e.more > 0) finding.add_evidence("and " + std::to_string(e.more) + " more of this kind");
    }
    finding.set_next_step(rule->next_step);
    for (const char* caution : rule->cautions) finding.add_cautions(caution);
    findings.push_back(std::move(finding));
  }
  return findings;
}

void add_findings(v1::Report& report, const EvidenceTable& evidence) {
  std::set<std::string> cautions;
  for (v1::Finding& finding : judge(evidence)) {
    for (const std::string& caution : finding.cautions())
      if (cautions.insert(caution).second) report.add_cautions(caution);
    *report.add_findings() = std::move(finding);
  }
  report.add_cautions("The maker's documents, local rules and qualified practice come first.");
}

double prior_of(const std::string& code) {
  for (const Rule& rule : rules())
    if (code == rule.code) return rule.prior;
  return 0;
}

bool is_fault(const std::string& code) { return code != "SOUND" && code != "NOT_ENOUGH_TESTED"; }

}  // namespace airlatch
