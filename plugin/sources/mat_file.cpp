// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/mat_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cstring>

#include "plugin/sources/arrays_apart.hpp"
#include "plugin/system/lazy/matio.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kMostArrays = 4096;
constexpr int kDeepest = 16;

template <typename T>
double as(const void* data, std::size_t k) {
  return static_cast<double>(static_cast<const T*>(data)[k]);
}

double number_at(const matvar_t& array, std::size_t k) {
  switch (array.data_type) {
    case MAT_T_DOUBLE:
      return as<double>(array.data, k);
    case MAT_T_SINGLE:
      return as<float>(array.data, k);
    case MAT_T_INT8:
      return as<std::int8_t>(array.data, k);
    case MAT_T_UINT8:
      return as<std::uint8_t>(array.data, k);
    case MAT_T_INT16:
      return as<std::int16_t>(array.data, k);
    case MAT_T_UINT16:
      return as<std::uint16_t>(array.data, k);
    case MAT_T_INT32:
      return as<std::int32_t>(array.data, k);
    case MAT_T_UINT32:
      return as<std::uint32_t>(array.data, k);
    case MAT_T_INT64:
      return as<std::int64_t>(array.data, k);
    case MAT_T_UINT64:
      return as<std::uint64_t>(array.data, k);
    default:
      throw ArrayError("it holds numbers of an unknown type");
  }
}

struct Freed {
  void operator()(matvar_t* variable) const { lazy::Mat_VarFree(variable); }
  void operator()(mat_t* file) const { lazy::Mat_Close(file); }
};
using Variable = std::unique_ptr<matvar_t, Freed>;

// Numbers at even distances in an array.
struct Column {
  const matvar_t* array = nullptr;
  std::size_t at = 0, stride = 1;
};

class MatFile final : public ArrayFile {
 public:
  explicit MatFile(const std::string& path) : file_(lazy::Mat_Open(path.c_str(), MAT_ACC_RDONLY)) {
    if (!file_) throw ArrayError("it is damaged");
    while (Variable variable{lazy::Mat_VarReadNextInfo(file_.get())}) {
      const std::string name = variable->name ? variable->name : "";
      if (name.empty() || name.starts_with("__")) continue;  // what a program keeps for itself
      expect_room(*variable);
      if (lazy::Mat_VarReadDataAll(file_.get(), variable.get()) != 0) {
        table_.left_out.push_back(name + ": it is damaged");
        continue;
      }
      take(*variable, name, 0);
      variables_.push_back(std::move(variable));
    }
    if (table_.arrays.empty() && table_.left_out.empty()) throw ArrayError("it holds no arrays");
  }
  [[nodiscard]] const ArrayTable& table() const override { return table_; }
  void read(std::size_t array, std::uint64_t from, std::span<double> to) override {
    const Column& column = columns_.at(array);
    for (std::size_t k = 0; k < to.size(); ++k)
      to[k] = number_at(*column.array, column.at + (from + k) * column.stride);
  }

