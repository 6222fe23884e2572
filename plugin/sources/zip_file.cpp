#include "plugin/sources/zip_file.hpp"

#include <fmt/format.h>
#include <libdeflate.h>
#include <zlib.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <cstring>
#include <stdexcept>
#include <string_view>

#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

std::uint32_t little(const unsigned char* at, int bytes) {
  std::uint32_t value = 0;
  for (int k = bytes; k-- > 0;) value = value << 8 | at[k];
  return value;
}

void put(std::string& out, std::uint64_t value, int bytes) {
  for (int k = 0; k < bytes; ++k) out += k < 8 ? static_cast<char>(value >> (8 * k) & 0xff) : '\0';
}

struct Local {  // one entry as its local header tells it
  std::string name;
  std::uint32_t offset = 0, method = 0, crc = 0, packed = 0, size = 0, flags = 0;
};

// Inflates from the present place to the stream's end: where an entry was written without knowing
// its size, only its own end mark tells it. False where the stream is cut or broken.
bool measure_stream(std::FILE* file, Local& local) {
  z_stream stream{};
  if (inflateInit2(&stream, -MAX_WBITS) != Z_OK) return false;
  std::array<unsigned char, 65536> in, out;
  std::uint64_t size = 0, packed = 0;
  uLong crc = crc32(0, nullptr, 0);
  int code = Z_OK;
  while (code == Z_OK) {
    const std::size_t got = std::fread(in.data(), 1, in.size(), file);
    if (got == 0) break;
    stream.next_in = in.data();
    stream.avail_in = static_cast<uInt>(got);
    while (code == Z_OK && stream.avail_in > 0) {
      stream.next_out = out.data();
      stream.avail_out = static_cast<uInt>(out.size());
      code = inflate(&stream, Z_NO_FLUSH);
      const std::size_t made = out.size() - stream.avail_out;
      crc = crc32(crc, out.data(), static_cast<uInt>(made));
      size += made;
    }
    packed += got - stream.avail_in;
  }
  inflateEnd(&stream);
  if (code != Z_STREAM_END || size > 0xfffffffeU || packed > 0xfffffffeU) return false;
  local.crc = static_cast<std::uint32_t>(crc);
  local.size = static_cast<std::uint32_t>(size);
  local.packed = static_cast<std::uint32_t>(packed);
  return true;
}

}  // namespace

void ZipFile::Freed::operator()(libdeflate_decompressor* inflater) const {
  libdeflate_free_decompressor(inflater);
}

ZipFile::ZipFile(const std::string& path) : path_(path), zip_(nullptr, lazy::zip_discard) {
  if (read_directory()) return;
  entries_.clear();
  zip_t* const zip = by_libzip();
  const zip_int64_t n = lazy::zip_get_num_entries(zip, 0);
  for (zip_int64_t k = 0; k < n; ++k) {
    zip_stat_t about;
    lazy::zip_stat_init(&about);
    if (lazy::zip_stat_index(zip, static_cast<zip_uint64_t>(k), 0, &about) != 0 || !about.name)
      continue;
    entries_.push_back(
        {.name = about.name, .index = static_cast<std::uint64_t>(k), .size = about.size});
  }
}

zip_t* ZipFile::by_libzip() const {
  if (zip_) return zip_.get();
  int code = 0;
  zip_.reset(lazy::zip_open(path_.c_str(), ZIP_RDONLY, &code));
  if (!zip_) {
    if (code == ZIP_ER_MEMORY) throw std::bad_alloc();
    salvage();
  }
  return zip_.get();
}

