// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/hdf5_file.hpp"

#include <dlfcn.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <utility>

#include "plugin/sources/arrays_apart.hpp"
#include "plugin/system/lazy/hdf5.hpp"

namespace airlatch {
namespace {

constexpr std::string_view kMagic = "\x89HDF\r\n\x1a\n";
constexpr std::size_t kMostArrays = 4096;
constexpr unsigned kReadOnly = 0;  // H5F_ACC_RDONLY, whose macro calls the library unasked
constexpr int kDeepest = 16, kMostObjects = 20'000;  // links may lead round in circles

// An id of the library, closed at the end.
using Close = herr_t (*)(hid_t);
class Id {
 public:
  Id(hid_t id, Close close) : id_(id), close_(close) {}
  ~Id() {
    if (id_ >= 0) close_(id_);
  }
  Id(Id&& other) noexcept : id_(std::exchange(other.id_, -1)), close_(other.close_) {}
  Id& operator=(Id&&) = delete;
  Id(const Id&) = delete;
  Id& operator=(const Id&) = delete;
  explicit operator bool() const { return id_ >= 0; }
  [[nodiscard]] hid_t get() const { return id_; }

 private:
  hid_t id_;
  Close close_;
};

// The library's numbers of built-in types are variables; a host that is linked to the library may
// hold the copy that is in use.
hid_t built_in(const char* name) {
  const void* const of_host = ::dlsym(RTLD_DEFAULT, name);
  return *static_cast<const hid_t*>(of_host ? of_host : lazy_symbol(lazy::kHdf5, name));
}
hid_t doubles() { return built_in("H5T_NATIVE_DOUBLE_g"); }

bool is_number(hid_t type) {
  const H5T_class_t kind = lazy::H5Tget_class(type);
  return kind == H5T_FLOAT || kind == H5T_INTEGER || kind == H5T_ENUM;
}

// The attribute as text; empty where there is none.
std::string text_of(hid_t object, const char* name) {
  if (lazy::H5Aexists(object, name) <= 0) return {};
  const Id attribute(lazy::H5Aopen(object, name, H5P_DEFAULT), lazy::H5Aclose);
  const Id type(attribute ? lazy::H5Aget_type(attribute.get()) : -1, lazy::H5Tclose);
  if (!type || lazy::H5Tget_class(type.get()) != H5T_STRING) return {};
  const Id space(lazy::H5Aget_space(attribute.get()), lazy::H5Sclose);
  if (!space || lazy::H5Sget_simple_extent_npoints(space.get()) != 1) return {};
  const Id memory(lazy::H5Tcopy(type.get()), lazy::H5Tclose);
  if (!memory) return {};
  if (lazy::H5Tis_variable_str(type.get()) > 0) {
    char* text = nullptr;
    if (lazy::H5Aread(attribute.get(), memory.get(), &text) < 0 || !text) return {};
    std::string out(text);
    lazy::H5free_memory(text);
    return out;
  }
  const std::size_t size = lazy::H5Tget_size(type.get());
  if (size == 0 || size > 4096) return {};
  std::string out(size, '\0');
  if (lazy::H5Aread(attribute.get(), memory.get(), out.data()) < 0) return {};
  out.resize(std::min(out.find('\0'), out.size()));
  while (out.ends_with(' ')) out.pop_back();
  return out;
}

std::optional<double> number_of(hid_t object, const char* name) {
  if (lazy::H5Aexists(object, name) <= 0) return std::nullopt;
  const Id attribute(lazy::H5Aopen(object, name, H5P_DEFAULT), lazy::H5Aclose);
  const Id type(attribute ? lazy::H5Aget_type(attribute.get()) : -1, lazy::H5Tclose);
  if (!type || !is_number(type.get())) return std::nullopt;
  const Id space(lazy::H5Aget_space(attribute.get()), lazy::H5Sclose);
  if (!space || lazy::H5Sget_simple_extent_npoints(space.get()) != 1) return std::nullopt;
  double value = 0;
  if (lazy::H5Aread(attribute.get(), doubles(), &value) < 0) return std::nullopt;
  return value;
}

// Where an array's numbers lie: a data set, its rows and columns, or a record's field.
struct Place {
  std::size_t set = 0;
  std::string field = {};
  bool two_dimensions = false, time_across = false;
  hsize_t column = 0;
};

class Hdf5File final : public ArrayFile {
 public:
  explicit Hdf5File(const std::string& path)
      : file_(lazy::H5Fopen(path.c_str(), kReadOnly, H5P_DEFAULT), lazy::H5Fclose) {
    if (!file_) throw ArrayError("it is damaged, or still being written");
    const Id root(lazy::H5Oopen(file_.get(), "/", H5P_DEFAULT), lazy::H5Oclose);
    if (!root) throw ArrayError("it is damaged");
    take_group(root.get(), "", 0);
  }
  [[nodiscard]] const ArrayTable& table() const override { return table_; }
  void read(std::size_t array, std::uint64_t from, std::span<double> to) override;

