// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/verdict/rules.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <initializer_list>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "plugin/message/translatable.hpp"

namespace airlatch {
namespace {
using S = Statement;

// How often each statement shows without being the finding's mark.
struct Unmarked {
  S statement = S{};
  double probability = 0;
};
constexpr std::array<Unmarked, kStatements> kUnmarked = {{
    {S::kSourceLow, 0.01},
    {S::kBothDead, 0.005},
    {S::kArmedDead, 0.005},
    {S::kUntried, 0.02},
    {S::kLocked, 0.005},
    {S::kWiringBreaks, 0.01},
    {S::kBrushBreaks, 0.01},
    {S::kRunsOnFull, 0.005},
    {S::kRunsOnLow, 0.005},
    {S::kFeedOhm, 0.02},
    {S::kReturnOhm, 0.02},
    {S::kLeaks, 0.01},
    {S::kOnlyBlown, 0.02},
    {S::kOnlySucked, 0.02},
    {S::kBlocked, 0.02},
    {S::kMotorOhm, 0.01},
    {S::kBothCut, 0.5},
}};
constexpr bool unmarked_follow_the_enum() {
  for (std::size_t s = 0; s < kStatements; ++s)
    if (static_cast<std::size_t>(kUnmarked[s].statement) != s || !(kUnmarked[s].probability > 0))
      return false;
  return true;
}
static_assert(unmarked_follow_the_enum(), "each statement needs its row, in the enum's order");

// A list in a table that is there when compiled; too long a one does not compile.
template <typename T, std::size_t kMost>
class UpTo {
 public:
  constexpr UpTo(std::initializer_list<T> items) {
    for (const T& item : items) items_[count_++] = item;
  }
  [[nodiscard]] constexpr const T* begin() const { return items_.data(); }
  [[nodiscard]] constexpr const T* end() const { return items_.data() + count_; }

