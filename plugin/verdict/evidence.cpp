#include "plugin/verdict/evidence.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "decoders/context.hpp"
#include "plugin/session/quantity.hpp"

namespace airlatch {
namespace {

std::string cite(const v1::Event& event, const v1::Measure* measure = nullptr) {
  std::string text =
      fmt::format("{} at {}", v1::Kind_Name(event.kind()),
                  format_quantity(event.time_s(), std::max(event.time_u_s(), 1e-6), "s"));
  if (event.contact() != v1::NONE) text += ", contact " + v1::Contact_Name(event.contact());
  if (measure)
    text += fmt::format(": {} {}", measure->name(),
                        format_quantity(measure->value(), measure->u(), measure->unit()));
  return text;
}

// Probability that the truth lies above the limit; the limit itself is good to a twentieth.
double above(double value, double u, double limit) {
  const double spread = std::hypot(u, 0.05 * limit);
  return 0.5 * std::erfc((limit - value) / spread / std::sqrt(2.0));
}

}  // namespace

class EvidenceGatherer::Inner {
 public:
  explicit Inner(const VerdictLimits& limits) : limits_(limits) {}

  void take(const EventStore& events) {
    events.for_each([&](const v1::Event& event) { take(event, events); });
  }

  EvidenceTable finish() {
    const bool both_dead = dead_[1] && dead_[2] && !ran_[1] && !ran_[2];
    const bool by_contact = tried_[1] || tried_[2];
    set(Statement::kBothDead, both_dead ? 0.99 : 0.01, by_contact);
    set(Statement::kArmedDead, armed_dead_ ? 0.99 : 0.01, by_contact);
    // A contact that does nothing is tried when the other has been run to its cut-off before, or
    // is dead as well; a car whose contacts nobody measures is tried by two runs.
    const bool tried = by_contact ? (tried_[1] && tried_[2]) : cut_[0] >= 2;
    set(Statement::kUntried, tried || anything_wrong_ ? 0.01 : 0.99, true);
    set(Statement::kBothCut,
        by_contact ? (cut_[1] > 0 && cut_[2] > 0 ? 0.99 : 0.01) : (cut_[0] >= 2 ? 0.99 : 0.01),
        tried);
    const bool run = ran_[0] || ran_[1] || ran_[2];
    for (const Statement s : {Statement::kLocked, Statement::kWiringBreaks, Statement::kBrushBreaks,
                              Statement::kRunsOnFull, Statement::kRunsOnLow})
      set(s, 0.01, run);  // a run that showed none of it
    return std::move(table_);
  }

 private:
  Evidence& at(Statement s) { return table_[static_cast<std::size_t>(s)]; }
  // The most certain sight of a statement counts.
  void saw(Statement s, double probability, const std::string& because) {
    Evidence& evidence = at(s);
    if (!evidence.known || probability > evidence.probability) evidence.probability = probability;
    evidence.known = true;
    if (probability > 0.5) because_of(s, because);
  }
  void because_of(Statement s, const std::string& because) {
    Evidence& evidence = at(s);
    if (evidence.because.size() < kMostCited)
      evidence.because.push_back(because);
    else
      ++evidence.more;
  }
  void set(Statement s, double probability, bool known) {
    if (!known || at(s).known) return;
    at(s).known = true;
    at(s).probability = probability;
  }
  void limit(Statement s, const v1::Event& event, const char* name, double limit) {
    if (const v1::Measure* m = find_measure(event, name))
      saw(s, above(m->value(), m->u(), limit), cite(event, m));
  }

