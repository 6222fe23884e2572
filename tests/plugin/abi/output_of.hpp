// SPDX-License-Identifier: GPL-3.0-or-later
// output_of.hpp: what a command prints; it must succeed.
#pragma once
#include <gtest/gtest.h>

#include <array>
#include <cstdio>
#include <string>

namespace airlatch::test {

inline std::string output_of(const std::string& command) {
  std::string out;
  FILE* pipe = ::popen(command.c_str(), "r");
  std::array<char, 4096> buffer{};
  while (const std::size_t n = std::fread(buffer.data(), 1, buffer.size(), pipe))
    out.append(buffer.data(), n);
  EXPECT_EQ(::pclose(pipe), 0) << command;
  return out;
}

}  // namespace airlatch::test
