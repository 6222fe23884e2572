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

namespace airlatch {
namespace {

// Variance of a share over what it would be alone: beyond it lies only rounding.
constexpr double kInseparable = 1e16;

// What a hold lost, per kPa of pressure.
struct Loss {
  double value = 0, u = 0;
};

// 1/s, or m³/s where all volumes are known.
Loss loss_of(const Hold& hold, bool by_volume) {
  const Measure& start = *find_measure(hold.decay, "start_pressure");
  const double p_kpa = std::abs(start.value);
  const Measure& lost = *find_measure(hold.decay, by_volume ? "leak_rate" : "slope");
  // Towards ambient counts as loss, whatever the direction.
  const double sign = by_volume || start.value < 0 ? 1 : -1;
  const double scale = by_volume ? 1000 * p_kpa : p_kpa;
  Loss loss{sign * lost.value / scale, lost.u / scale};
  if (!by_volume && !hold.closed.empty())
    loss.u = std::hypot(loss.u, kVolumeShare * std::abs(loss.value));
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
                    bool by_volume) {
  const std::size_t rows = holds.size(), columns = branches.size() + 1;
  Equations out{rows, columns, std::vector<double>(rows * columns), std::vector<double>(rows)};
  for (std::size_t r = 0; r < rows; ++r) {
    const Hold& hold = holds[r];
    const Loss loss = loss_of(hold, by_volume);
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
                const std::vector<std::string>& branches, bool by_volume) {
  const Measure& start = *find_measure(whole.decay, "start_pressure");
  const Loss total = loss_of(whole, by_volume);
  const Measure& slope = *find_measure(whole.decay, "slope");
  const double to_kpa_min = by_volume && total.value != 0
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

void conclude(Report::LeakBudget& out, const Shares& shares,
              const std::vector<std::string>& branches) {
  const std::size_t worst = shares.worst_branch();
  const std::string& name = branches[worst - 1];
  if (shares.is_real(worst) && shares.leads(worst)) {
    out.leaking = name;
    out.conclusion = fmt::format("The branch {} leaks.", name);
  } else if (shares.is_real(worst)) {
    out.conclusion = fmt::format(
        "Not decided: {} seems to leak, but others cannot be distinguished from it. Repeat the "
        "holds, each for a minute.",
        name);
  } else if (shares.is_real(0)) {
    out.conclusion =
        "None of the branches that were closed leaks measurably; the loss is in the rest: pump, "
        "trunk, or a branch that was not closed.";
  } else {
    out.conclusion = "Not decided: no part's loss is beyond its uncertainty.";
  }
}

Report::LeakBudget budget(const std::vector<Hold>& holds) {
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
  const bool by_volume = std::all_of(holds.begin(), holds.end(), [](const Hold& h) {
    return find_measure(h.decay, "leak_rate") != nullptr;
  });
  const std::optional<Shares> each = shares(equations(holds, branches, by_volume));
  if (!each) {
    out.conclusion =
        fmt::format("Not decided: these closings do not separate {}; close each of them alone.",
                    fmt::join(branches, ", "));
    return out;
  }
  add_losses(out, *whole, *each, branches, by_volume);
  conclude(out, *each, branches);
  return out;
}

}  // namespace

std::vector<Report::LeakBudget> leak_budgets(const std::vector<Hold>& holds) {
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
      out.push_back(budget(here));
  }
  return out;
}

}  // namespace airlatch
