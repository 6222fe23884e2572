// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/npy_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>
#include <charconv>
#include <cmath>
#include <cstring>
#include <functional>
#include <optional>

#include "plugin/sources/zip_file.hpp"

namespace airlatch {
namespace {

constexpr std::string_view kMagic = "\x93NUMPY";
constexpr std::uint64_t kLargestHeader = 1 << 20, kMostColumns = 4096;

// One kind of number: its letter of numpy's type strings, bytes, byte order.
struct NumberType {
  char kind = 'f';  // f i u b M
  std::size_t bytes = 8;
  bool big_endian = false;
  double time_unit_s = 0;
};

// "<f8", ">i2", "|b1", "<M8[ms]"; nothing where it is no number of ours.
std::optional<NumberType> parse_type(std::string_view text) {
  if (text.size() < 3) return std::nullopt;
  NumberType type;
  type.big_endian = text[0] == '>';
  if (!type.big_endian && text[0] != '<' && text[0] != '|' && text[0] != '=') return std::nullopt;
  type.kind = text[1];
  const char* const end = text.data() + text.size();
  const auto number = std::from_chars(text.data() + 2, end, type.bytes);
  if (number.ec != std::errc()) return std::nullopt;
  const std::string_view rest(number.ptr, static_cast<std::size_t>(end - number.ptr));
  const auto one_of = [&](std::initializer_list<std::size_t> sizes) {
    return std::find(sizes.begin(), sizes.end(), type.bytes) != sizes.end();
  };
  if (type.kind == 'M' || type.kind == 'm') {
    constexpr std::array<std::pair<std::string_view, double>, 8> kUnits = {{{"[s]", 1},
                                                                            {"[ms]", 1e-3},
                                                                            {"[us]", 1e-6},
                                                                            {"[ns]", 1e-9},
                                                                            {"[ps]", 1e-12},
                                                                            {"[m]", 60},
                                                                            {"[h]", 3600},
                                                                            {"[D]", 86400}}};
    for (const auto& [unit, seconds] : kUnits)
      if (rest == unit) type.time_unit_s = seconds;
    if (type.bytes != 8 || type.time_unit_s == 0) return std::nullopt;
    return type;
  }
  const bool known = (type.kind == 'f' && one_of({2, 4, 8})) ||
                     ((type.kind == 'i' || type.kind == 'u') && one_of({1, 2, 4, 8})) ||
                     (type.kind == 'b' && one_of({1}));
  if (!known || !rest.empty()) return std::nullopt;
  return type;
}

double half(std::uint16_t bits) {
  const int exponent = bits >> 10 & 31, fraction = bits & 1023;
  const double sign = bits >> 15 ? -1 : 1;
  if (exponent == 31) return fraction ? std::nan("") : sign * HUGE_VAL;
  if (exponent == 0) return sign * std::ldexp(fraction, -24);
  return sign * std::ldexp(1024 + fraction, exponent - 25);
}

template <typename T>
double as(const unsigned char* at) {
  T value;
  std::memcpy(&value, at, sizeof value);
  return static_cast<double>(value);
}

double number_at(const unsigned char* from, const NumberType& type) {
  std::array<unsigned char, 8> raw;
  std::copy_n(from, type.bytes, raw.begin());
  if (type.big_endian) std::reverse(raw.begin(), raw.begin() + static_cast<int>(type.bytes));
  const unsigned char* const at = raw.data();
  switch (type.kind) {
    case 'f':
      if (type.bytes == 2) {
        std::uint16_t bits;
        std::memcpy(&bits, at, sizeof bits);
        return half(bits);
      }
      return type.bytes == 4 ? as<float>(at) : as<double>(at);
    case 'i':
      return type.bytes == 1   ? as<std::int8_t>(at)
             : type.bytes == 2 ? as<std::int16_t>(at)
             : type.bytes == 4 ? as<std::int32_t>(at)
                               : as<std::int64_t>(at);
    case 'M':
    case 'm': {
      std::int64_t value;
      std::memcpy(&value, at, sizeof value);
      const bool no_time = value == std::numeric_limits<std::int64_t>::min();
      return no_time ? std::nan("") : static_cast<double>(value);
    }
    default:
      return type.bytes == 1   ? as<std::uint8_t>(at)
             : type.bytes == 2 ? as<std::uint16_t>(at)
             : type.bytes == 4 ? as<std::uint32_t>(at)
                               : as<std::uint64_t>(at);
  }
}

// The header's Python literal: strings, numbers, True and False, tuples, lists, one dictionary.
class Literal {
 public:
  explicit Literal(std::string_view text) : left_(text) {}
  void blanks() {
    while (!left_.empty() && std::strchr(" \t\n\r", left_.front()) != nullptr) take();
  }
  bool accept(char c) {
    blanks();
    if (left_.empty() || left_.front() != c) return false;
    take();
    return true;
  }
  void expect(char c) {
    if (!accept(c)) throw ArrayError("its header is damaged");
  }
  [[nodiscard]] bool at(char c) {
    blanks();
    return !left_.empty() && left_.front() == c;
  }
  std::string text() {
    blanks();
    if (left_.empty() || (left_.front() != '\'' && left_.front() != '"'))
      throw ArrayError("its header is damaged");
    const char quote = left_.front();
    take();
    std::string out;
    while (!left_.empty() && left_.front() != quote) {
      if (left_.front() == '\\') take();
      if (left_.empty()) break;
      out += left_.front();
      take();
    }
    expect(quote);
    return out;
  }
  std::uint64_t number() {
    blanks();
    std::uint64_t out = 0;
    const auto end = std::from_chars(left_.data(), left_.data() + left_.size(), out);
    if (end.ec != std::errc()) throw ArrayError("its header is damaged");
    left_.remove_prefix(static_cast<std::size_t>(end.ptr - left_.data()));
    accept('L');  // of Python 2
    return out;
  }
  bool truth() {
    blanks();
    for (const auto& [word, value] : {std::pair{"True", true}, {"False", false}})
      if (left_.starts_with(word)) {
        left_.remove_prefix(std::strlen(word));
        return value;
      }
    throw ArrayError("its header is damaged");
  }
  std::vector<std::uint64_t> numbers() {  // a tuple
    std::vector<std::uint64_t> out;
    expect('(');
    while (!accept(')')) {
      out.push_back(number());
      if (out.size() > 32) throw ArrayError("its header is damaged");
      accept(',');
    }
    return out;
  }