// The directory of a plain zip (APPNOTE 6.3, 4.3.12 and 4.3.16), which nearly all are. False where
// anything is out of the ordinary: that is libzip's to read.
bool ZipFile::read_directory() {
  constexpr std::size_t kEnd = 22, kHead = 46, kLongestComment = 65535;
  file_.reset(std::fopen(path_.c_str(), "rb"));
  inflater_.reset(libdeflate_alloc_decompressor());
  if (!file_ || !inflater_ || std::fseek(file_.get(), 0, SEEK_END) != 0) return false;
  const long size = std::ftell(file_.get());
  const auto tail_size = static_cast<std::size_t>(
      std::clamp<long>(size, 0, static_cast<long>(kEnd + kLongestComment)));
  std::vector<unsigned char> tail(tail_size);
  std::fseek(file_.get(), size - static_cast<long>(tail_size), SEEK_SET);
  if (tail_size < kEnd || std::fread(tail.data(), 1, tail_size, file_.get()) != tail_size)
    return false;
  std::size_t end = tail_size - kEnd;
  while (end > 0 && little(tail.data() + end, 4) != 0x06054b50) --end;
  const unsigned char* const last = tail.data() + end;
  const std::uint32_t count = little(last + 10, 2), length = little(last + 12, 4),
                      start = little(last + 16, 4);
  if (little(last, 4) != 0x06054b50 || little(last + 4, 4) != 0 || little(last + 8, 2) != count ||
      count == 0xffff || start == 0xffffffff || length > 64U << 20 ||
      end + kEnd + little(last + 20, 2) != tail_size ||
      static_cast<long>(start) + static_cast<long>(length) !=
          size - static_cast<long>(tail_size - end))
    return false;
  std::vector<unsigned char> directory(length);
  std::fseek(file_.get(), static_cast<long>(start), SEEK_SET);
  if (std::fread(directory.data(), 1, length, file_.get()) != length) return false;
  std::size_t at = 0;
  for (std::uint32_t k = 0; k < count; ++k) {
    if (at + kHead > length) return false;
    const unsigned char* head = directory.data() + at;
    const std::size_t name = little(head + 28, 2),
                      next = at + kHead + name + little(head + 30, 2) + little(head + 32, 2);
    const bool plain = little(head, 4) == 0x02014b50 && (little(head + 8, 2) & 1U) == 0;
    if (!plain || next > length) return false;  // not encrypted
    entries_.push_back({.name = {reinterpret_cast<const char*>(head) + kHead, name},
                        .index = k,
                        .size = little(head + 24, 4),
                        .header = little(head + 42, 4),
                        .packed = little(head + 20, 4),
                        .crc = little(head + 16, 4),
                        .method = static_cast<std::uint16_t>(little(head + 10, 2))});
    const Entry& entry = entries_.back();
    if (entry.header >= start || entry.packed >= start || entry.size == 0xffffffff) return false;
    at = next;
  }
  return at == length;
}

bool ZipFile::read_whole(const Entry& entry, std::span<std::byte> into) const {
  constexpr std::size_t kLocal = 30;
  constexpr std::uint32_t kLargest = 64U << 20;
  if (!file_ || entry.packed == 0 || entry.packed > kLargest || into.size() != entry.size)
    return false;
  std::array<unsigned char, kLocal> head;
  if (std::fseek(file_.get(), static_cast<long>(entry.header), SEEK_SET) != 0 ||
      std::fread(head.data(), 1, kLocal, file_.get()) != kLocal ||
      little(head.data(), 4) != 0x04034b50)
    return false;
  const long skip = static_cast<long>(little(head.data() + 26, 2)) +
                    static_cast<long>(little(head.data() + 28, 2));
  if (std::fseek(file_.get(), skip, SEEK_CUR) != 0) return false;
  if (entry.method == ZIP_CM_STORE) {
    if (entry.packed != entry.size ||
        std::fread(into.data(), 1, into.size(), file_.get()) != into.size())
      return false;
  } else if (entry.method == ZIP_CM_DEFLATE) {
    packed_.resize(entry.packed);
    if (std::fread(packed_.data(), 1, packed_.size(), file_.get()) != packed_.size()) return false;
    if (libdeflate_deflate_decompress(inflater_.get(), packed_.data(), packed_.size(), into.data(),
                                      into.size(), nullptr) != LIBDEFLATE_SUCCESS)
      return false;
  } else {
    return false;
  }
  return libdeflate_crc32(0, into.data(), into.size()) == entry.crc;
}

