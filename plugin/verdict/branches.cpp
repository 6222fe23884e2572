#include "plugin/verdict/branches.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <vector>

#include "decoders/context.hpp"
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
  const v1::Measure& start = *find_measure(hold.decay, "start_pressure");
  const double p_kpa = std::abs(start.value());
  const v1::Measure& lost = *find_measure(hold.decay, by_volume ? "leak_rate" : "slope");
  // Towards ambient counts as loss, whatever the direction.
  const double sign = by_volume || start.value() < 0 ? 1 : -1;
  const double scale = by_volume ? 1000 * p_kpa : p_kpa;
  Loss loss{sign * lost.value() / scale, lost.u() / scale};
  if (!by_volume && !hold.closed.empty())
    loss.u = std::hypot(loss.u, kVolumeShare * std::abs(loss.value));
  return loss;
}

v1::Measure kpa_min(double value, double u) {
  v1::Measure m;
  m.set_name("loss");
  m.set_value(value);
  m.set_u(u);
  m.set_unit("kPa/min");
  return m;
}

v1::Report::LeakBudget budget(const std::vector<Hold>& holds) {
  std::set<std::string> names_set;
  for (const Hold& hold : holds) names_set.insert(hold.closed.begin(), hold.closed.end());
  const std::vector<std::string> names(names_set.begin(), names_set.end());
  const auto whole =
      std::find_if(holds.begin(), holds.end(), [](const Hold& h) { return h.closed.empty(); });

  v1::Report::LeakBudget out;
  out.set_direction(holds.front().decay.direction());
  if (whole == holds.end()) {
    out.set_conclusion(
        "Cannot be told: a capture of the whole line, with no branch closed, is missing.");
    return out;
  }
  const bool by_volume = std::all_of(holds.begin(), holds.end(), [](const Hold& h) {
    return find_measure(h.decay, "leak_rate") != nullptr;
  });
  // Unknowns: the rest, then each branch. Rows are weighted by their uncertainty.
  const std::size_t rows = holds.size(), columns = names.size() + 1;
  std::vector<double> open(rows * columns),
      missing(rows);  // a column an unknown; less what is lost
  for (std::size_t r = 0; r < rows; ++r) {
    const Hold& hold = holds[r];
    const Loss loss = loss_of(hold, by_volume);
    const double u = std::max(loss.u, 1e-9 * std::abs(loss.value) + 1e-30);
    for (std::size_t c = 0; c < columns; ++c) {
      const bool closed =
          c > 0 && std::count(hold.closed.begin(), hold.closed.end(), names[c - 1]) > 0;
      open[c * rows + r] = closed ? 0 : 1 / u;
    }
    missing[r] = -loss.value / u;
  }
  std::vector<double> share(columns), covariances(columns * columns);
  const auto covariance = [&](std::size_t a, std::size_t b) {
    return covariances[a * columns + b];
  };
  bool separate = rows >= columns;
  if (separate) {
    inverse_of(open, rows, covariances);
    for (std::size_t c = 0; c < columns && separate; ++c) {
      double squares = 0;  // of the column: what the variance would be, were it alone, is 1 over it
      for (std::size_t r = 0; r < rows; ++r) squares += open[c * rows + r] * open[c * rows + r];
      separate = covariance(c, c) * squares < kInseparable;
    }
  }
  if (!separate) {
    out.set_conclusion(
        fmt::format("Cannot be told: these closings do not separate {}; close each of them alone.",
                    fmt::join(names, ", ")));
    return out;
  }
  LinearStep linear(rows, columns);
  linear.take(open, missing);
  linear.damped(0, share);

  // As kPa/min of the whole line at its own start pressure.
  const v1::Measure& start = *find_measure(whole->decay, "start_pressure");
  const Loss total = loss_of(*whole, by_volume);
  const v1::Measure& slope = *find_measure(whole->decay, "slope");
  const double to_kpa_min = by_volume && total.value != 0
                                ? 60 * std::abs(slope.value()) / std::abs(total.value)
                                : 60 * std::abs(start.value());
  *out.mutable_whole() = kpa_min(total.value * to_kpa_min, total.u * to_kpa_min);
  const auto u_of = [&](std::size_t c) { return std::sqrt(covariance(c, c)); };
  for (std::size_t c = 1; c < columns; ++c) {
    auto& branch = *out.add_branches();
    branch.set_name(names[c - 1]);
    *branch.mutable_loss() = kpa_min(share[c] * to_kpa_min, u_of(c) * to_kpa_min);
  }
  *out.mutable_rest() = kpa_min(share[0] * to_kpa_min, u_of(0) * to_kpa_min);

  std::size_t worst = 1;
  for (std::size_t c = 2; c < columns; ++c)
    if (share[c] > share[worst]) worst = c;
  const bool real = share[worst] > 2 * u_of(worst);
  bool leads = true;
  for (std::size_t c = 1; c < columns; ++c) {
    if (c == worst) continue;
    const double u =
        std::sqrt(covariance(worst, worst) + covariance(c, c) - 2 * covariance(worst, c));
    leads = leads && share[worst] - share[c] > 2 * u;
  }
  const std::string& name = names[worst - 1];
  if (real && leads) {
    out.set_leaking(name);
    out.set_conclusion(fmt::format("The branch {} leaks.", name));
  } else if (real) {
    out.set_conclusion(fmt::format(
        "Cannot be told: {} seems to leak, but others cannot be told apart from it. Repeat the "
        "holds, each for a minute.",
        name));
  } else if (share[0] > 2 * u_of(0)) {
    out.set_conclusion(
        "None of the branches that were closed leaks measurably; the loss is in the rest: pump, "
        "trunk, or a branch that was not closed.");
  } else {
    out.set_conclusion("Cannot be told: no part's loss is beyond its uncertainty.");
  }
  return out;
}

}  // namespace

std::vector<std::string> branch_names(const std::string& closed_branch) {
  std::vector<std::string> names;
  std::size_t from = 0;
  while (from <= closed_branch.size()) {
    std::size_t to = closed_branch.find(',', from);
    if (to == std::string::npos) to = closed_branch.size();
    std::string name = closed_branch.substr(from, to - from);
    name.erase(0, name.find_first_not_of(' '));
    name.erase(name.find_last_not_of(' ') + 1);
    if (!name.empty()) names.push_back(name);
    from = to + 1;
  }
  return names;
}

std::vector<v1::Report::LeakBudget> leak_budgets(const std::vector<Hold>& holds) {
  std::vector<v1::Report::LeakBudget> out;
  for (const v1::Direction direction : {v1::PRESSURE, v1::VACUUM, v1::UNKNOWN}) {
    std::vector<Hold> here;
    for (const Hold& hold : holds) {
      const v1::Measure* start = find_measure(hold.decay, "start_pressure");
      if (hold.decay.direction() == direction && start && start->value() != 0 &&
          find_measure(hold.decay, "slope"))
        here.push_back(hold);
    }
    if (std::any_of(here.begin(), here.end(), [](const Hold& h) { return !h.closed.empty(); }))
      out.push_back(budget(here));
  }
  return out;
}

}  // namespace airlatch