 private:
  void take() { left_.remove_prefix(1); }
  std::string_view left_;
};

struct Field {
  std::string name;  // empty: the array is no record
  std::string type;
  std::vector<std::uint64_t> shape = {};
};

struct Header {
  std::vector<Field> fields = {};
  bool columns_first = false;  // Fortran's order
  std::vector<std::uint64_t> shape = {};
  std::uint64_t data_at = 0;
};

void parse_fields(Literal& literal, Header& header) {
  if (!literal.accept('[')) {
    header.fields.push_back({"", literal.text()});
    return;
  }
  while (!literal.accept(']')) {
    literal.expect('(');
    Field field;
    if (literal.accept('(')) {  // a title and a name
      literal.text();
      literal.expect(',');
      field.name = literal.text();
      literal.expect(')');
    } else {
      field.name = literal.text();
    }
    literal.expect(',');
    if (literal.at('[')) throw ArrayError("records within records cannot be read");
    field.type = literal.text();
    if (literal.accept(',') && literal.at('(')) field.shape = literal.numbers();
    literal.expect(')');
    literal.accept(',');
    header.fields.push_back(std::move(field));
    if (header.fields.size() > kMostColumns) throw ArrayError("its header is damaged");
  }
}

Header parse_header(std::string_view text) {
  Header header;
  Literal literal(text);
  literal.expect('{');
  int seen = 0;
  while (!literal.accept('}')) {
    const std::string key = literal.text();
    literal.expect(':');
    if (key == "descr")
      parse_fields(literal, header);
    else if (key == "fortran_order")
      header.columns_first = literal.truth();
    else if (key == "shape")
      header.shape = literal.numbers();
    else
      throw ArrayError("its header is damaged");
    ++seen;
    literal.accept(',');
  }
  if (seen != 3) throw ArrayError("its header is damaged");
  return header;
}

using Bytes = std::function<std::size_t(void* to, std::size_t bytes, std::uint64_t at)>;

Header read_header(const Bytes& bytes) {
  std::array<unsigned char, 12> start = {};
  const std::size_t got = bytes(start.data(), start.size(), 0);
  if (got < start.size() || !is_npy({reinterpret_cast<const char*>(start.data()), got}))
    throw ArrayError("its header is damaged");
  const bool long_header = start[6] >= 2;
  std::uint64_t size = start[8] | start[9] << 8;
  if (long_header)
    size |= static_cast<std::uint64_t>(start[10]) << 16 | static_cast<std::uint64_t>(start[11])
                                                              << 24;
  const std::uint64_t at = long_header ? 12 : 10;
  if (start[6] < 1 || start[6] > 3 || size > kLargestHeader)
    throw ArrayError("its header is damaged");
  std::string text(static_cast<std::size_t>(size), '\0');
  if (bytes(text.data(), text.size(), at) < text.size()) throw ArrayError("it is cut short");
  Header header = parse_header(text);
  header.data_at = at + size;
  return header;
}

// A column of numbers at even distances in the bytes.
struct Column {
  NumberType type;
  std::uint64_t at = 0, stride = 0;
};

// The arrays of one .npy, added to a table and its columns.
class Npy {
 public:
  Npy(std::string name, Bytes bytes, std::uint64_t size)
      : name_(std::move(name)), bytes_(std::move(bytes)), size_(size) {}
  void add_to(ArrayTable& table, std::vector<Column>& columns) {
    header_ = read_header(bytes_);
    const auto& shape = header_.shape;
    if (shape.size() > 2) {
      table.left_out.push_back(fmt::format("{}: {} dimensions", name_, shape.size()));
      return;
    }
    if (header_.fields[0].name.empty())
      add_plain(table, columns);
    else
      add_records(table, columns);
  }

