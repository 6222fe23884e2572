// SPDX-License-Identifier: GPL-3.0-or-later
// How well airlatch measures: a Monte-Carlo study over faults, rates and noise, against the
// rehearsals' noise-free truth. Writes a Markdown table to stdout; run it through tests/truth.
//
// Seeds start at kSeed, which no tuning and no test uses. All figures are printed, whether a bar is
// met or not; a bar that is missed is marked.
#include <fmt/format.h>

#include <Eigen/Dense>
#include <fstream>
#include <future>
#include <map>

#include "plugin/rehearse/faults.hpp"
#include "plugin/rehearse/random.hpp"
#include "plugin/report/panel.hpp"
#include "tests/study/verdict_study.hpp"
#include "tests/support/score.hpp"

namespace airlatch::test {
namespace {

constexpr std::uint64_t kSeed = 19'000'000;
constexpr double kGain = 0.002;  // the sensors' standard gain error: a slope inherits it

void merge(Score& into, const Score& other) {
  for (const auto& [kind, s] : other.kinds) {
    KindScore& k = into.kinds[kind];
    k.found += s.found;
    k.missed += s.missed;
    k.invented += s.invented;
    k.errors_s.insert(k.errors_s.end(), s.errors_s.begin(), s.errors_s.end());
  }
  for (const auto& [name, s] : other.measures) {
    MeasureScore& m = into.measures[name];
    m.covered += s.covered;
    m.total += s.total;
    m.z.insert(m.z.end(), s.z.begin(), s.z.end());
    m.relative.insert(m.relative.end(), s.relative.begin(), s.relative.end());
    m.error.insert(m.error.end(), s.error.begin(), s.error.end());
  }
}

struct Setting {
  const char* name;
  std::int64_t rate_hz;
  int seeds;
  int bits;
  double noise;
  bool wild = false;
};

Score score_of(const Setting& setting) {
  const auto half = [&](std::size_t from) {
    Score score;
    for (std::size_t f = from; f < faults().size(); f += 2)
      for (int k = 0; k < setting.seeds; ++k) {
        const Rehearsal r = rehearse({.fault = faults()[f].name,
                                      .rate_hz = setting.rate_hz,
                                      .seed = kSeed + 1000 * f + static_cast<std::uint64_t>(k),
                                      .noise = setting.noise,
                                      .hold_s = 12,
                                      .bits = setting.bits,
                                      .wild = setting.wild});
        add_score(score, r, decode_rehearsal(r));
      }
    return score;
  };
  auto other = std::async(std::launch::async, half, 1);
  Score score = half(0);
  merge(score, other.get());
  return score;
}

double rms(const std::vector<double>& v) {
  double sum = 0;
  for (const double x : v) sum += x * x;
  return v.empty() ? 0 : std::sqrt(sum / static_cast<double>(v.size()));
}

double mean(const std::vector<double>& v) {
  double sum = 0;
  for (const double x : v) sum += x;
  return v.empty() ? 0 : sum / static_cast<double>(v.size());
}

const char* mark(bool met) { return met ? "" : " **missed**"; }

// What a slow meter can see: no locked rotor (needs the inrush), no dropout of a tenth of a second,
// no short break of a feed.
bool observable(Kind kind, std::int64_t rate_hz) {
  return rate_hz >= 50 || (kind != Kind::LOCKED_ROTOR && kind != Kind::DROPOUT);
}

struct Cell {
  double f1 = 1, bias = 0, rms = 0;
  std::string text = "–";
};

Cell cell_of(const Setting& setting, Kind kind, const KindScore& s) {
  const double rate = static_cast<double>(setting.rate_hz);
  Cell cell;
  cell.f1 = 2.0 * s.found / std::max(1, 2 * s.found + s.missed + s.invented);
  if (!observable(kind, setting.rate_hz)) {
    cell.text = "not observable";
    return cell;
  }
  cell.text = fmt::format("{:.3f}{}", cell.f1, mark(cell.f1 >= (rate >= 50 ? 0.995 : 0.97)));
  if (kind == Kind::LEAK_DECAY) return cell;
  cell.bias = mean(s.errors_s) * rate;
  cell.rms = rms(s.errors_s) * rate;
  // A step that one sample interval swallows is uniform in it: 1/sqrt 12 is its bound.
  const double most = std::max(0.3, 1.2 / std::sqrt(12.0));
  cell.text += fmt::format("; {:+.2f}{}; {:.2f}{}", cell.bias, mark(std::abs(cell.bias) < 0.1),
                           cell.rms, mark(cell.rms <= most));
  return cell;
}

void kinds_table(const std::vector<std::pair<Setting, Score>>& all) {
  fmt::print(
      "\nEach cell: F1; bias; RMS error of the instant, in sample periods. Bars: F1 0.995 (0.97 at "
      "4 "
      "readings/s), bias 0.1, RMS 0.35 (1.2 times the bound of a step that falls between two "
      "samples).\n\n| kind |");
  for (const auto& [setting, score] : all) fmt::print(" {} |", setting.name);
  fmt::print("\n| --- |");
  for (std::size_t k = 0; k < all.size(); ++k) fmt::print(" --- |");
  std::map<Kind, std::map<std::size_t, std::string>> rows;
  for (std::size_t k = 0; k < all.size(); ++k)
    for (const auto& [kind, s] : all[k].second.kinds)
      rows[kind][k] = cell_of(all[k].first, kind, s).text;
  for (auto& [kind, cells] : rows) {
    fmt::print("\n| {} |", name_of(kind));
    for (std::size_t k = 0; k < all.size(); ++k) fmt::print(" {} |", cells[k]);
  }
  fmt::print("\n");
}

void measures_table(const Setting& setting, const Score& score) {
  fmt::print("\n### {}: measures\n\n", setting.name);
  fmt::print("| measure | n | RMS error, % | truth within 2 u |\n| --- | --- | --- | --- |\n");
  int covered = 0, total = 0;
  for (const auto& [name, m] : score.measures) {
    if (name.ends_with("time_s")) continue;
    fmt::print("| {} | {} | {:.3g} | {:.3f} |\n", name, m.total, 100 * rms(m.relative),
               static_cast<double>(m.covered) / m.total);
    covered += m.covered;
    total += m.total;
  }
  fmt::print("| all | {} | – | {:.3f} |\n", total, static_cast<double>(covered) / total);
}

// Cramer-Rao bound of slope and rate of p = z + a exp(-l t) [+ b exp(-t/th)] in white noise, with
// the priors that the decoder has too.
struct Bound {
  double slope = 0, rate = 0;  // relative
};
Bound decay_bound(double rate_hz, double sigma, double length_s, double tau_s, double p_kpa,
                  double at_s, double u_zero, bool relaxes, double b, double th_s) {
  const auto n = static_cast<Eigen::Index>(length_s * rate_hz);
  const Eigen::Index k = relaxes ? 5 : 3;
  Eigen::MatrixXd F = Eigen::MatrixXd::Zero(k, k);
  Eigen::VectorXd j(k);
  for (Eigen::Index i = 1; i <= n; ++i) {
    const double t = 0.2 + static_cast<double>(i) / rate_hz;
    if (t > length_s) break;
    const double e = std::exp(-t / tau_s);
    j[0] = e;
    j[1] = -p_kpa * t * e;
    j[2] = 1;
    if (relaxes) {
      j[3] = std::exp(-t / th_s);
      j[4] = b * t / th_s * j[3];
    }
    F += j * j.transpose() / (sigma * sigma);
  }
  F(2, 2) += 1 / (u_zero * u_zero);
  if (relaxes) {
    F(3, 3) += 1.0 / 64;
    F(4, 4) += 1 / 0.64;
  }
  const Eigen::MatrixXd C = F.inverse();
  const double e = std::exp(-at_s / tau_s);
  Eigen::VectorXd d = Eigen::VectorXd::Zero(k);
  d[0] = -e / tau_s;
  d[1] = -p_kpa * e * (1 - at_s / tau_s);
  return {std::sqrt(d.dot(C * d)) / (std::abs(p_kpa) * e / tau_s), std::sqrt(C(1, 1)) * tau_s};
}

struct LeakPoint {
  std::int64_t rate_hz;
  double noise_kpa, rms, bound;
  bool relaxes;
};

std::vector<LeakPoint> leak_table() {
  std::vector<LeakPoint> out;
  fmt::print(
      "\n### Leak: slope and time constant against the Cramér–Rao bound\n\nHold of 20 s, time "
      "constant 60 s. RMS of error over bound; the law of the leak (viscous) is known to the "
      "bound and not to the decoder. The sensor's gain error, 0.2 %, which no estimator can see, "
      "is "
      "part of the slope's bound.\n\n| readings/s | noise, kPa | relaxation | n | slope RMS, % "
      "| over "
      "bound | time constant over bound | slope within 2 u | time constant within 2 u |\n| --- | "
      "--- "
      "| --- | --- | --- | --- | --- | --- | --- |\n");
  for (const std::int64_t rate_hz : {4, 1000})
    for (const double noise : {0.05, 0.15, 0.45})
      for (const bool relaxes : {false, true}) {
        std::vector<double> slope, over, tau_over, bounds;
        int covered = 0, tau_covered = 0;
        for (int k = 0; k < 60; ++k) {
          const Rehearsal r = rehearse({.fault = "line-leak",
                                        .rate_hz = rate_hz,
                                        .seed = kSeed + static_cast<std::uint64_t>(k),
                                        .hold_s = 20,
                                        .leak_tau_s = 60,
                                        .line_noise_kpa = noise,
                                        .heat = relaxes ? 1.0 : 0.0});
          Score score;
          const auto events = decode_rehearsal(r);
          add_score(score, r, events);
          std::size_t decay = 0;
          const auto& s = score.measures["LEAK_DECAY.slope"];
          const auto& t = score.measures["LEAK_DECAY.time_constant"];
          const double sigma = std::hypot(noise, 200.0 / 4096 / std::sqrt(12.0));
          for (const Event& event : events) {
            if (event.kind != Kind::LEAK_DECAY || decay >= r.decays.size()) continue;
            const Rehearsal::Decay& d = r.decays[decay];
            const Bound bound = decay_bound(static_cast<double>(rate_hz), sigma, d.end_s - d.stop_s,
                                            d.tau_s, d.isothermal_kpa, event.time_s - d.stop_s, 0.1,
                                            relaxes, 4, r.parameters.tau_thermal_s);
            bounds.push_back(std::hypot(bound.slope, kGain));
            if (decay < s.relative.size())
              over.push_back(s.relative[decay] / std::hypot(bound.slope, kGain));
            if (decay < t.relative.size()) tau_over.push_back(t.relative[decay] / bound.rate);
            ++decay;
          }
          slope.insert(slope.end(), s.relative.begin(), s.relative.end());
          covered += s.covered;
          tau_covered += t.covered;
        }
        out.push_back({rate_hz, noise, rms(slope), rms(bounds), relaxes});
        const double bar = relaxes ? 1.5 : 1.1;
        fmt::print("| {} | {} | {} | {} | {:.2f} | {:.2f}{} | {:.2f}{} | {:.3f} | {:.3f} |\n",
                   rate_hz, noise, relaxes ? "yes" : "no", slope.size(), 100 * rms(slope),
                   rms(over), mark(rms(over) <= bar), rms(tau_over), mark(rms(tau_over) <= bar),
                   static_cast<double>(covered) / static_cast<double>(slope.size()),
                   static_cast<double>(tau_covered) /
                       static_cast<double>(std::max<std::size_t>(1, tau_over.size())));
      }
  return out;
}

// Timing against rate, leak slope against its bound.
void plots(const std::string& folder, const std::vector<std::pair<Setting, Score>>& all,
           const std::vector<LeakPoint>& leaks) {
  constexpr Colour kColours[] = {
      {0.1, 0.36, 0.6}, {0.75, 0.34, 0.05}, {0.2, 0.5, 0.25}, {0.5, 0.2, 0.5}};
  for (const auto kind : {Canvas::Kind::kSvg, Canvas::Kind::kPng}) {
    Canvas canvas(kind, 640, 270);
    Panel timing(canvas, 50, 26, 240, 196, {2, 100000, "readings a second", true},
                 {0.001, 10, "RMS error of instants, sample periods", true});
    timing.horizontal(1 / std::sqrt(12.0), {0.4, 0.4, 0.4});
    const Kind kinds[] = {Kind::FEED_ON, Kind::MOTOR_START, Kind::STALL_CUTOFF, Kind::MOTOR_STOP};
    for (int k = 0; k < 4; ++k) {
      Panel::Points points;
      for (const auto& [setting, score] : all) {
        if (setting.noise != 1 || setting.wild || !score.kinds.contains(kinds[k])) continue;
        const auto rate = static_cast<double>(setting.rate_hz);
        points.emplace_back(rate, std::max(0.001, rms(score.kinds.at(kinds[k]).errors_s) * rate));
      }
      timing.line(points, kColours[k], 1.2, k % 2 == 1);
      timing.marks(points, kColours[k], k);
      Panel::Points key = {{3, 0.012 / std::pow(1.9, k)}};
      timing.marks(key, kColours[k], k);
      canvas.text(timing.x_of(4), timing.y_of(key[0].second) + 3, name_of(kinds[k]), 8);
    }
    canvas.text(timing.x_of(2600), timing.y_of(0.4), "step between two samples", 7);
    Panel slope(canvas, 360, 26, 240, 196, {0.03, 0.8, "noise of a pressure reading, kPa", true},
                {0.0005, 0.1, "relative RMS error of the leak slope", true});
    int row = 0;
    for (const std::int64_t rate_hz : {4, 1000})
      for (const bool relaxes : {false, true}) {
        Panel::Points points, bound;
        for (const LeakPoint& p : leaks)
          if (p.rate_hz == rate_hz && p.relaxes == relaxes) {
            points.emplace_back(p.noise_kpa, p.rms);
            bound.emplace_back(p.noise_kpa, p.bound);
          }
        slope.line(bound, kColours[row], 1, true);
        slope.line(points, kColours[row], 1.4);
        slope.marks(points, kColours[row], row);
        const double at = 0.08 / std::pow(1.6, row);
        slope.marks({{0.036, at}}, kColours[row], row);
        canvas.text(slope.x_of(0.041), slope.y_of(at) + 3,
                    fmt::format("{}/s{}", rate_hz, relaxes ? ", air gives off heat" : ""), 8);
        ++row;
      }
    canvas.text(slope.x_of(0.036), slope.y_of(0.08 / std::pow(1.6, 4)) + 3,
                "dashed: Cramér–Rao bound with gain error", 7);
    const std::string bytes = canvas.finish();
    std::ofstream(folder + (kind == Canvas::Kind::kSvg ? "/truth.svg" : "/truth.png"),
                  std::ios::binary)
        << bytes;
  }
}

// Hours of quiet: noise, drift, and interference ten times the noise, thirty spikes a second.
int false_events(int hours) {
  constexpr std::int64_t kRate_hz = 1000;
  const Role roles[] = {Role::SUPPLY_VOLTAGE, Role::FEED_A_VOLTAGE, Role::MOTOR_CURRENT,
                        Role::LINE_PRESSURE};
  const double level[] = {12.5, 0, 0.05, 0}, noise[] = {0.006, 0.006, 0.012, 0.05},
               drift[] = {0.3, 0.01, 0.2, 1.5},
               step[] = {22 / 4096., 22 / 4096., 40 / 4096., 200 / 4096.};
  std::vector<ChainChannel> channels(4);
  for (std::size_t c = 0; c < 4; ++c) {
    channels[c].rig.role = roles[c];
    channels[c].clock = SampleClock::of_rate(kRate_hz);
  }
  Chain chain(channels, {});
  int received = 0;
  chain.on_event.connect([&](const Event&) { ++received; });
  Random random(kSeed);
  std::vector<float> values(10 * kRate_hz);
  for (std::int64_t block = 0; block < 360LL * hours; ++block)
    for (std::size_t c = 0; c < 4; ++c) {
      const double day = static_cast<double>(block) / (360.0 * 24);
      const double at = level[c] + drift[c] * std::sin(6.28 * day);
      for (float& v : values)
        v = static_cast<float>(step[c] * std::round((at + noise[c] * random.normal()) / step[c]));
      for (int k = 0; k < 300; ++k) {
        float& v = values[random.bits() % values.size()];
        v += static_cast<float>((random.uniform() < 0.5 ? -10 : 10) * noise[c]);
      }
      chain.push({.channel = c,
                  .clock = channels[c].clock,
                  .first = block * 10 * kRate_hz,
                  .values = values});
    }
  chain.finish();
  return received;
}

void absolute_table(const std::vector<std::pair<Setting, Score>>& all) {
  fmt::print(
      "\n### Path resistance and shaft speed\n\n| instruments | measure | n | RMS error | within "
      "|\n| --- | --- | --- | --- | --- |\n");
  for (const auto& [setting, score] : all)
    for (const char* stop : {"STALL_CUTOFF", "MOTOR_STOP"})
      for (const char* what : {"feed_path_resistance", "return_path_resistance", "shaft_speed"}) {
        const auto it = score.measures.find(std::string(stop) + "." + what);
        if (it == score.measures.end()) continue;
        const MeasureScore& m = it->second;
        const bool speed = std::string(what) == "shaft_speed";
        int within = 0;
        for (std::size_t k = 0; k < m.error.size(); ++k)
          within += speed ? std::abs(m.relative[k]) <= 0.002
                          : std::abs(m.error[k]) <= 0.005 || std::abs(m.relative[k]) <= 0.02;
        fmt::print("| {} | {}.{} | {} | {} | {:.3f} of them within {} |\n", setting.name, stop,
                   what, m.total,
                   speed ? fmt::format("{:.3f} %", 100 * rms(m.relative))
                         : fmt::format("{:.2f} mΩ", 1000 * rms(m.error)),
                   static_cast<double>(within) / m.total, speed ? "0.2 %" : "5 mΩ or 2 %");
      }
}

int study(const std::string& folder) {
  const std::vector<Setting> settings = {
      {"4 readings/s, 10 bits", 4, 16, 10, 1},
      {"1 kS/s, 10 bits", 1000, 16, 10, 1},
      {"10 kS/s, 10 bits", 10000, 8, 10, 1},
      {"50 kS/s, 10 bits", 50000, 3, 10, 1},
      {"10 kS/s, 12 bits, three times the noise", 10000, 3, 12, 3},
      {"wild, 4 readings/s", 4, 16, 12, 1, true},
      {"wild, 1 kS/s", 1000, 16, 12, 1, true},
      {"wild, 10 kS/s", 10000, 5, 12, 1, true}};
  std::vector<std::pair<Setting, Score>> all;
  std::size_t captures = 0;
  for (const Setting& setting : settings) {
    all.emplace_back(setting, score_of(setting));
    captures += faults().size() * static_cast<std::size_t>(setting.seeds);
  }
  fmt::print("{} captures of {} faults and conditions, seeds from {}.\n", captures, faults().size(),
             kSeed);
  kinds_table(all);
  const std::vector<LeakPoint> leaks = leak_table();
  plots(folder, all, leaks);
  absolute_table(all);
  const int received = false_events(24);
  fmt::print(
      "\n24 simulated hours of quiet, noisy, drifting channels with spikes at 1 kS/s: {} "
      "events{}.\n",
      received, mark(received == 0));
  verdict_tables();
  for (const auto& [setting, score] : all) measures_table(setting, score);
  return 0;
}

}  // namespace
}  // namespace airlatch::test

int main(int argc, char** argv) { return airlatch::test::study(argc > 1 ? argv[1] : "."); }
