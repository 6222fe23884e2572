// SPDX-License-Identifier: GPL-3.0-or-later
// arrays.hpp: captures kept as named arrays of numbers (MAT, HDF5, NumPy).
//
// In    the arrays, each in order, and single numbers beside them.
// Out   a source: every array is a channel but those of time. An array of time is one whose name
//       says so, whose numbers rise, and whose length others have: theirs, within the same group
//       first. Without one the rate that the file states (sample_rate, fs, dt ...) or --rate.
// How   times are in seconds unless a unit says otherwise (the rig's text { time_unit }, an attribute,
//       the name's last word); the rig's text { time_column } says which array they are.
//       Whole numbers far apart without a unit, several times for one array, rates that contradict
//       each other: refused, with what to do.
// Cost  a window of each array in memory; the times are read twice.
#pragma once
#include <cstdint>
#include <memory>
#include <span>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "plugin/sources/source.hpp"
#include "plugin/system/input_file.hpp"

namespace airlatch {

// Why a file or a part of it cannot be read.
struct ArrayError : std::runtime_error {
  using std::runtime_error::runtime_error;
};

struct NamedArray {
  std::string name = {};  // with its groups: "run1/line_kpa"
  std::string unit = {};
  std::uint64_t length = 0;
  bool whole = false;      // of integers
  double time_unit_s = 0;  // of a type that is a time itself; 0: it is none
  bool logic = false;
};

struct ArrayTable {
  std::vector<NamedArray> arrays = {};
  std::vector<std::pair<std::string, double>> numbers = {};  // single ones
  std::vector<std::string> left_out = {};                    // "x: complex numbers"
};

class ArrayFile {
 public:
  virtual ~ArrayFile() = default;
  [[nodiscard]] virtual const ArrayTable& table() const = 0;
  // Throws ArrayError. REQUIRES: within the array.
  virtual void read(std::size_t array, std::uint64_t from, std::span<double> to) = 0;
};

// `open` may throw ArrayError. Throws InputError.
using OpensArrayFile = std::unique_ptr<ArrayFile> (*)(const InputFile& file);
std::unique_ptr<Source> open_arrays(const InputFile& file, OpensArrayFile open,
                                    const OpenOptions& options);

}  // namespace airlatch
