// SPDX-License-Identifier: GPL-3.0-or-later
// What the library's file shows of itself and needs from others, read with nm and readelf.
#include <gtest/gtest.h>

#include <set>

#include "tests/plugin/abi/output_of.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

const std::string kLibrary = AIRLATCH_BINARY_DIR "/plugin/libairlatch.so";

// Nothing but the ABI can be seen from outside.
TEST(Needs, OnlyTheAbiIsVisible) {
  const std::string seen = output_of("nm -D --defined-only " + kLibrary +
                                     " | awk '$2 != \"A\" {print $3}'"
                                     " | sed 's/@.*//' | grep -v '^__' | LC_ALL=C sort");
  EXPECT_EQ(seen, read_file(AIRLATCH_SOURCE_DIR "/tests/plugin/abi/symbols.txt"));
}

// The run-times of C and C++; a sanitizer's own where there is one.
TEST(Needs, TheRunTimesOfCAndCppAlone) {
  const std::string dynamic = output_of("readelf -dW " + kLibrary);
  EXPECT_NE(dynamic.find("Library soname: [libairlatch.so.1]"), std::string::npos);
  std::set<std::string> needed;
  std::istringstream names(
      output_of("readelf -dW " + kLibrary + " | sed -n 's/.*(NEEDED).*\\[\\(.*\\)\\]/\\1/p'"));
  for (std::string name; std::getline(names, name);)
    if (name.find("san.so") == std::string::npos && !name.starts_with("ld-linux"))
      needed.insert(name);
  const std::set<std::string> allowed = {"libstdc++.so.6", "libm.so.6", "libgcc_s.so.1",
                                         "libc.so.6"};
  EXPECT_EQ(needed, allowed);
}

// Neither shown nor looked for: what a host could have in another version. And nothing that the
// loader holds on to for the whole process (STB_GNU_UNIQUE, destructors of a thread's objects).
TEST(Needs, NothingOfAHostsLibraries) {
  const std::string symbols = output_of("nm -DC " + kLibrary);
  ASSERT_NE(symbols.find("airlatch_create"), std::string::npos);
  for (const char* name : {"protobuf", "absl", "fmt::", "nlohmann", "boost", "__cxa_thread_atexit"})
    EXPECT_EQ(symbols.find(name), std::string::npos) << name;
  EXPECT_EQ(output_of("readelf --dyn-syms -W " + kLibrary + " | grep -c UNIQUE || true"), "0\n");
}

}  // namespace
}  // namespace airlatch