 private:
  std::array<T, kMost> items_{};
  std::size_t count_ = 0;
};

struct Mark {
  S statement = S{};
  double probability = 0;  // under this finding
};

struct Rule {
  FindingCode code;
  double prior;
  UpTo<Mark, 6> marks;
  const char* next_step;
  UpTo<const char*, 2> cautions;
};

constexpr const char* kFused = translatable(
    "Use a fused lead, starting with the rating the car's documents give; never let the clips "
    "touch.");
constexpr const char* kBattery =
    translatable("Make the last connection away from the battery, which vents explosive gas.");
constexpr const char* kHeat = translatable(
    "Do not power a dead line repeatedly: a motor that draws current without turning overheats in "
    "seconds.");
constexpr const char* kMoving =
    translatable("Keep fingers, hair and sleeves from moving linkages.");
constexpr const char* kPressure = translatable(
    "Wear eye protection when parts are under pressure; do not exceed the pressure the maker "
    "gives.");
constexpr const char* kAirbag = translatable("Never probe restraint-system (airbag) wiring.");

// Cheapest cause first: source, contacts and wiring, pump, line.
constexpr Rule kRules[] = {
    {FindingCode::SOUND,
     0.2,
     {{S::kBothCut, 0.99}},
     "Nothing to repair here. If the locks still fail, test the branches one by one.",
     {kMoving}},
    {FindingCode::NOT_ENOUGH_TESTED,
     0.1,
     {{S::kUntried, 0.99}, {S::kBothCut, 0.02}},
     "Run the other contact until the pump cuts off by itself, then try the first one again: a "
     "contact that was run to its limit is dead until then. Condemn nothing yet.",
     {kFused, kHeat}},
    {FindingCode::SOURCE_DEAD,
     0.05,
     {{S::kSourceLow, 0.98},
      {S::kUntried, 0.3},
      {S::kBothCut, 0.02},
      {S::kMotorOhm, 0.3},
      {S::kLocked, 0.3}},
     "Charge or replace the source, check its fuse, and test again.",
     {kBattery, kFused}},
    {FindingCode::FEED_RESISTANCE,
     0.05,
     {{S::kFeedOhm, 0.97}, {S::kBothCut, 0.9}, {S::kMotorOhm, 0.1}},
     "Clean the feed contact and its connectors; measure the voltage drop piece by piece.",
     {kFused, kAirbag}},
    {FindingCode::RETURN_RESISTANCE,
     0.05,
     {{S::kReturnOhm, 0.97}, {S::kBothCut, 0.9}, {S::kMotorOhm, 0.1}},
     "Clean the ground point; measure the voltage drop from the pump's ground to the source.",
     {kFused, kAirbag}},
    {FindingCode::CONTACT_INTERMITTENT,
     0.05,
     {{S::kWiringBreaks, 0.97}, {S::kBothCut, 0.9}},
     "Find the loose contact: move connectors and leads while the pump runs, and watch the feed.",
     {kFused, kMoving}},
    {FindingCode::MOTOR_OPEN,
     0.05,
     {{S::kBothDead, 0.97}, {S::kBothCut, 0.01}},
     "Measure the motor's resistance at the pump's contacts; open on both: the pump is done.",
     {kHeat}},
    {FindingCode::MOTOR_SEIZED,
     0.05,
     {{S::kLocked, 0.97}, {S::kBothCut, 0.02}, {S::kUntried, 0.1}},
     "Take the feed off. Open the pump: damp and rust seize it; free it or replace it.",
     {kHeat, kFused}},
    {FindingCode::MOTOR_WORN,
     0.05,
     {{S::kBrushBreaks, 0.5}, {S::kMotorOhm, 0.8}, {S::kBothCut, 0.9}},
     "Open the pump and look at brushes and commutator.",
     {kMoving}},
    {FindingCode::CHANGEOVER_STUCK,
     0.05,
     {{S::kArmedDead, 0.97}, {S::kBothCut, 0.01}, {S::kUntried, 0.05}},
     "The pump does not arm the other direction: free its internal changeover, or replace the "
     "pump.",
     {kHeat}},
    {FindingCode::CUTOFF_MISSING,
     0.05,
     {{S::kRunsOnFull, 0.97}, {S::kBothCut, 0.02}},
     "The pressure is there and the pump does not stop: repair its pressure switch; never leave "
     "it fed.",
     {kHeat, kPressure}},
    {FindingCode::PUMP_WEAK,
     0.05,
     {{S::kRunsOnLow, 0.97}, {S::kBothCut, 0.02}, {S::kLeaks, 0.05}},
     "Test the pump alone with its port closed: low there too, the vanes are worn.",
     {kHeat, kPressure}},
    {FindingCode::LINE_LEAK,
     0.06,
     {{S::kLeaks, 0.97},
      {S::kOnlyBlown, 0.03},
      {S::kOnlySucked, 0.03},
      {S::kBothCut, 0.85},
      {S::kUntried, 0.3},
      {S::kRunsOnLow, 0.15}},
     "Close the branches one at a time and hold again; the one that stops the loss leaks.",
     {kMoving, kPressure}},
    {FindingCode::LEAK_PRESSURE_SIDE,
     0.02,
     {{S::kLeaks, 0.97}, {S::kOnlyBlown, 0.97}, {S::kBothCut, 0.85}, {S::kUntried, 0.3}},
     "Tight when sucked, leaks when blown: look for a hose end that is pushed off, or a torn "
     "diaphragm's pressure side.",
     {kMoving, kPressure}},
    {FindingCode::LEAK_VACUUM_SIDE,
     0.02,
     {{S::kLeaks, 0.97}, {S::kOnlySucked, 0.97}, {S::kBothCut, 0.85}, {S::kUntried, 0.3}},
     "Tight when blown, leaks when sucked: look for a crack that opens inwards, or a torn "
     "diaphragm's vacuum side.",
     {kMoving, kPressure}},
    {FindingCode::LINE_BLOCKED,
     0.05,
     {{S::kBlocked, 0.97}, {S::kBothCut, 0.9}},
     "The air does not get into the line: look for a kinked or blocked hose close to the pump.",
     {kMoving}},
};

constexpr bool every_finding_has_its_rule() {
  std::array<int, EnumNames<FindingCode>::kAll.size()> rules{};
  for (const Rule& rule : kRules) ++rules[static_cast<std::size_t>(rule.code)];
  return std::all_of(rules.begin(), rules.end(), [](int n) { return n == 1; });
}
static_assert(every_finding_has_its_rule(), "each finding needs one row, and a name");

double given(const Rule& rule, S statement) {
  for (const auto& [marked, probability] : rule.marks)
    if (marked == statement) return probability;
  return kUnmarked[static_cast<std::size_t>(statement)].probability;
}

// Whether a statement is the finding's own mark, and not something that mostly goes with it.
bool is_own(const Mark& mark) { return mark.statement != S::kBothCut && mark.probability >= 0.5; }

// Whether these captures can show the finding at all: one of its marks was looked for.
bool can_be_shown(const Rule& rule, const EvidenceTable& evidence) {
  if (rule.code == FindingCode::SOUND || rule.code == FindingCode::NOT_ENOUGH_TESTED) return true;
  return std::any_of(rule.marks.begin(), rule.marks.end(), [&](const Mark& mark) {
    return is_own(mark) && evidence[static_cast<std::size_t>(mark.statement)].known;
  });
}

// A line that was held without a pump is all that the captures speak of.
bool held_only(const EvidenceTable& evidence) {
  const auto known = [&](S s) { return evidence[static_cast<std::size_t>(s)].known; };
  return known(S::kLeaks) && !known(S::kUntried);
}

std::string title_of(const Rule& rule, const EvidenceTable& evidence) {
  const std::string code = name_of(rule.code);
  if (!held_only(evidence)) return finding_words(code);
  if (rule.code == FindingCode::SOUND) return "What was held is tight";
  if (rule.code == FindingCode::LINE_LEAK) return "What was held leaks";
  return finding_words(code);
}

std::string next_step_of(const Rule& rule, const EvidenceTable& evidence) {
  if (rule.code == FindingCode::SOUND && held_only(evidence))
    return "Nothing to repair in what was held. Source, wiring and pump were not tested.";
  return rule.next_step;
}

}  // namespace

std::vector<std::string> untested(const EvidenceTable& evidence) {
  std::vector<std::string> out;
  for (const Rule& rule : kRules)
    if (!can_be_shown(rule, evidence)) out.push_back(name_of(rule.code));
  return out;
}

std::vector<Finding> judge(const EvidenceTable& evidence) {
  std::vector<std::pair<double, const Rule*>> scores;
  double total = 0;
  for (const Rule& rule : kRules) {
    if (!can_be_shown(rule, evidence)) continue;
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
  std::vector<Finding> findings;
  for (const auto& [score, rule] : scores) {
    const double likelihood = score / total;
    if (likelihood < kLeastLikelihood && !findings.empty()) break;
    Finding finding;
    finding.code = name_of(rule->code);
    finding.likelihood = likelihood;
    for (const auto& [statement, probability] : rule->marks) {
      const Evidence& e = evidence[static_cast<std::size_t>(statement)];
      if (!e.known || e.probability <= 0.5 || probability < 0.5) continue;
      for (const std::string& because : e.because) finding.evidence.emplace_back(because);
      finding.basis.insert(finding.basis.end(), e.basis.begin(), e.basis.end());
      if (e.more > 0)
        finding.evidence.emplace_back("and " + std::to_string(e.more) + " more of this kind");
    }
    finding.title = title_of(*rule, evidence);
    finding.next_step = next_step_of(*rule, evidence);
    for (const char* caution : rule->cautions) finding.cautions.emplace_back(caution);
    findings.push_back(std::move(finding));
  }
  return findings;
}

void add_findings(Report& report, const EvidenceTable& evidence) {
  report.untested = untested(evidence);
  std::set<std::string> cautions;
  for (Finding& finding : judge(evidence)) {
    for (const std::string& caution : finding.cautions)
      if (cautions.insert(caution).second) report.cautions.emplace_back(caution);
    report.findings.push_back(std::move(finding));
  }
  report.cautions.emplace_back(
      translatable("The maker's documents, local rules and qualified practice come first."));
}

std::optional<FindingCode> finding_of(const std::string& code) {
  const auto& names = EnumNames<FindingCode>::kAll;
  const auto at = std::find(names.begin(), names.end(), code);
  if (at == names.end()) return std::nullopt;
  return static_cast<FindingCode>(at - names.begin());
}

double prior_of(const std::string& code) {
  for (const Rule& rule : kRules)
    if (code == name_of(rule.code)) return rule.prior;
  return 0;
}

bool is_fault(const std::string& code) {
  const auto finding = finding_of(code);
  return finding != FindingCode::SOUND && finding != FindingCode::NOT_ENOUGH_TESTED;
}

bool is_leak(const std::string& code) {
  const auto finding = finding_of(code);
  return finding == FindingCode::LINE_LEAK || finding == FindingCode::LEAK_PRESSURE_SIDE ||
         finding == FindingCode::LEAK_VACUUM_SIDE;
}

namespace {
// What nobody looked at when the finding can neither be shown nor ruled out.
const char* part_of(FindingCode finding) {
  switch (finding) {
    case FindingCode::SOURCE_DEAD:
      return "the source";
    case FindingCode::FEED_RESISTANCE:
      return "the feed's resistance";
    case FindingCode::RETURN_RESISTANCE:
      return "the ground path's resistance";
    case FindingCode::CONTACT_INTERMITTENT:
      return "loose contacts";
    case FindingCode::MOTOR_OPEN:
    case FindingCode::MOTOR_SEIZED:
    case FindingCode::MOTOR_WORN:
      return "the motor";
    case FindingCode::CHANGEOVER_STUCK:
      return "the changeover";
    case FindingCode::CUTOFF_MISSING:
      return "the cut-off";
    case FindingCode::PUMP_WEAK:
      return "the pump's strength";
    case FindingCode::LINE_LEAK:
    case FindingCode::LEAK_PRESSURE_SIDE:
    case FindingCode::LEAK_VACUUM_SIDE:
      return "tightness";
    case FindingCode::LINE_BLOCKED:
      return "whether the air gets into the line";
    case FindingCode::SOUND:
    case FindingCode::NOT_ENOUGH_TESTED:
      break;
  }
  return "";
}
}  // namespace

std::string untested_words(const std::vector<std::string>& codes) {
  std::vector<std::string> parts;
  for (const std::string& code : codes) {
    const auto finding = finding_of(code);
    const std::string part = finding ? part_of(*finding) : code;
    if (std::find(parts.begin(), parts.end(), part) == parts.end()) parts.push_back(part);
  }
  if (parts.empty()) return "";
  return fmt::format("Not tested here: {}.", fmt::join(parts, ", "));
}

std::string finding_words(const std::string& code) {
  const auto finding = finding_of(code);
  if (!finding) return code;
  switch (*finding) {
    case FindingCode::SOUND:
      return "Pump and line are sound";
    case FindingCode::NOT_ENOUGH_TESTED:
      return "Not enough was tested to say";
    case FindingCode::SOURCE_DEAD:
      return "The source does not hold its voltage";
    case FindingCode::FEED_RESISTANCE:
      return "Too much resistance in the feed";
    case FindingCode::RETURN_RESISTANCE:
      return "Too much resistance in the ground path";
    case FindingCode::CONTACT_INTERMITTENT:
      return "A loose contact in the wiring";
    case FindingCode::MOTOR_OPEN:
      return "The motor draws nothing on either contact";
    case FindingCode::MOTOR_SEIZED:
      return "The motor does not turn";
    case FindingCode::MOTOR_WORN:
      return "The motor's brushes or winding are worn";
    case FindingCode::CHANGEOVER_STUCK:
      return "The pump does not arm its other direction";
    case FindingCode::CUTOFF_MISSING:
      return "The pump does not stop itself";
    case FindingCode::PUMP_WEAK:
      return "The pump does not reach its pressure";
    case FindingCode::LINE_LEAK:
      return "The line leaks";
    case FindingCode::LEAK_PRESSURE_SIDE:
      return "The line leaks when blown";
    case FindingCode::LEAK_VACUUM_SIDE:
      return "The line leaks when sucked";
    case FindingCode::LINE_BLOCKED:
      return "The line is blocked";
  }
  return code;
}

}  // namespace airlatch