  void take(const v1::Event& event, const EventStore& all) {
    const auto contact = static_cast<std::size_t>(event.contact());
    switch (event.kind()) {
      case v1::FEED_ON:
        if (event.contact() == v1::NONE) break;
        if (const v1::Measure* level = find_measure(event, "level")) {
          saw(Statement::kSourceLow, 1 - above(level->value(), level->u(), limits_.source_v),
              cite(event, level));
          level_v_[contact] = level->value();
        }
        break;
      case v1::MOTOR_START: {
        ran_[contact] = tried_[contact] = true;
        const v1::Measure* peak = find_measure(event, "inrush_peak");
        inrush_[contact] = peak ? *peak : v1::Measure();
        inrush_event_[contact] = event;
        break;
      }
      case v1::NO_RESPONSE:
        dead_[contact] = true;
        because_of(Statement::kBothDead, cite(event));
        // Run to its limit on one contact, the other one is armed.
        if (last_cut_ != 0 && contact != 0 && contact != last_cut_) {
          armed_dead_ = true;
          because_of(Statement::kArmedDead, cite(event));
        }
        tried_[contact] = true;
        break;
      case v1::STALL_CUTOFF:
      case v1::MOTOR_STOP:
        if (event.kind() == v1::STALL_CUTOFF) {
          last_cut_ = contact;
          ++cut_[contact];
          because_of(Statement::kBothCut, cite(event));
        }
        if (event.note().find("never came up to a source's voltage") != std::string::npos) {
          saw(Statement::kSourceLow, 0.99, cite(event));
          anything_wrong_ = true;
        }
        limit(Statement::kFeedOhm, event, "feed_path_resistance", limits_.path_ohm);
        limit(Statement::kReturnOhm, event, "return_path_resistance", limits_.path_ohm);
        limit(Statement::kRisesFast, event, "rise_rate", limits_.rise_kpa_s);
        motor(event, contact);
        break;
      case v1::LOCKED_ROTOR:
        saw(Statement::kLocked, 0.98, cite(event, find_measure(event, "stall_current")));
        anything_wrong_ = true;
        break;
      case v1::RUN_ON:
        anything_wrong_ = true;
        if (const v1::Measure* p = find_measure(event, "pressure")) {
          const double full = above(std::abs(p->value()), p->u(), limits_.full_kpa);
          saw(Statement::kRunsOnFull, full, cite(event, p));
          saw(Statement::kRunsOnLow, 1 - full, cite(event, p));
        } else {
          saw(Statement::kRunsOnFull, 0.5, cite(event));
          saw(Statement::kRunsOnLow, 0.5, cite(event));
        }
        break;
      case v1::DROPOUT: {
        const v1::Measure* length = find_measure(event, "duration");
        const double until_s = event.time_s() + (length ? length->value() : 0.5) + 0.02;
        bool fed = false, known = false;
        for (std::size_t i = all.first_at_or_after(event.time_s() - 0.02);
             i < all.size() && all.time_s(i) < until_s && !fed; ++i)
          fed = all.kind(i) == v1::FEED_OFF && all.time_s(i) > event.time_s() - 0.02;
        for (std::size_t i = 0; i < all.size() && !known; ++i)
          known = all.kind(i) == v1::FEED_ON && all.contact(i) != v1::NONE;
        if (known) saw(fed ? Statement::kWiringBreaks : Statement::kBrushBreaks, 0.97, cite(event));
        break;
      }
      case v1::LEAK_DECAY:
        limit(event.direction() == v1::VACUUM ? Statement::kLeaksVacuum : Statement::kLeaksPressure,
              event, "decay_rate", limits_.decay_kpa_min);
        break;
      default:
        break;
    }
  }

  // The winding's resistance: from the start itself, or else feed over inrush less the paths.
  void motor(const v1::Event& stop, std::size_t contact) {
    if (find_measure(stop, "motor_resistance")) {
      limit(Statement::kMotorOhm, stop, "motor_resistance", limits_.motor_ohm);
      return;
    }
    const v1::Measure& peak = inrush_[contact];
    if (!(peak.value() > 0) || !(level_v_[contact] > limits_.source_v)) return;
    const v1::Measure *feed = find_measure(stop, "feed_path_resistance"),
                      *back = find_measure(stop, "return_path_resistance");
    if (!feed || !back) return;
    const double ohm = level_v_[contact] / peak.value() - feed->value() - back->value();
    // The inrush is a little less than the stall current.
    const double u = ohm * std::hypot(peak.u() / peak.value(), 0.06);
    saw(Statement::kMotorOhm, above(ohm, u, limits_.motor_ohm),
        fmt::format("{}, about {}", cite(inrush_event_[contact], &peak),
                    format_quantity(ohm, u, "Ω in the motor")));
  }

  VerdictLimits limits_;
  EvidenceTable table_;
  std::array<bool, 3> tried_ = {}, ran_ = {}, dead_ = {};
  std::array<int, 3> cut_ = {};
  std::array<double, 3> level_v_ = {};
  std::array<v1::Measure, 3> inrush_;
  std::array<v1::Event, 3> inrush_event_;
  std::size_t last_cut_ = 0;
  bool armed_dead_ = false, anything_wrong_ = false;
};

EvidenceGatherer::EvidenceGatherer(const VerdictLimits& limits)
    : inner_(std::make_unique<Inner>(limits)) {}
EvidenceGatherer::~EvidenceGatherer() = default;
void EvidenceGatherer::take(const EventStore& events) { inner_->take(events); }
EvidenceTable EvidenceGatherer::finish() { return inner_->finish(); }

EvidenceTable gather_evidence(const std::vector<std::vector<v1::Event>>& captures,
                              const VerdictLimits& limits) {
  EvidenceGatherer gatherer(limits);
  for (const auto& events : captures) gatherer.take(EventStore(events));
  return gatherer.finish();
}

}  // namespace airlatch
