// SPDX-License-Identifier: GPL-3.0-or-later
// Containers of arrays, cut, flipped, with whole numbers at the ends of their ranges: the libraries
// that read them may fail, this program may not.
#include <gtest/gtest.h>

#include "tests/hostile/mutations.hpp"
#include "tests/hostile/trial.hpp"
#include "tests/support/array_files.hpp"

namespace airlatch::hostile {
namespace {
using namespace test;

std::vector<std::pair<std::string, std::string>> sound() {
  const Folder folder;
  write_mat(folder.at("mat"), drawn(), false);
  write_mat(folder.at("packed-mat"), drawn(), true);
  write_hdf5(folder.at("hdf5"), drawn());
  write_hdf5(folder.at("packed-hdf5"), drawn(), "kPa", 100, true);
  write_npz(folder.at("npz"), drawn(), true);
  std::vector<std::pair<std::string, std::string>> out;
  for (const char* name : {"mat", "packed-mat", "hdf5", "packed-hdf5", "npz"})
    out.emplace_back(name, read_file(folder.at(name)));
  out.emplace_back("npy", npy("[('time', '<f8'), ('line_kpa', '<f8')]", "(600,)",
                              bytes_of<double>(drawn().time_s)));
  out.emplace_back("vcd", vcd(drawn()));
  return out;
}

// What makes a file large is at its beginning: half of all changes are made there.
std::string changed(Mutations& draw, const std::string& file) {
  const std::size_t head = std::min<std::size_t>(file.size(), 2048);
  std::string begin = file.substr(0, head), rest = file.substr(head);
  switch (draw.below(5)) {
    case 0:
      return draw.cut(file);
    case 1:
      return draw.flipped(begin) + rest;
    case 2:
      return draw.extreme_bytes(begin) + rest;
    case 3:
      return draw.flipped(file);
    default:
      return draw.extreme_bytes(file);
  }
}

TEST(HostileArrays, OfEveryContainer) {
  Tally tally("containers of arrays");
  const Folder folder;
  for (const auto& [name, content] : sound()) {
    Mutations draw(20260401);
    for (int k = 0; k < draws(12); ++k) {
      const std::string file = folder.write("x", changed(draw, content));
      tally.count(run_trial({"replay", file, "--quiet"}), name + ", number " + std::to_string(k));
    }
  }
}

}  // namespace
}  // namespace airlatch::hostile
