// SPDX-License-Identifier: GPL-3.0-or-later
// NIST StRD: certified fits through the very code the leak decoder and the resistances use.
// Source: NIST Statistical Reference Datasets, https://www.itl.nist.gov/div898/strd (data files in
// data/, unchanged). Digits asked for: log relative error against the certified value.
#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <functional>
#include <sstream>
#include <string>
#include <vector>

#include "decoders/method/nonlinear_fit.hpp"
#include "decoders/method/regression.hpp"

namespace airlatch {
namespace {

struct Set {
  std::vector<double> x, y;
};

Set read_set(const std::string& name) {
  std::ifstream file(std::string(AIRLATCH_SOURCE_DIR "/tests/reference/data/") + name + ".dat");
  EXPECT_TRUE(file) << name;
  Set set;
  std::string line;
  bool in_data = false;
  while (std::getline(file, line)) {
    // "Data:" stands twice: in the heading's list of lines, and before the numbers with y and x.
    if (line.rfind("Data:", 0) == 0 && line.find('y') != std::string::npos &&
        line.find("line") == std::string::npos)
      in_data = true;
    else if (in_data) {
      std::istringstream cells(line);
      double y = 0, x = 0;
      if (cells >> y >> x) {
        set.y.push_back(y);
        set.x.push_back(x);
      }
    }
  }
  return set;
}

double digits(double value, double certified) {
  return value == certified ? 16 : -std::log10(std::abs(value - certified) / std::abs(certified));
}

// Model value and its derivatives at x.
using Model = std::function<double(double x, const Eigen::VectorXd& b, Eigen::VectorXd& d)>;

using Fit = NonlinearFit<Eigen::Dynamic>;

Fit fit(const Set& set, const Model& model, std::vector<double> start) {
  const auto n = static_cast<Eigen::Index>(set.x.size());
  const auto k = static_cast<Eigen::Index>(start.size());
  return fit_nonlinear<Eigen::Dynamic>(
      [&](const Eigen::VectorXd& b, Eigen::VectorXd& r, Eigen::MatrixXd& J) {
        Eigen::VectorXd d(k);
        for (Eigen::Index i = 0; i < n; ++i) {
          const auto at = static_cast<std::size_t>(i);
          r[i] = model(set.x[at], b, d) - set.y[at];
          J.row(i) = d.transpose();
        }
      },
      n, Eigen::Map<Eigen::VectorXd>(start.data(), k), {.most_iterations = 2000});
}

void expect_certified(const Fit& fit, const Set& set, const std::vector<double>& b,
                      const std::vector<double>& sd, double rss, double wanted) {
  EXPECT_TRUE(fit.converged);
  EXPECT_GE(digits(fit.rss, rss), wanted) << "rss";
  const double variance = fit.rss / static_cast<double>(set.x.size() - b.size());
  for (std::size_t k = 0; k < b.size(); ++k) {
    const auto at = static_cast<Eigen::Index>(k);
    EXPECT_GE(digits(fit.parameters[at], b[k]), wanted) << "b" << k + 1;
    EXPECT_GE(digits(std::sqrt(variance * fit.inverse(at, at)), sd[k]), wanted - 1)
        << "sd" << k + 1;
  }
}

double filling(double x, const Eigen::VectorXd& b, Eigen::VectorXd& d) {
  const double e = std::exp(-b[1] * x);
  d << 1 - e, b[0] * x * e;
  return b[0] * (1 - e);
}

double chwirut(double x, const Eigen::VectorXd& b, Eigen::VectorXd& d) {
  const double e = std::exp(-b[0] * x), q = b[1] + b[2] * x;
  d << -x * e / q, -e / (q * q), -x * e / (q * q);
  return e / q;
}

TEST(NistStrd, NorrisThroughTheLine) {
  const Set set = read_set("Norris");
  ASSERT_EQ(set.x.size(), 36U);
  LineAccumulator line;
  for (std::size_t k = 0; k < set.x.size(); ++k) line.add(set.x[k], set.y[k]);
  EXPECT_GE(digits(line.intercept(), -0.262323073774029), 10);
  EXPECT_GE(digits(line.slope(), 1.00211681802045), 12);
  EXPECT_GE(digits(line.u_intercept(), 0.232818234301152), 10);
  EXPECT_GE(digits(line.u_slope(), 0.429796848199937e-3), 10);
  EXPECT_GE(digits(line.residual_sd(), 0.884796396144373), 10);
}

TEST(NistStrd, PontiusThroughTheFit) {
  const Set set = read_set("Pontius");
  ASSERT_EQ(set.x.size(), 40U);
  const Fit parabola = fit(set,
                           [](double x, const Eigen::VectorXd& b, Eigen::VectorXd& d) {
                             d << 1, x, x * x;
                             return b[0] + b[1] * x + b[2] * x * x;
                           },
                           {0, 0, 0});
  EXPECT_GE(digits(parabola.parameters[0], 0.673565789473684e-3), 8);
  EXPECT_GE(digits(parabola.parameters[1], 0.732059160401003e-6), 8);
  EXPECT_GE(digits(parabola.parameters[2], -0.316081871345029e-14), 8);
}

// Lines through the origin: the fit with one parameter.
TEST(NistStrd, NoIntThroughTheFit) {
  const Model ray = [](double x, const Eigen::VectorXd& b, Eigen::VectorXd& d) {
    d << x;
    return b[0] * x;
  };
  const Set one = read_set("NoInt1"), two = read_set("NoInt2");
  ASSERT_EQ(one.x.size(), 11U);
  ASSERT_EQ(two.x.size(), 3U);
  EXPECT_GE(digits(fit(one, ray, {1}).parameters[0], 2.07438016528926), 12);
  EXPECT_GE(digits(fit(two, ray, {1}).parameters[0], 0.727272727272727), 12);
}

TEST(NistStrd, Misra1aFromBothStarts) {
  const Set set = read_set("Misra1a");
  ASSERT_EQ(set.x.size(), 14U);
  for (const auto& start : {std::vector<double>{500, 1e-4}, std::vector<double>{250, 5e-4}})
    expect_certified(fit(set, filling, start), set, {238.94212918, 5.5015643181e-4},
                     {2.7070075241, 7.2668688436e-6}, 0.12455138894, 7);
}

TEST(NistStrd, BoxBodFromBothStarts) {
  const Set set = read_set("BoxBOD");
  ASSERT_EQ(set.x.size(), 6U);
  // The far start (1, 1) is NIST's hard one.
  for (const auto& start : {std::vector<double>{1, 1}, std::vector<double>{100, 0.75}})
    expect_certified(fit(set, filling, start), set, {213.80940889, 0.54723748542},
                     {12.354515176, 0.10455993237}, 1168.0088766, 7);
}

TEST(NistStrd, ChwirutDecays) {
  const Set one = read_set("Chwirut1"), two = read_set("Chwirut2");
  ASSERT_EQ(one.x.size(), 214U);
  ASSERT_EQ(two.x.size(), 54U);
  for (const auto& start :
       {std::vector<double>{0.1, 0.01, 0.02}, std::vector<double>{0.15, 0.008, 0.010}}) {
    expect_certified(fit(one, chwirut, start), one,
                     {0.19027818370, 0.0061314004477, 0.010530908399},
                     {0.021938557035, 3.4500025051e-4, 7.9281847748e-4}, 2384.4771393, 7);
    expect_certified(fit(two, chwirut, start), two,
                     {0.16657666537, 0.0051653291286, 0.012150007096},
                     {0.038303286810, 6.6621605126e-4, 1.5304234767e-3}, 513.04802941, 7);
  }
}

TEST(NistStrd, PlateauAndTwoExponentials) {
  const Set set = read_set("MGH17");
  ASSERT_EQ(set.x.size(), 33U);
  const Fit result = fit(set,
                         [](double x, const Eigen::VectorXd& b, Eigen::VectorXd& d) {
                           const double e4 = std::exp(-x * b[3]), e5 = std::exp(-x * b[4]);
                           d << 1, e4, e5, -b[1] * x * e4, -b[2] * x * e5;
                           return b[0] + b[1] * e4 + b[2] * e5;
                         },
                         {0.5, 1.5, -1, 0.01, 0.02});
  expect_certified(
      result, set, {0.37541005211, 1.9358469127, -1.4646871366, 0.012867534640, 0.022122699662},
      {2.0723153551e-3, 0.22031669222, 0.22175707739, 4.4861358114e-4, 8.9471996575e-4},
      5.4648946975e-5, 6);
}

TEST(NistStrd, ThreeExponentials) {
  struct Case {
    const char* name;
    double rates[3], rss, wanted;
  };
  // Lanczos1 is free of noise: its residual of 1.4e-25 is that of its printed digits.
  for (const Case& c :
       {Case{"Lanczos1", {1.0000000001, 3.0000000002, 5.0000000001}, 0, 6},
        Case{"Lanczos2", {1.0057332849, 3.0078283915, 5.0028798100}, 2.2299428125e-11, 5},
        Case{"Lanczos3", {0.95498101505, 2.9515951832, 4.9863565084}, 1.6117193594e-8, 5}}) {
    const Set set = read_set(c.name);
    ASSERT_EQ(set.x.size(), 24U);
    const Fit result = fit(set,
                           [](double x, const Eigen::VectorXd& b, Eigen::VectorXd& d) {
                             double y = 0;
                             for (Eigen::Index k = 0; k < 6; k += 2) {
                               d[k] = std::exp(-b[k + 1] * x);
                               d[k + 1] = -b[k] * x * d[k];
                               y += b[k] * d[k];
                             }
                             return y;
                           },
                           {0.5, 0.7, 3.6, 4.2, 4, 6.3});
    for (Eigen::Index k = 0; k < 3; ++k)
      EXPECT_GE(digits(result.parameters[2 * k + 1], c.rates[k]), c.wanted) << c.name << k;
    if (c.rss > 0) {
      EXPECT_GE(digits(result.rss, c.rss), 5) << c.name;
    }
  }
}

// Univariate sets: mean and standard deviation, as every window mean is made.
TEST(NistStrd, MeanAndStandardDeviation) {
  struct Case {
    const char* name;
    std::size_t n;
    double mean, sd, wanted;
  };
  for (const Case& c : {Case{"Lew", 200, -177.435, 277.332168044316, 12},
                        Case{"Mavro", 50, 2.001856, 0.000429123454003053, 9},
                        Case{"Michelso", 100, 299.8524, 0.0790105478190518, 10}}) {
    std::ifstream file(std::string(AIRLATCH_SOURCE_DIR "/tests/reference/data/") + c.name + ".dat");
    std::string line;
    LineAccumulator all;
    bool in_data = false;
    while (std::getline(file, line)) {
      if (in_data && line.rfind("---", 0) != 0) {
        std::istringstream cell(line);
        double y = 0;
        if (cell >> y) all.add(all.n(), y);
      }
      in_data = in_data || line.rfind("Data: Y", 0) == 0 || line.rfind("Data:   Y", 0) == 0;
    }
    ASSERT_EQ(all.n(), static_cast<double>(c.n)) << c.name;
    EXPECT_GE(digits(all.mean_y(), c.mean), 13) << c.name;
    EXPECT_GE(digits(all.sd_y(), c.sd), c.wanted) << c.name;
  }
}

}  // namespace
}  // namespace airlatch