 private:
  void expect_room(const matvar_t& variable) {
    std::uint64_t bytes = 8;
    for (int k = 0; variable.dims && k < variable.rank; ++k)
      if (__builtin_mul_overflow(bytes, variable.dims[k], &bytes)) bytes = kMostMat + 1;
    bytes_ += std::min(bytes, kMostMat + 1);
    if (bytes_ > kMostMat)
      throw ArrayError(
          fmt::format("its arrays need more than {} MiB: save fewer at once, or save it with -v7.3",
                      kMostMat >> 20));
  }
  void take(const matvar_t& variable, const std::string& name, int depth) {
    const bool number = variable.class_type >= MAT_C_DOUBLE && variable.class_type <= MAT_C_UINT64;
    if (variable.class_type == MAT_C_STRUCT && depth < kDeepest) {
      take_fields(variable, name, depth);
    } else if (number && variable.isComplex) {
      table_.left_out.push_back(name + ": complex numbers");
    } else if (number && variable.rank != 2) {
      table_.left_out.push_back(fmt::format("{}: {} dimensions", name, variable.rank));
    } else if (number && variable.data && variable.dims) {
      take_numbers(variable, name);
    }
  }
  void take_fields(const matvar_t& variable, const std::string& name, int depth) {
    if (variable.rank != 2 || !variable.dims || variable.dims[0] != 1 || variable.dims[1] != 1) {
      table_.left_out.push_back(name + ": an array of structures");
      return;
    }
    auto* const at = const_cast<matvar_t*>(&variable);  // it is only looked into
    const unsigned fields = lazy::Mat_VarGetNumberOfFields(at);
    char* const* const names = lazy::Mat_VarGetStructFieldnames(&variable);
    for (unsigned k = 0; names && k < fields && k < kMostArrays; ++k)
      if (const matvar_t* field = lazy::Mat_VarGetStructFieldByIndex(at, k, 0); field && names[k])
        take(*field, name + "/" + names[k], depth + 1);
  }
  void take_numbers(const matvar_t& variable, const std::string& name) {
    std::size_t rows = variable.dims[0], columns = variable.dims[1];
    if (rows == 0 || columns == 0) return;
    // What is stated must be there: a reader of the library's arrays is not warned.
    if (variable.data_size <= 0 ||
        rows > variable.nbytes / static_cast<std::size_t>(variable.data_size) / columns) {
      table_.left_out.push_back(name + ": it is damaged");
      return;
    }
    if (rows == 1 && columns == 1) {
      table_.numbers.emplace_back(name, number_at(variable, 0));
      return;
    }
    std::size_t down = 1, right = rows;  // columns stand one behind the other
    if (columns > rows) {
      std::swap(rows, columns);
      std::swap(down, right);
    }
    if (columns_.size() + columns > kMostArrays)
      throw ArrayError("it has more columns than can be read");
    for (std::size_t c = 0; c < columns; ++c) {
      const bool whole = variable.class_type != MAT_C_DOUBLE && variable.class_type != MAT_C_SINGLE;
      table_.arrays.push_back({.name = columns == 1 ? name : fmt::format("{}/CH{}", name, c + 1),
                               .length = rows,
                               .whole = whole,
                               .logic = variable.isLogical != 0});
      columns_.push_back({&variable, c * right, down});
    }
  }

  std::unique_ptr<mat_t, Freed> file_;
  std::uint64_t bytes_ = 0;
  ArrayTable table_;
  std::vector<Column> columns_;
  std::vector<Variable> variables_;
};

std::unique_ptr<ArrayFile> open_here(const std::string& path) {
  return std::make_unique<MatFile>(path);
}

// Level 4 has no signature: a head of five whole numbers and a name (the type of what follows, rows,
// columns, complex or not, the name's length with its final 0).
bool is_level_4(std::string_view head) {
  std::array<std::uint32_t, 5> numbers = {};
  constexpr std::size_t kHead = sizeof numbers, kLongestName = 64;
  if (head.size() < kHead) return false;
  std::memcpy(numbers.data(), head.data(), kHead);
  const auto& [type, rows, columns, is_complex, name] = numbers;
  if (type > 50 || type % 10 != 0 || rows == 0 || columns == 0 || is_complex > 1) return false;
  if (name < 2 || name > kLongestName || head.size() < kHead + name) return false;
  const std::string_view text = head.substr(kHead, name - 1);
  return head[kHead + name - 1] == '\0' && std::all_of(text.begin(), text.end(), [](char c) {
           return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_';
         });
}

}  // namespace

bool is_mat(std::string_view head) {
  if (is_level_4(head)) return true;
  return head.starts_with("MATLAB 5.0 MAT-file") ||
         (head.size() >= 128 && (head.substr(124, 4) == std::string_view("\x00\x01IM", 4) ||
                                 head.substr(124, 4) == std::string_view("\x01\x00MI", 4)));
}

std::unique_ptr<ArrayFile> open_mat(const InputFile& file) {
  (void)lazy_symbol(lazy::kMatio, "Mat_Open");  // loaded, and not yet used
  return open_apart(file.path(), open_here);
}

}  // namespace airlatch