void ZipFile::salvage() const {
  const auto hopeless = [&] {
    return InputError(ExitStatus::kUnusableData, path_, "end of file",
                      "the zip directory is missing or damaged and no whole entry is left",
                      "copy the file again from where it was recorded");
  };
  const std::unique_ptr<std::FILE, Closed> file(std::fopen(path_.c_str(), "rb"));
  if (!file) throw hopeless();
  std::fseek(file.get(), 0, SEEK_END);
  const long file_size = std::ftell(file.get());
  if (file_size > 0x7ffffff0L) throw hopeless();
  std::vector<Local> whole;
  long at = 0;
  while (true) {
    std::array<unsigned char, 30> head;
    std::fseek(file.get(), at, SEEK_SET);
    if (std::fread(head.data(), 1, head.size(), file.get()) != head.size() ||
        little(head.data(), 4) != 0x04034b50)
      break;
    Local local{.name = {},
                .offset = static_cast<std::uint32_t>(at),
                .method = little(head.data() + 8, 2),
                .crc = little(head.data() + 14, 4),
                .packed = little(head.data() + 18, 4),
                .size = little(head.data() + 22, 4),
                .flags = little(head.data() + 6, 2)};
    local.name.resize(little(head.data() + 26, 2));
    if (std::fread(local.name.data(), 1, local.name.size(), file.get()) != local.name.size()) break;
    const long data = at + 30 + static_cast<long>(local.name.size()) +
                      static_cast<long>(little(head.data() + 28, 2));
    bool described = false;
    if (local.flags & 8) {
      std::fseek(file.get(), data, SEEK_SET);
      if (local.method != 8 || !measure_stream(file.get(), local)) break;
      described = true;
    }
    long end = data + static_cast<long>(local.packed);
    if (end > file_size) break;
    if (described) {  // an optional mark, then CRC and sizes
      std::array<unsigned char, 4> mark{};
      std::fseek(file.get(), end, SEEK_SET);
      if (std::fread(mark.data(), 1, 4, file.get()) == 4)
        end += little(mark.data(), 4) == 0x08074b50 ? 16 : 12;
    }
    whole.push_back(local);
    at = end;
  }
  if (whole.empty()) throw hopeless();
  // The whole entries with a directory of our own behind them, for libzip to read.
  const long used = std::min(at, file_size);
  std::FILE* copy = std::tmpfile();
  if (!copy)
    throw InputError(ExitStatus::kReadWriteFailed, path_, "", "no room for a temporary copy",
                     "free some space in the temporary folder");
  std::fseek(file.get(), 0, SEEK_SET);
  std::vector<char> buffer(1 << 20);
  long left = used;
  bool fine = true;
  while (left > 0 && fine) {
    const std::size_t want = static_cast<std::size_t>(std::min<long>(left, 1 << 20));
    fine = std::fread(buffer.data(), 1, want, file.get()) == want &&
           std::fwrite(buffer.data(), 1, want, copy) == want;
    left -= static_cast<long>(want);
  }
  std::string directory;
  for (const Local& local : whole) {
    put(directory, 0x02014b50, 4);
    put(directory, 20, 2);
    put(directory, 20, 2);
    put(directory, local.flags & ~8U, 2);
    put(directory, local.method, 2);
    put(directory, 0, 4);  // date and time
    put(directory, local.crc, 4);
    put(directory, local.packed, 4);
    put(directory, local.size, 4);
    put(directory, local.name.size(), 2);
    put(directory, 0, 12);  // extra, comment, disk, attributes
    put(directory, local.offset, 4);
    directory += local.name;
  }
  const std::size_t length = directory.size();
  put(directory, 0x06054b50, 4);
  put(directory, 0, 4);
  put(directory, whole.size(), 2);
  put(directory, whole.size(), 2);
  put(directory, length, 4);
  put(directory, static_cast<std::uint64_t>(used), 4);
  put(directory, 0, 2);
  fine = fine && std::fwrite(directory.data(), 1, directory.size(), copy) == directory.size() &&
         std::fflush(copy) == 0;
  zip_error_t error;
  lazy::zip_error_init(&error);
  zip_source_t* source = fine ? lazy::zip_source_filep_create(copy, 0, -1, &error) : nullptr;
  if (source) zip_.reset(lazy::zip_open_from_source(source, ZIP_RDONLY, &error));
  if (!zip_) {
    if (source)
      lazy::zip_source_free(source);
    else
      std::fclose(copy);
    lazy::zip_error_fini(&error);
    throw hopeless();
  }
  lazy::zip_error_fini(&error);
  cut_short_ = fmt::format("cut short after byte {} of {}", used, file_size);
}

const ZipFile::Entry* ZipFile::find(const std::string& name) const {
  for (const Entry& entry : entries_)
    if (entry.name == name) return &entry;
  return nullptr;
}

ZipFile::Reader::Reader(zip_t* zip, const Entry& entry)
    : file_(lazy::zip_fopen_index(zip, entry.index, 0), lazy::zip_fclose), left_(entry.size) {
  if (!file_) throw std::runtime_error(lazy::zip_strerror(zip));
}

std::size_t ZipFile::Reader::read(std::span<std::byte> into) {
  if (ended_) return 0;
  std::size_t filled = 0;
  while (filled < into.size() && !ended_) {
    const zip_int64_t got =
        lazy::zip_fread(file_.get(), into.data() + filled, into.size() - filled);
    if (got < 0)
      throw std::runtime_error(lazy::zip_error_strerror(lazy::zip_file_get_error(file_.get())));
    if (got == 0) ended_ = true;
    filled += static_cast<std::size_t>(got);
  }
  if (filled > left_) throw std::runtime_error("longer than the directory says");
  left_ -= filled;
  if (left_ == 0 && !ended_) {
    // libzip tells a wrong CRC only when it is asked for more than there is.
    std::byte more;
    const zip_int64_t got = lazy::zip_fread(file_.get(), &more, 1);
    if (got < 0)
      throw std::runtime_error(lazy::zip_error_strerror(lazy::zip_file_get_error(file_.get())));
    if (got > 0) throw std::runtime_error("longer than the directory says");
    ended_ = true;
  }
  if (ended_ && left_ > 0) throw std::runtime_error("shorter than the directory says");
  return filled;
}

}  // namespace airlatch