 private:
  [[nodiscard]] std::uint64_t times(std::uint64_t a, std::uint64_t b) const {
    std::uint64_t out = 0;
    if (__builtin_mul_overflow(a, b, &out) || out > size_) throw ArrayError("it is cut short");
    return out;
  }
  void add(ArrayTable& table, std::vector<Column>& columns, const std::string& name,
           const NumberType& type, std::uint64_t length, std::uint64_t at, std::uint64_t stride) {
    if (columns.size() >= kMostColumns) throw ArrayError("it has more columns than can be read");
    table.arrays.push_back({.name = name,
                            .length = length,
                            .whole = type.kind != 'f',
                            .time_unit_s = type.time_unit_s,
                            .logic = type.kind == 'b'});
    columns.push_back({type, header_.data_at + at, stride});
  }
  void add_plain(ArrayTable& table, std::vector<Column>& columns) {
    const auto type = parse_type(header_.fields[0].type);
    if (!type) {
      table.left_out.push_back(
          fmt::format("{}: numbers of type {}", name_, header_.fields[0].type));
      return;
    }
    std::uint64_t rows = 1, across = 1;
    if (!header_.shape.empty()) rows = header_.shape[0];
    if (header_.shape.size() == 2) across = header_.shape[1];
    check_size(times(times(rows, across), type->bytes));
    if (rows * across == 1) {
      std::array<unsigned char, 8> raw = {};
      bytes_(raw.data(), type->bytes, header_.data_at);
      table.numbers.emplace_back(name_, number_at(raw.data(), *type));
      return;
    }
    if (rows * across == 0) return;
    // Bytes from one row to the next, and from one column to the next.
    std::uint64_t down = across * type->bytes, right = type->bytes;
    if (header_.columns_first) {
      down = type->bytes;
      right = rows * type->bytes;
    }
    if (across > rows) {  // time runs across
      std::swap(rows, across);
      std::swap(down, right);
    }
    for (std::uint64_t c = 0; c < across; ++c)
      add(table, columns, across == 1 && !name_.empty() ? name_ : column_name(c), *type, rows,
          c * right, down);
  }
  [[nodiscard]] std::string column_name(std::uint64_t c) const {
    return fmt::format("{}{}CH{}", name_, name_.empty() ? "" : "/", c + 1);
  }
  void add_records(ArrayTable& table, std::vector<Column>& columns) {
    const std::uint64_t rows = header_.shape.empty() ? 1 : header_.shape[0];
    if (header_.shape.size() == 2 && header_.shape[1] != 1) {
      table.left_out.push_back(fmt::format("{}: a table of records", name_));
      return;
    }
    std::vector<std::pair<NumberType, std::uint64_t>> found;
    std::uint64_t size = 0;
    for (const Field& field : header_.fields) {
      const auto type = parse_type(field.type);
      found.emplace_back(type.value_or(NumberType{.bytes = 0}), size);
      std::uint64_t bytes = type ? type->bytes : bytes_of(field.type);
      for (const std::uint64_t n : field.shape) bytes = times(bytes, n);
      if (!type || !field.shape.empty()) found.back().first.bytes = 0;
      size += bytes;
    }
    check_size(times(rows, size));
    for (std::size_t k = 0; k < found.size(); ++k) {
      const auto& [type, at] = found[k];
      const Field& field = header_.fields[k];
      if (field.name.empty()) continue;  // padding
      if (type.bytes == 0)
        table.left_out.push_back(fmt::format("{}: values of type {}", field.name, field.type));
      else
        add(table, columns, name_.empty() ? field.name : name_ + "/" + field.name, type, rows, at,
            size);
    }
  }
  // Of a type that is passed over: texts, complex numbers, bytes.
  static std::uint64_t bytes_of(const std::string& type) {
    std::uint64_t n = 0;
    if (type.size() > 2) std::from_chars(type.data() + 2, type.data() + type.size(), n);
    if (n == 0 || n > kLargestHeader || type[1] == 'O')
      throw ArrayError("values of type " + type + " cannot be read");
    return type[1] == 'U' ? 4 * n : n;
  }
  void check_size(std::uint64_t bytes) const {
    if (header_.data_at + bytes > size_)
      throw ArrayError(fmt::format("it is cut short: {} bytes of samples are stated, {} are there",
                                   bytes, size_ - std::min(size_, header_.data_at)));
  }

