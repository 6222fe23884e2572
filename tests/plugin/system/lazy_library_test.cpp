// SPDX-License-Identifier: GPL-3.0-or-later
#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "plugin/system/input_error.hpp"
#include "plugin/system/lazy/library.hpp"

namespace airlatch {
namespace {

inline constexpr LazyLibrary kMath{"libm.so.6", "libc6"};
inline constexpr LazyLibrary kNone{"libof-no-such-name.so.1", "libof-no-such-name1"};
constinit const Lazy<kMath, double(double)> lazy_cosine("cos");
constinit const Lazy<kMath, double(double)> lazy_nothing("no_function_of_this_name");
constinit const Lazy<kNone, double(double)> lazy_nowhere("cos");

std::string complaint(const auto& function) {
  try {
    function(1.0);
  } catch (const InputError& error) {
    EXPECT_EQ(error.status(), ExitStatus::kNotFound);
    return error.what();
  }
  return "";
}

TEST(LazyLibrary, CallsTheFunctionItself) {
  EXPECT_EQ(lazy_cosine(0.5), std::cos(0.5));
  double (*const pointer)(double) = lazy_cosine;  // as a callback or a deleter
  EXPECT_EQ(pointer(0.5), std::cos(0.5));
}

TEST(LazyLibrary, SaysWhatToInstall) {
  const std::string text = complaint(lazy_nowhere);
  EXPECT_NE(text.find("libof-no-such-name.so.1"), std::string::npos) << text;
  EXPECT_NE(text.find("install the package libof-no-such-name1"), std::string::npos) << text;
  EXPECT_EQ(text.find('\n'), std::string::npos);
  EXPECT_NE(complaint(lazy_nothing).find("no_function_of_this_name"), std::string::npos);
}

}  // namespace
}  // namespace airlatch
