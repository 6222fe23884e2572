// SPDX-License-Identifier: GPL-3.0-or-later
// array_files.hpp: a few channels written as programs that keep arrays write them: by the formats' own
// libraries, or byte by byte as their descriptions have it.
#pragma once
#include <fmt/format.h>
#include <hdf5.h>
#include <matio.h>

#include <string>
#include <utility>
#include <vector>

#include "tests/support/files.hpp"

namespace airlatch::test {

struct Drawn {
  std::vector<double> time_s;
  std::vector<std::pair<std::string, std::vector<double>>> channels;
};

// A run and its rest on two channels: 12 s at 100 samples a second, steps that floats hold.
inline Drawn drawn() {
  Drawn out;
  std::vector<double> current, pressure;
  for (int k = 0; k < 1200; ++k) {
    const double t = k / 100.0;
    out.time_s.push_back(t);
    const bool runs = t >= 2 && t < 5;
    current.push_back((runs ? 3 : 0) + (k % 4) / 64.0);
    pressure.push_back((t < 2 ? 0 : runs ? 15 * (t - 2) : 45) + (k % 3) / 32.0);
  }
  out.channels = {{"motor_a", current}, {"line_kpa", pressure}};
  return out;
}

inline void write_mat(const std::string& path, const Drawn& from, bool packed) {
  mat_t* file = Mat_CreateVer(path.c_str(), nullptr, MAT_FT_MAT5);
  const auto put = [&](const std::string& name, std::vector<double> values) {
    std::size_t dims[2] = {values.size(), 1};
    matvar_t* variable = Mat_VarCreate(name.c_str(), MAT_C_DOUBLE, MAT_T_DOUBLE, 2, dims,
                                       values.data(), MAT_F_DONT_COPY_DATA);
    Mat_VarWrite(file, variable, packed ? MAT_COMPRESSION_ZLIB : MAT_COMPRESSION_NONE);
    Mat_VarFree(variable);
  };
  put("t", from.time_s);
  for (const auto& [name, values] : from.channels) put(name, values);
  Mat_Close(file);
}

// `unit`: an attribute of each channel; `rate_hz`: of the group, instead of times.
inline void write_hdf5(const std::string& path, const Drawn& from, const std::string& unit = "",
                       double rate_hz = 0, bool packed = false) {
  const hid_t file = H5Fcreate(path.c_str(), H5F_ACC_TRUNC, H5P_DEFAULT, H5P_DEFAULT);
  const hid_t group = H5Gcreate2(file, "run", H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT);
  const hid_t scalar = H5Screate(H5S_SCALAR);
  const auto put = [&](const std::string& name, const std::vector<double>& values) {
    const hsize_t n = values.size(), chunk = 100;
    const hid_t space = H5Screate_simple(1, &n, nullptr), how = H5Pcreate(H5P_DATASET_CREATE);
    if (packed) {
      H5Pset_chunk(how, 1, &chunk);
      H5Pset_deflate(how, 6);
    }
    const hid_t set =
        H5Dcreate2(group, name.c_str(), H5T_NATIVE_DOUBLE, space, H5P_DEFAULT, how, H5P_DEFAULT);
    H5Dwrite(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values.data());
    if (!unit.empty() && name != "time") {
      const hid_t text = H5Tcopy(H5T_C_S1);
      H5Tset_size(text, unit.size());
      const hid_t attribute = H5Acreate2(set, "units", text, scalar, H5P_DEFAULT, H5P_DEFAULT);
      H5Awrite(attribute, text, unit.data());
      H5Aclose(attribute);
      H5Tclose(text);
    }
    H5Dclose(set);
    H5Pclose(how);
    H5Sclose(space);
  };
  if (rate_hz > 0) {
    const hid_t attribute =
        H5Acreate2(group, "sample_rate", H5T_NATIVE_DOUBLE, scalar, H5P_DEFAULT, H5P_DEFAULT);
    H5Awrite(attribute, H5T_NATIVE_DOUBLE, &rate_hz);
    H5Aclose(attribute);
  } else {
    put("time", from.time_s);
  }
  for (const auto& [name, values] : from.channels) put(name, values);
  H5Sclose(scalar);
  H5Gclose(group);
  H5Fclose(file);
}

// A .npy of format version 1.0 with this description, shape and bytes.
inline std::string npy(const std::string& descr, const std::string& shape, const std::string& bytes,
                       bool fortran = false) {
  std::string header = fmt::format("{{'descr': {}, 'fortran_order': {}, 'shape': {}, }}", descr,
                                   fortran ? "True" : "False", shape);
  while ((header.size() + 11) % 64 != 0) header += ' ';
  header += '\n';
  std::string out("\x93NUMPY\x01\x00", 8);
  out += static_cast<char>(header.size() & 0xff);
  out += static_cast<char>(header.size() >> 8);
  return out + header + bytes;
}

template <typename Number>
std::string bytes_of(const std::vector<double>& values) {
  std::string out;
  for (const double value : values) {
    const auto number = static_cast<Number>(value);
    out.append(reinterpret_cast<const char*>(&number), sizeof number);
  }
  return out;
}

inline std::string npy(const std::vector<double>& values) {
  return npy("'<f8'", fmt::format("({},)", values.size()), bytes_of<double>(values));
}

inline void write_npz(const std::string& path, const Drawn& from, bool packed) {
  Entries entries = {{"time.npy", npy(from.time_s)}};
  for (const auto& [name, values] : from.channels) entries.emplace_back(name + ".npy", npy(values));
  write_zip(path, entries, packed);
}

// Changes only, as such files have it.
inline std::string vcd(const Drawn& from) {
  std::string out = "$date today $end\n$timescale 1 us $end\n$scope module bench $end\n";
  for (std::size_t c = 0; c < from.channels.size(); ++c)
    out += fmt::format("$var real 64 {} {} $end\n", c + 1, from.channels[c].first);
  out += "$upscope $end\n$enddefinitions $end\n";
  for (std::size_t k = 0; k < from.time_s.size(); ++k) {
    out += fmt::format("#{:.0f}\n", from.time_s[k] * 1e6);
    for (std::size_t c = 0; c < from.channels.size(); ++c) {
      const auto& values = from.channels[c].second;
      if (k == 0 || values[k] != values[k - 1]) out += fmt::format("r{} {}\n", values[k], c + 1);
    }
  }
  return out;
}

}  // namespace airlatch::test
