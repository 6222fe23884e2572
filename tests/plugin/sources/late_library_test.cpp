#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "plugin/sources/input_error.hpp"
#include "plugin/sources/late/library.hpp"

namespace airlatch {
namespace {

inline constexpr LateLibrary kMath{"libm.so.6", "libc6"};
inline constexpr LateLibrary kNone{"libof-no-such-name.so.1", "libof-no-such-name1"};
constinit const Late<kMath, double(double)> late_cosine("cos");
constinit const Late<kMath, double(double)> late_nothing("no_function_of_this_name");
constinit const Late<kNone, double(double)> late_nowhere("cos");

std::string complaint(const auto& function) {
  try {
    function(1.0);
  } catch (const InputError& error) {
    EXPECT_EQ(error.status(), ExitStatus::kNotFound);
    return error.what();
  }
  return "";
}

TEST(LateLibrary, CallsTheFunctionItself) {
  EXPECT_EQ(late_cosine(0.5), std::cos(0.5));
  double (*const pointer)(double) = late_cosine;  // as a callback or a deleter
  EXPECT_EQ(pointer(0.5), std::cos(0.5));
}

TEST(LateLibrary, SaysWhatToInstall) {
  const std::string text = complaint(late_nowhere);
  EXPECT_NE(text.find("libof-no-such-name.so.1"), std::string::npos) << text;
  EXPECT_NE(text.find("install the package libof-no-such-name1"), std::string::npos) << text;
  EXPECT_EQ(text.find('\n'), std::string::npos);
  EXPECT_NE(complaint(late_nothing).find("no_function_of_this_name"), std::string::npos);
}

}  // namespace
}  // namespace airlatch
