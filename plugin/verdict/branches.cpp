// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/verdict/branches.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <set>
#include <vector>

#include "decoders/method/linear_step.hpp"
#include "plugin/session/quantity.hpp"

namespace airlatch {
namespace {

// Variance of a share over what it would be alone: beyond it lies only rounding.
constexpr double kInseparable = 1e16;

// What a hold lost, per kPa of pressure.
struct Loss {
  double value = 0, u = 0;
};

// By which measure losses are added: the best that all holds have.
const char* measure_of(const std::vector<Hold>& holds) {
  for (const char* measure : {"leak_share", "leak_rate"})
    if (std::all_of(holds.begin(), holds.end(),
                    [&](const Hold& hold) { return find_measure(hold.decay, measure); }))
      return measure;
  return "slope";
}

// In the measure's unit, a kPa.
Loss loss_of(const Hold& hold, const std::string& measure) {
  const Measure& start = *find_measure(hold.decay, "start_pressure");
  const double p_kpa = std::abs(start.value);
  const Measure& lost = *find_measure(hold.decay, measure);
  // Towards ambient counts as loss, whatever the direction.
  const double towards = find_measure(hold.decay, "slope")->value * start.value <= 0 ? 1 : -1;
  Loss loss{towards * std::abs(lost.value) / p_kpa, lost.u / p_kpa};
  if (measure == "slope" && !hold.closed.empty()) {
    loss.u = std::hypot(loss.u, kVolumeGone / std::sqrt(12.0) * std::abs(loss.value));
    loss.value *= 1 - kVolumeGone / 2;
  }
  return loss;
}

Measure kpa_min(double value, double u) {
  Measure m;
  m.name = "loss";
  m.value = value;
  m.u = u;
  m.unit = "kPa/min";
  return m;
}

// What each part takes of the loss, per kPa of pressure: the rest at 0, then the branches.
struct Shares {
  std::vector<double> value, covariances;
  [[nodiscard]] double covariance(std::size_t a, std::size_t b) const {
    return covariances[a * value.size() + b];
  }
  [[nodiscard]] double u(std::size_t part) const { return std::sqrt(covariance(part, part)); }
  [[nodiscard]] bool is_real(std::size_t part) const { return value[part] > 2 * u(part); }
  [[nodiscard]] std::size_t worst_branch() const;
  // Whether a branch's share is beyond that of each other.
  [[nodiscard]] bool leads(std::size_t branch) const;
};

std::size_t Shares::worst_branch() const {
  std::size_t worst = 1;
  for (std::size_t c = 2; c < value.size(); ++c)
    if (value[c] > value[worst]) worst = c;
  return worst;
}

bool Shares::leads(std::size_t branch) const {
  for (std::size_t c = 1; c < value.size(); ++c) {
    if (c == branch) continue;
    const double u =
        std::sqrt(covariance(branch, branch) + covariance(c, c) - 2 * covariance(branch, c));
    if (!(value[branch] - value[c] > 2 * u)) return false;
  }
  return true;
}

// A row a hold: the sum over the parts that were open is what was lost. Rows are weighted by their
// uncertainty.
struct Equations {
  std::size_t rows, columns;
  std::vector<double> open;     // a column a part
  std::vector<double> missing;  // less what is lost
};

Equations equations(const std::vector<Hold>& holds, const std::vector<std::string>& branches,
                    const std::string& measure) {
  const std::size_t rows = holds.size(), columns = branches.size() + 1;
  Equations out{rows, columns, std::vector<double>(rows * columns), std::vector<double>(rows)};
  for (std::size_t r = 0; r < rows; ++r) {
    const Hold& hold = holds[r];
    const Loss loss = loss_of(hold, measure);
    const double u = std::max(loss.u, 1e-9 * std::abs(loss.value) + 1e-30);
    for (std::size_t c = 0; c < columns; ++c) {
      const bool closed =
          c > 0 && std::count(hold.closed.begin(), hold.closed.end(), branches[c - 1]) > 0;
      out.open[c * rows + r] = closed ? 0 : 1 / u;
    }
    out.missing[r] = -loss.value / u;
  }
  return out;
}

// None where the closings do not separate the parts.
std::optional<Shares> shares(const Equations& from) {
  if (from.rows < from.columns) return std::nullopt;
  Shares out{std::vector<double>(from.columns), std::vector<double>(from.columns * from.columns)};
  inverse_of(from.open, from.rows, out.covariances);
  for (std::size_t c = 0; c < from.columns; ++c) {
    double squares = 0;  // of the column: what the variance would be, were it alone, is 1 over it
    for (std::size_t r = 0; r < from.rows; ++r)
      squares += from.open[c * from.rows + r] * from.open[c * from.rows + r];
    if (!(out.covariance(c, c) * squares < kInseparable)) return std::nullopt;
  }
  LinearStep linear(from.rows, from.columns);
  linear.take(from.open, from.missing);
  linear.damped(0, out.value);
  return out;
}

// Losses as kPa/min of the whole line at its own start pressure.
void add_losses(Report::LeakBudget& out, const Hold& whole, const Shares& shares,
                const std::vector<std::string>& branches, const std::string& measure) {
  const Measure& start = *find_measure(whole.decay, "start_pressure");
  const Loss total = loss_of(whole, measure);
  const Measure& slope = *find_measure(whole.decay, "slope");
  const double to_kpa_min = measure != "slope" && total.value != 0
                                ? 60 * std::abs(slope.value) / std::abs(total.value)
                                : 60 * std::abs(start.value);
  out.whole = kpa_min(total.value * to_kpa_min, total.u * to_kpa_min);
  for (std::size_t c = 1; c < shares.value.size(); ++c) {
    auto& branch = out.branches.emplace_back();
    branch.name = branches[c - 1];
    branch.loss = kpa_min(shares.value[c] * to_kpa_min, shares.u(c) * to_kpa_min);
  }
  out.rest = kpa_min(shares.value[0] * to_kpa_min, shares.u(0) * to_kpa_min);
}

// What the whole line may lose, kPa/min, in the units of its own leak; nothing where no limit holds.
std::optional<double> allowed_kpa_min(const Event& whole, const Measure& loss,
                                      const Limits& limits) {
  const Measure* leak = limits.judged_leak(whole);
  if (!leak || !(leak->value > 0)) return std::nullopt;
  const Range range = limits.of(whole.kind, whole.direction, leak->name);
  if (!range.max) return std::nullopt;
  return loss.value * *range.max / leak->value;
}

std::string of_loss(const Measure& part, const Measure& whole) {
  return fmt::format("{} of {}", format_quantity(part.value, part.u, ""),
                     format_quantity(whole.value, whole.u, "kPa/min"));
}

// More is lost with a branch closed than with all open, or less than nothing by the rest.
bool impossible(const Report::LeakBudget& budget) {
  const auto below_zero = [](const Measure& m) { return m.value < -3 * m.u; };
  return below_zero(*budget.rest) ||
         std::any_of(budget.branches.begin(), budget.branches.end(),
                     [&](const auto& branch) { return below_zero(branch.loss); });
}

void conclude(Report::LeakBudget& out, const Shares& shares,
              const std::vector<std::string>& branches, std::optional<double> allowed) {
  const std::size_t worst = shares.worst_branch();
  const std::string& name = branches[worst - 1];
  const Measure &loss = out.branches[worst - 1].loss, &rest = *out.rest;
  const double remains = out.whole->value - loss.value;
  const bool would_do = !allowed || remains <= *allowed;
  if (impossible(out)) {
    out.conclusion =
        "These captures do not belong together: with a branch closed the line lost more than with "
        "all open. Hold them again, one after the other, from the same pressure.";
  } else if (shares.is_real(worst) && shares.leads(worst) && would_do) {
    out.leaking = name;
    out.conclusion = fmt::format("The branch {} leaks: {}.", name, of_loss(loss, *out.whole));
  } else if (shares.is_real(0) && rest.value > loss.value) {
    out.conclusion = fmt::format(
        "Most of the loss, {}, is in none of the branches that were closed: look at the pump, the "
        "trunk, and branches that were not closed.",
        of_loss(rest, *out.whole));
    if (shares.is_real(worst))
      out.conclusion += fmt::format(" The branch {} loses {} of it.", name,
                                    format_quantity(loss.value, loss.u, "kPa/min"));
  } else if (shares.is_real(worst) && shares.leads(worst)) {
    out.conclusion = fmt::format(
        "The branch {} loses most, {}, but mending it alone leaves {:.2g} kPa/min: more leaks.",
        name, of_loss(loss, *out.whole), remains);
  } else if (shares.is_real(worst)) {
    out.conclusion = fmt::format(
        "Not decided: {} seems to leak, but others cannot be distinguished from it. Repeat the "
        "holds, each for a minute.",
        name);
  } else {
    out.conclusion = "Not decided: no part's loss is beyond its uncertainty.";
  }
}

Report::LeakBudget budget(const std::vector<Hold>& holds, const Limits& limits) {
  std::set<std::string> names;
  for (const Hold& hold : holds) names.insert(hold.closed.begin(), hold.closed.end());
  const std::vector<std::string> branches(names.begin(), names.end());
  const auto whole =
      std::find_if(holds.begin(), holds.end(), [](const Hold& h) { return h.closed.empty(); });

  Report::LeakBudget out;
  out.direction = holds.front().decay.direction;
  if (whole == holds.end()) {
    out.conclusion = "Not decided: a capture of the whole line, with no branch closed, is missing.";
    return out;
  }
  const std::string measure = measure_of(holds);
  const std::optional<Shares> each = shares(equations(holds, branches, measure));
  if (!each) {
    out.conclusion =
        fmt::format("Not decided: these closings do not separate {}; close each of them alone.",
                    fmt::join(branches, ", "));
    return out;
  }
  add_losses(out, *whole, *each, branches, measure);
  conclude(out, *each, branches, allowed_kpa_min(whole->decay, *out.whole, limits));
  return out;
}

}  // namespace

std::vector<Report::LeakBudget> leak_budgets(const std::vector<Hold>& holds, const Limits& limits) {
  std::vector<Report::LeakBudget> out;
  for (const Direction direction : {Direction::PRESSURE, Direction::VACUUM, Direction::UNKNOWN}) {
    std::vector<Hold> here;
    for (const Hold& hold : holds) {
      const Measure* start = find_measure(hold.decay, "start_pressure");
      if (hold.decay.direction == direction && start && start->value != 0 &&
          find_measure(hold.decay, "slope"))
        here.push_back(hold);
    }
    if (std::any_of(here.begin(), here.end(), [](const Hold& h) { return !h.closed.empty(); }))
      out.push_back(budget(here, limits));
  }
  return out;
}

}  // namespace airlatch