 private:
  void take_group(hid_t group, const std::string& name, int depth);
  void take_set(Id set, const std::string& name);
  void take_rates(hid_t object, const std::string& name);
  void take_records(std::size_t set, hid_t type, hsize_t length, const std::string& name);
  void add(const std::string& name, const std::string& unit, std::uint64_t length, hid_t type,
           const Place& place);

  Id file_;
  int objects_ = 0;
  ArrayTable table_;
  std::vector<Id> sets_;
  std::vector<Place> places_;
};

void Hdf5File::take_rates(hid_t object, const std::string& name) {
  for (const char* const key :
       {"sample_rate", "samplerate", "sampling_rate", "fs", "Fs", "rate", "sample_rate_hz", "dt",
        "sample_period", "sampling_interval", "wf_increment"})
    if (const auto value = number_of(object, key))
      table_.numbers.emplace_back(name + (name.empty() ? "" : "/") + key, *value);
}

void Hdf5File::take_group(hid_t group, const std::string& name, int depth) {
  take_rates(group, name);
  H5G_info_t about;
  if (lazy::H5Gget_info(group, &about) < 0) return;
  for (hsize_t k = 0; k < about.nlinks; ++k) {
    if (++objects_ > kMostObjects) throw ArrayError("it has more objects than can be read");
    std::array<char, 512> text = {};
    if (lazy::H5Lget_name_by_idx(group, ".", H5_INDEX_NAME, H5_ITER_INC, k, text.data(),
                                 text.size(), H5P_DEFAULT) < 0)
      continue;
    const std::string one(text.data());
    if (one.empty() || one.starts_with('#')) continue;  // what a MAT file keeps for itself
    H5L_info_t link;
    if (lazy::H5Lget_info(group, one.c_str(), &link, H5P_DEFAULT) < 0 ||
        link.type == H5L_TYPE_EXTERNAL)
      continue;
    Id object(lazy::H5Oopen(group, one.c_str(), H5P_DEFAULT), lazy::H5Oclose);
    if (!object) {
      table_.left_out.push_back(fmt::format("{}: it cannot be opened", one));
      continue;
    }
    const std::string whole = name.empty() ? one : name + "/" + one;
    const H5I_type_t kind = lazy::H5Iget_type(object.get());
    if (kind == H5I_GROUP && depth < kDeepest) take_group(object.get(), whole, depth + 1);
    if (kind == H5I_DATASET) take_set(std::move(object), whole);
    if (places_.size() > kMostArrays) throw ArrayError("it has more arrays than can be read");
  }
}

void Hdf5File::add(const std::string& name, const std::string& unit, std::uint64_t length,
                   hid_t type, const Place& place) {
  table_.arrays.push_back({.name = name,
                           .unit = unit,
                           .length = length,
                           .whole = lazy::H5Tget_class(type) != H5T_FLOAT,
                           .logic = lazy::H5Tget_class(type) == H5T_ENUM});
  places_.push_back(place);
}

void Hdf5File::take_set(Id set, const std::string& name) {
  const Id type(lazy::H5Dget_type(set.get()), lazy::H5Tclose);
  const Id space(lazy::H5Dget_space(set.get()), lazy::H5Sclose);
  if (!type || !space) return;
  const std::string kept_as = text_of(set.get(), "MATLAB_class");
  if (kept_as == "char" || kept_as == "cell") return;
  const int dimensions = lazy::H5Sget_simple_extent_ndims(space.get());
  std::array<hsize_t, 2> shape = {1, 1};
  if (dimensions > 2 || dimensions < 0) {
    table_.left_out.push_back(fmt::format("{}: {} dimensions", name, dimensions));
    return;
  }
  lazy::H5Sget_simple_extent_dims(space.get(), shape.data(), nullptr);
  const H5T_class_t kind = lazy::H5Tget_class(type.get());
  if (shape[0] == 0 || shape[1] == 0 || kind == H5T_STRING || kind == H5T_REFERENCE) return;
  std::string unit = text_of(set.get(), "units");
  if (unit.empty()) unit = text_of(set.get(), "unit");
  if (unit.empty()) unit = text_of(set.get(), "Units");
  if (unit.empty()) unit = text_of(set.get(), "Unit");
  take_rates(set.get(), name);
  const std::size_t number = sets_.size();
  const hid_t id = set.get();
  sets_.push_back(std::move(set));
  if (kind == H5T_COMPOUND && shape[1] == 1) {
    take_records(number, type.get(), shape[0], name);
    return;
  }
  if (!is_number(type.get())) {
    table_.left_out.push_back(fmt::format("{}: no plain numbers", name));
    return;
  }
  if (shape[0] == 1 && shape[1] == 1) {
    double value = 0;
    if (lazy::H5Dread(id, doubles(), H5S_ALL, H5S_ALL, H5P_DEFAULT, &value) >= 0)
      table_.numbers.emplace_back(name, value);
    return;
  }
  const bool across = dimensions == 2 && shape[1] > shape[0];
  const hsize_t length = across ? shape[1] : shape[0], columns = across ? shape[0] : shape[1];
  if (columns > kMostArrays) throw ArrayError(name + " has more columns than can be read");
  for (hsize_t c = 0; c < columns; ++c)
    add(columns == 1 ? name : fmt::format("{}/CH{}", name, c + 1), unit, length, type.get(),
        {.set = number, .two_dimensions = dimensions == 2, .time_across = across, .column = c});
}

void Hdf5File::take_records(std::size_t set, hid_t type, hsize_t length, const std::string& name) {
  const int fields = lazy::H5Tget_nmembers(type);
  for (int k = 0; k < fields && k < static_cast<int>(kMostArrays); ++k) {
    char* const text = lazy::H5Tget_member_name(type, static_cast<unsigned>(k));
    const std::string field = text ? text : "";
    if (text) lazy::H5free_memory(text);
    const Id member(lazy::H5Tget_member_type(type, static_cast<unsigned>(k)), lazy::H5Tclose);
    if (field.empty() || !member) continue;
    if (is_number(member.get()))
      add(name + "/" + field, "", length, member.get(), {.set = set, .field = field});
    else
      table_.left_out.push_back(fmt::format("{}/{}: no plain numbers", name, field));
  }
}

void Hdf5File::read(std::size_t array, std::uint64_t from, std::span<double> to) {
  if (to.empty()) return;
  const Place& place = places_.at(array);
  const hid_t set = sets_[place.set].get();
  const Id space(lazy::H5Dget_space(set), lazy::H5Sclose);
  const hsize_t n = to.size();
  const Id memory(lazy::H5Screate_simple(1, &n, nullptr), lazy::H5Sclose);
  std::array<hsize_t, 2> start = {from, place.column}, count = {n, 1};
  if (place.time_across) {
    std::swap(start[0], start[1]);
    std::swap(count[0], count[1]);
  }
  if (!space || !memory ||
      lazy::H5Sselect_hyperslab(space.get(), H5S_SELECT_SET, start.data(), nullptr, count.data(),
                                nullptr) < 0)
    throw ArrayError("it is damaged");
  const bool of_record = !place.field.empty();
  const Id record(of_record ? lazy::H5Tcreate(H5T_COMPOUND, sizeof(double)) : -1, lazy::H5Tclose);
  if (of_record &&
      (!record || lazy::H5Tinsert(record.get(), place.field.c_str(), 0, doubles()) < 0))
    throw ArrayError("it is damaged");
  const hid_t as = of_record ? record.get() : doubles();
  if (lazy::H5Dread(set, as, memory.get(), space.get(), H5P_DEFAULT, to.data()) < 0)
    throw ArrayError("it is damaged, or packed in a way that is not read");
}

std::unique_ptr<ArrayFile> open_here(const std::string& path) {
  lazy::H5Eset_auto2(H5E_DEFAULT, nullptr, nullptr);
  return std::make_unique<Hdf5File>(path);
}

}  // namespace

// The signature stands at the beginning, or behind a block of 512 bytes and its doubles (a MAT
// file's own head).
bool is_hdf5(std::string_view head) {
  for (std::size_t at = 0; at + kMagic.size() <= head.size(); at = at == 0 ? 512 : 2 * at)
    if (head.substr(at).starts_with(kMagic)) return true;
  return false;
}

std::unique_ptr<ArrayFile> open_hdf5(const InputFile& file) {
  (void)lazy_symbol(lazy::kHdf5, "H5open");  // loaded, and not yet used
  return open_apart(file.path(), open_here);
}

}  // namespace airlatch
