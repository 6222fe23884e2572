// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/rig_proposal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "decoders/stream/readings.hpp"
#include "plugin/session/rig_match.hpp"
#include "plugin/session/role_names.hpp"
#include "plugin/sources/units.hpp"

namespace airlatch {
namespace {

// Weights of what a role rests on.
constexpr double kByDefaultName = 1, kByName = 0.9, kByDimension = 0.65, kBySignalAlone = 0.4;
constexpr double kSure = 0.95, kLikely = 0.7, kLeast = 0.25;
constexpr double kShortest_s = 0.5;     // no signal alone says anything in less
constexpr double kLargestZero_a = 0.3;  // what a clamp is off by, that the decoders take away
constexpr double kSmallShare = 0.08;    // of a channel's range: as good as level

bool within(double value, double least, double most) { return value >= least && value <= most; }

double quantile(const std::vector<double>& sorted, double share) {
  if (sorted.empty()) return 0;
  return sorted[static_cast<std::size_t>(share * static_cast<double>(sorted.size() - 1))];
}

// What a channel's outline shows, in numbers.
struct Signal {
  double low = 0, middle = 0, high = 0;  // of the buckets' means: 2 %, median, 98 %
  double at_rest = 0;                    // share of buckets near nothing
  double in_two = 0;                     // share of buckets at either level
  double peak = 0;                       // what starts go up to, over what follows them
  double step = 0;                       // the greatest between neighbours, of the range
  double slowness = 0;  // share of bucket pairs that differ by less than a small share of the range
  bool long_enough = false;  // a run can be seen
  bool moves = false;        // more than its noise
};

double peak_of_starts(const Outline& outline, double plateau) {
  const auto& buckets = outline.buckets();
  constexpr std::size_t kAround = 3;  // buckets of rest before it, and of running after it
  double most = 0;
  for (std::size_t k = kAround; k + 2 + kAround <= buckets.size(); ++k) {
    const auto all = [&](std::size_t from, auto&& holds) {
      return std::all_of(buckets.begin() + static_cast<std::ptrdiff_t>(from),
                         buckets.begin() + static_cast<std::ptrdiff_t>(from + kAround),
                         [&](const Outline::Bucket& b) { return b.n > 0 && holds(b.mean()); });
    };
    const bool rests =
        all(k - kAround, [&](double mean) { return std::abs(mean) < kSmallShare * plateau; });
    if (!rests || buckets[k].n == 0 || buckets[k + 2].n == 0) continue;
    const double after = buckets[k + 2].mean();
    const bool runs = std::abs(after) > 0.2 * plateau && all(k + 2, [&](double mean) {
                        return mean * after > 0 && within(mean / after, 0.5, 2);
                      });
    if (!runs) continue;
    const auto reach = static_cast<double>(
        std::max({std::abs(buckets[k].most), std::abs(buckets[k].least),
                  std::abs(buckets[k + 1].most), std::abs(buckets[k + 1].least)}));
    most = std::max(most, reach / std::abs(buckets[k + 2].mean()));
  }
  return most;
}

Signal signal_of(const Outline& outline) {
  Signal out;
  const std::vector<double> means = outline.sorted_means();
  if (means.empty()) return out;
  out.low = quantile(means, 0.02);
  out.middle = quantile(means, 0.5);
  out.high = quantile(means, 0.98);
  const double range = std::max(outline.range(), 1e-12);
  const double span = std::max(out.high - out.low, 1e-12);
  const double size = std::max(std::abs(outline.least()), std::abs(outline.most()));
  std::vector<double> spreads;
  double near_nothing = 0, in_two = 0, slow = 0, pairs = 0;
  const Outline::Bucket* before = nullptr;
  for (const Outline::Bucket& bucket : outline.buckets()) {
    if (bucket.n == 0) continue;
    const double mean = bucket.mean();
    spreads.push_back(static_cast<double>(bucket.most) - static_cast<double>(bucket.least));
    near_nothing += std::abs(mean) <= kSmallShare * size ? 1 : 0;
    in_two += mean - out.low <= kSmallShare * span || out.high - mean <= kSmallShare * span ? 1 : 0;
    if (before) {
      ++pairs;
      slow += std::abs(mean - before->mean()) <= kSmallShare * range ? 1 : 0;
    }
    before = &bucket;
  }
  const auto n = static_cast<double>(spreads.size());
  std::sort(spreads.begin(), spreads.end());
  out.at_rest = near_nothing / n;
  out.in_two = in_two / n;
  out.slowness = pairs > 0 ? slow / pairs : 1;
  out.step = outline.largest_step() / range;
  out.peak = peak_of_starts(outline, std::max(std::abs(out.low), std::abs(out.high)));
  out.long_enough = outline.end_s() >= kShortest_s;
  out.moves = span > 2 * quantile(spreads, 0.3) && span > 1e-6 * size;
  return out;
}

// How much a signal, taken as it stands, is like a role's: 0 to 1.
double likeness(const Signal& s, Role role) {
  const double high = std::max(std::abs(s.low), std::abs(s.high));
  const bool starts_with_peak = s.peak > 1.4;
  if (!s.long_enough) return 0;
  switch (role) {
    case Role::SUPPLY_VOLTAGE:
    case Role::FUSE_VOLTAGE: {
      const bool steady = s.low > 0.5 * s.middle && s.high < 1.5 * s.middle;
      return steady && (within(s.middle, 9, 16) || within(s.middle, 20, 32)) ? 0.9 : 0;
    }
    case Role::FEED_A_VOLTAGE:
    case Role::FEED_B_VOLTAGE:
      return within(s.high, 3, 32) && std::abs(s.low) < 0.15 * s.high && s.at_rest > 0.03 &&
                     s.in_two > 0.8 && s.step > 0.2 && !starts_with_peak
                 ? 0.9
                 : 0;
    case Role::RETURN_VOLTAGE:
      return s.moves && high < 2 && s.at_rest > 0.1 && s.low > -0.3 ? 0.4 : 0;
    case Role::MOTOR_CURRENT:
      if (!s.moves || high > 100 || s.at_rest < 0.05) return 0;
      return starts_with_peak ? 0.9 : s.step > 0.2 ? 0.5 : 0.2;
    case Role::LINE_PRESSURE:
    case Role::BRANCH_PRESSURE:
      if (!s.moves || s.step > 0.5) return 0;
      return s.slowness > 0.9 && high > 3 ? 0.7 : 0.3;
    case Role::AIR_TEMPERATURE:
      return within(s.low, -30, 60) && within(s.high, -30, 60) && s.high - s.low < 15 &&
                     s.middle > 5 && s.slowness > 0.9
                 ? 0.4
                 : 0;
    case Role::COMMAND_LEVEL:
      return s.in_two > 0.95 && s.step > 0.5 && s.slowness > 0.9 && high <= 5.5 ? 0.3 : 0;
    case Role::UNSPECIFIED:
      break;
  }
  return 0;
}

// How well two channels' means move together: their correlation.
double agreement(const Outline& a, const Outline& b) {
  double n = 0, sum_a = 0, sum_b = 0, aa = 0, bb = 0, ab = 0;
  for (std::size_t k = 0; k < std::min(a.buckets().size(), b.buckets().size()); ++k) {
    if (a.buckets()[k].n == 0 || b.buckets()[k].n == 0) continue;
    const double x = a.buckets()[k].mean(), y = std::abs(b.buckets()[k].mean());
    n += 1;
    sum_a += x;
    sum_b += y;
    aa += x * x;
    bb += y * y;
    ab += x * y;
  }
  const double spread = (n * aa - sum_a * sum_a) * (n * bb - sum_b * sum_b);
  return n > 10 && spread > 0 ? (n * ab - sum_a * sum_b) / std::sqrt(spread) : 0;
}
constexpr double kAgrees = 0.9;

// A channel beside what is known of it.
struct Known {
  const SourceChannel& channel;
  NameSays name;
  std::optional<Dimension> dimension;  // of its unit, else of its name
  bool by_unit = false;
  Signal signal;
};

Known known_of(const SourceChannel& channel, const Outline& outline) {
  Known out{channel, what_name_says(channel.name), {}, false, signal_of(outline)};
  out.dimension = out.name.dimension;
  if (const auto unit = parse_unit(channel.unit); unit && unit->dimension != Dimension::kTime) {
    out.dimension = unit->dimension;
    out.by_unit = true;
  } else if (!channel.unit.empty() && is_other_unit(channel.unit) && channel.unit != "-") {
    out.name.other = true;
  }
  return out;
}

double score(const Known& known, Role role) {
  if (known.name.other) return 0;
  const bool fits_dimension = !known.dimension || *known.dimension == dimension_of(role) ||
                              (role == Role::COMMAND_LEVEL && known.name.role == role);
  if (!fits_dimension) return 0;
  const bool by_default =
      entry_of(known.channel.name, {}) && entry_of(known.channel.name, {})->role == role;
  if (by_default) return kByDefaultName;
  if (known.name.role) return known.name.role == role ? kByName : 0;
  const double like = likeness(known.signal, role);
  if (known.channel.logic) return role == Role::COMMAND_LEVEL && like > 0 ? kBySignalAlone : 0;
  if (!known.dimension) return kBySignalAlone * like;
  // Of a dimension there is one role, or one that is meant first.
  const bool first_of_it =
      role == Role::MOTOR_CURRENT || role == Role::LINE_PRESSURE || role == Role::AIR_TEMPERATURE;
  const bool second_of_it = role == Role::BRANCH_PRESSURE;
  const double least = first_of_it ? 0.8 : second_of_it ? 0.6 : 0;
  return kByDimension * std::max(like, least) + (first_of_it ? 0.25 * (0.5 + like / 2) : 0);
}

std::string seen_words(const Known& known, const Outline& outline) {
  if (outline.count() == 0) return "no samples";
  std::string out = fmt::format("{:.4g} to {:.4g}", outline.least(), outline.most());
  if (known.by_unit)
    out += fmt::format(" {}", base_unit(*known.dimension));
  else if (!known.name.unit.empty())
    out += " " + known.name.unit;
  const Signal& s = known.signal;
  if (outline.range() == 0) return out + "; never moves";
  if (s.peak > 1.4)
    out += "; nothing at rest, starts with a peak";
  else if (s.in_two > 0.8 && s.step > 0.2)
    out += "; one of two levels";
  else if (s.slowness > 0.9)
    out += "; moves slowly";
  if (outline.missing() > 0) out += fmt::format("; {} missing", outline.missing());
  return out;
}

std::string because_words(const Known& known, Role role) {
  if (entry_of(known.channel.name, {}) && entry_of(known.channel.name, {})->role == role)
    return "its name is the role's own";
  std::vector<const char*> parts;
  if (known.name.role || (known.name.dimension && !known.by_unit)) parts.push_back("its name");
  if (known.by_unit) parts.push_back("its unit");
  if (likeness(known.signal, role) >= 0.3) parts.push_back("the signal");
  if (parts.empty()) return "nothing else is left";
  std::string out = parts[0];
  for (std::size_t k = 1; k < parts.size(); ++k) out += fmt::format(", {}", parts[k]);
  return out;
}

Certainty certainty_of(double score) {
  return score >= kSure     ? Certainty::kSure
         : score >= kLikely ? Certainty::kLikely
                            : Certainty::kGuess;
}

}  // namespace

const char* certainty_words(Certainty certainty) {
  switch (certainty) {
    case Certainty::kSure:
      return "sure";
    case Certainty::kLikely:
      return "likely";
    case Certainty::kGuess:
      break;
  }
  return "a guess";
}

Rig::Channel entry_for(const SourceChannel& channel, const Outline& outline, Role role,
                       std::string& to_do) {
  Rig::Channel entry;
  entry.source = channel.name;
  entry.role = role;
  to_do.clear();
  const Dimension wanted = dimension_of(role);
  const auto unit = parse_unit(channel.unit);
  if (unit && unit->dimension != wanted && role != Role::COMMAND_LEVEL) {
    to_do = fmt::format("it is in {}: give scale and offset, in {} per {}", channel.unit,
                        unit_of(role), base_unit(unit->dimension));
    return entry;
  }
  const NameSays says = what_name_says(channel.name);
  if (channel.unit.empty() && !says.unit.empty()) {
    const auto named = parse_unit(says.unit);
    if (named && named->dimension == wanted && (named->scale != 1 || named->offset != 0))
      entry.unit = says.unit;
  }
  const double least = outline.least(), most = outline.most();
  const double first =
      outline.buckets().empty() || outline.buckets()[0].n == 0 ? 0 : outline.buckets()[0].mean();
  const double smallest = quantile(outline.sorted_means(), 0.02);
  const double greatest = std::max(std::abs(least), std::abs(most));
  // A motor's current that begins at its lowest level, away from 0: the instrument's zero.
  if (role == Role::MOTOR_CURRENT && std::abs(first) > kLargestZero_a &&
      std::abs(first - smallest) < 0.02 * greatest && std::abs(first) < 0.3 * greatest) {
    entry.auto_zero = true;
    to_do = fmt::format(
        "it begins at {:.3g}, taken as its zero: if the motor runs there, take "
        "auto_zero out",
        first);
  }
  if (wanted == Dimension::kPressure && entry.unit.empty()) {
    const bool absolute_unit = unit && unit->absolute;
    if (!absolute_unit && within(first, 85, 108) && least > 20) {
      entry.absolute = true;
      to_do = "it begins at the air's own pressure: if it is a gauge pressure, take absolute out";
    } else if (channel.unit.empty() && within(first, 850, 1080) && least > 200) {
      entry.unit = "hPa";
      entry.absolute = true;
      to_do = "it begins at the air's own pressure in hPa: correct that if it is not";
    } else if (channel.unit.empty() && says.unit.empty() && !says.role) {
      const Believable::Span& likely = believable(role).likely;
      if (!within(least, likely.least, likely.most) || !within(most, likely.least, likely.most)) {
        entry.unit = "mbar";
        to_do = "no unit is given, and kPa cannot be: mbar is a guess";
      } else if (most < 20 && least > -20) {
        to_do = "no unit is given: kPa, bar, psi? say it as unit: \"bar\"";
      }
    }
  }
  return entry;
}

RigProposer::RigProposer(std::vector<SourceChannel> channels)
    : channels_(std::move(channels)), outlines_(channels_.size()) {}

void RigProposer::take(const SampleBlock& block) {
  if (block.values.empty() || !block.sound()) return;
  if (!t0_ns_) t0_ns_ = block.time_ns(0);
  outlines_.at(block.channel).take(block, *t0_ns_);
}

// The current's voltage over the ground path: what nothing else explains, and moves with it.
std::optional<std::size_t> RigProposer::like_the_current(
    const std::vector<Proposal>& proposals) const {
  const auto current = std::find_if(proposals.begin(), proposals.end(), [](const Proposal& one) {
    return one.entry && one.entry->role == Role::MOTOR_CURRENT;
  });
  if (current == proposals.end()) return std::nullopt;
  for (std::size_t c = 0; c < proposals.size(); ++c) {
    const NameSays name = what_name_says(channels_[c].name);
    const bool volts = !name.dimension || *name.dimension == Dimension::kVoltage;
    if (proposals[c].entry || name.other || !volts || outlines_[c].most() > 2) continue;
    if (agreement(proposals[c].outline, current->outline) > kAgrees) return c;
  }
  return std::nullopt;
}

std::vector<Proposal> RigProposer::propose() {
  std::int64_t widest_ns = 0;
  for (const Outline& outline : outlines_) widest_ns = std::max(widest_ns, outline.width_ns());
  std::vector<Proposal> out;
  std::vector<Known> known;
  struct Candidate {
    std::size_t channel;
    Role role;
    double score;
  };
  std::vector<Candidate> candidates;
  for (std::size_t c = 0; c < channels_.size(); ++c) {
    outlines_[c].widen_to(widest_ns);
    known.push_back(known_of(channels_[c], outlines_[c]));
    Proposal& proposal = out.emplace_back();
    proposal.channel = channels_[c].name;
    proposal.outline = outlines_[c];
    proposal.seen = seen_words(known[c], outlines_[c]);
    if (outlines_[c].count() == 0) continue;
    for (int r = 1; r < static_cast<int>(kRoles); ++r) {
      const auto role = static_cast<Role>(r);
      const double s = score(known[c], role);
      if (s < kLeast) continue;
      proposal.guesses.push_back({role, s});
      candidates.push_back({c, role, s});
    }
    std::stable_sort(proposal.guesses.begin(), proposal.guesses.end(),
                     [](const auto& a, const auto& b) { return a.score > b.score; });
  }
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const Candidate& a, const Candidate& b) { return a.score > b.score; });
  std::array<bool, kRoles> taken = {};
  for (const Candidate& one : candidates) {
    Proposal& proposal = out[one.channel];
    if (proposal.entry || taken[static_cast<std::size_t>(one.role)]) continue;
    taken[static_cast<std::size_t>(one.role)] = true;
    proposal.entry =
        entry_for(channels_[one.channel], outlines_[one.channel], one.role, proposal.to_do);
    proposal.certainty = certainty_of(one.score);
    proposal.because = because_words(known[one.channel], one.role);
  }
  if (taken[static_cast<std::size_t>(Role::RETURN_VOLTAGE)]) return out;
  if (const auto c = like_the_current(out)) {
    out[*c].entry = entry_for(channels_[*c], outlines_[*c], Role::RETURN_VOLTAGE, out[*c].to_do);
    out[*c].guesses.push_back({Role::RETURN_VOLTAGE, kBySignalAlone});
    out[*c].because = "it moves with the current";
  }
  return out;
}

}  // namespace airlatch