  std::string name_;
  Bytes bytes_;
  std::uint64_t size_;
  Header header_;
};

// Reads columns out of one stretch of bytes.
void read_column(const Bytes& bytes, const Column& column, std::uint64_t from, std::span<double> to,
                 std::vector<unsigned char>& raw) {
  constexpr std::uint64_t kAtOnce = 1 << 20;
  std::size_t done = 0;
  while (done < to.size()) {
    const std::size_t n = std::min<std::size_t>(
        to.size() - done, static_cast<std::size_t>(std::max<std::uint64_t>(
                              1, kAtOnce / std::max<std::uint64_t>(1, column.stride))));
    const std::size_t size = (n - 1) * column.stride + column.type.bytes;
    raw.resize(size);
    if (bytes(raw.data(), size, column.at + (from + done) * column.stride) < size)
      throw ArrayError("it cannot be read any further");
    for (std::size_t i = 0; i < n; ++i)
      to[done + i] = number_at(raw.data() + i * column.stride, column.type);
    done += n;
  }
}

class NpyFile final : public ArrayFile {
 public:
  explicit NpyFile(const InputFile& file)
      : bytes_([&file](void* to, std::size_t bytes, std::uint64_t at) {
          return file.read_at(to, bytes, at);
        }) {
    Npy("", bytes_, file.size()).add_to(table_, columns_);
  }
  [[nodiscard]] const ArrayTable& table() const override { return table_; }
  void read(std::size_t array, std::uint64_t from, std::span<double> to) override {
    read_column(bytes_, columns_.at(array), from, to, raw_);
  }

 private:
  Bytes bytes_;
  ArrayTable table_;
  std::vector<Column> columns_;
  std::vector<unsigned char> raw_;
};

class NpzFile final : public ArrayFile {
 public:
  explicit NpzFile(const InputFile& file) {
    const ZipFile zip(file);
    if (!zip.cut_short().empty()) throw ArrayError(zip.cut_short());
    std::uint64_t all = 0;
    for (const ZipFile::Entry& entry : zip.entries()) {
      if (!entry.name.ends_with(".npy")) continue;
      if (entry.wrong) throw ArrayError(fmt::format("{}: {}", entry.name, entry.wrong));
      all += entry.size;
      if (all > kMostZipped)
        throw ArrayError(
            fmt::format("its arrays need more than {} MiB: save fewer at once", kMostZipped >> 20));
      add(zip, entry);
    }
  }
  [[nodiscard]] const ArrayTable& table() const override { return table_; }
  void read(std::size_t array, std::uint64_t from, std::span<double> to) override {
    read_column(bytes_of(*contents_[of_.at(array)]), columns_[array], from, to, raw_);
  }

 private:
  using Content = std::vector<std::byte>;
  static Bytes bytes_of(const Content& content) {
    return [&content](void* to, std::size_t bytes, std::uint64_t at) -> std::size_t {
      if (at >= content.size()) return 0;
      const std::size_t n = std::min<std::size_t>(bytes, content.size() - at);
      std::memcpy(to, content.data() + at, n);
      return n;
    };
  }
  void add(const ZipFile& zip, const ZipFile::Entry& entry) {
    auto content = std::make_unique<Content>(static_cast<std::size_t>(entry.size));
    if (!zip.read_whole(entry, *content)) {
      ZipFile::Reader reader = zip.open(entry);
      try {
        for (std::span<std::byte> left = *content; !left.empty();) {
          const std::size_t got = reader.read(left);
          if (got == 0) throw ArrayError("it is cut short");
          left = left.subspan(got);
        }
      } catch (const std::runtime_error& error) {
        throw ArrayError(fmt::format("{}: {}", entry.name, error.what()));
      }
    }
    const std::string name = entry.name.substr(0, entry.name.size() - 4);
    try {
      Npy(name, bytes_of(*content), content->size()).add_to(table_, columns_);
    } catch (const ArrayError& error) {
      table_.left_out.push_back(fmt::format("{}: {}", name, error.what()));
    }
    of_.resize(columns_.size(), contents_.size());
    contents_.push_back(std::move(content));
  }

  ArrayTable table_;
  std::vector<Column> columns_;
  std::vector<std::size_t> of_;  // content of each column
  std::vector<std::unique_ptr<Content>> contents_;
  std::vector<unsigned char> raw_;
};

}  // namespace

bool is_npy(std::string_view head) { return head.starts_with(kMagic); }

std::unique_ptr<ArrayFile> open_npy(const InputFile& file) {
  return std::make_unique<NpyFile>(file);
}
std::unique_ptr<ArrayFile> open_npz(const InputFile& file) {
  return std::make_unique<NpzFile>(file);
}

}  // namespace airlatch
