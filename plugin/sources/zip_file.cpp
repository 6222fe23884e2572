// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/zip_file.hpp"

#include <fmt/format.h>
#include <libdeflate.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <filesystem>
#include <optional>
#include <stdexcept>
#include <utility>

#include "plugin/sources/zip_salvage.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
using zip_format::little;

void ZipFile::Freed::operator()(libdeflate_decompressor* inflater) const {
  libdeflate_free_decompressor(inflater);
}

ZipFile::ZipFile(const std::string& path) : path_(path), zip_(nullptr, lazy::zip_discard) {
  if (!read_directory()) list_by_libzip();
  check_sizes();
}

void ZipFile::list_by_libzip() {
  entries_.clear();
  read_whole_ = false;
  zip_t* const zip = by_libzip();
  const zip_int64_t n = lazy::zip_get_num_entries(zip, 0);
  for (zip_int64_t k = 0; k < n; ++k) {
    zip_stat_t about;
    lazy::zip_stat_init(&about);
    if (lazy::zip_stat_index(zip, static_cast<zip_uint64_t>(k), 0, &about) != 0 || !about.name)
      continue;
    entries_.push_back({.name = about.name,
                        .index = static_cast<std::uint64_t>(k),
                        .size = about.size,
                        .packed = about.comp_size,
                        .method = about.comp_method});
  }
}

void ZipFile::check_sizes() {
  constexpr std::uint64_t kMostPerByte = 1032;  // of deflate; once more for its fixed costs
  std::error_code no_matter;
  std::uint64_t left =
      read_whole_ ? directory_at_ : std::filesystem::file_size(path_, no_matter);
  for (Entry& entry : entries_) {
    const bool stored = entry.method == ZIP_CM_STORE;
    const std::uint64_t most = stored ? entry.packed : (entry.packed + 1) * kMostPerByte;
    if (!stored && entry.method != ZIP_CM_DEFLATE)
      entry.wrong = "its method of compression cannot be read";
    else if (entry.packed > left)
      entry.wrong = "it and those before it are longer than the file";
    else if (entry.size > most)
      entry.wrong = "it says that it holds more than it can";
    else
      left -= entry.packed;
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
// anything is out of the ordinary: libzip reads that.
bool ZipFile::read_directory() {
  constexpr std::size_t kEnd = zip_format::kEnd, kHead = zip_format::kEntryHead,
                        kLongestComment = 65535;
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
  while (end > 0 && little(tail.data() + end, 4) != zip_format::kEndMark) --end;
  const unsigned char* const last = tail.data() + end;
  const std::uint32_t count = little(last + 10, 2), length = little(last + 12, 4),
                      start = little(last + 16, 4);
  if (little(last, 4) != zip_format::kEndMark || little(last + 4, 4) != 0 ||
      little(last + 8, 2) != count || count == 0xffff || start == 0xffffffff ||
      length > 64U << 20 || end + kEnd + little(last + 20, 2) != tail_size ||
      static_cast<long>(start) + static_cast<long>(length) !=
          size - static_cast<long>(tail_size - end))
    return false;
  directory_at_ = start;
  std::vector<unsigned char> directory(length);
  std::fseek(file_.get(), static_cast<long>(start), SEEK_SET);
  if (std::fread(directory.data(), 1, length, file_.get()) != length) return false;
  std::size_t at = 0;
  for (std::uint32_t k = 0; k < count; ++k) {
    if (at + kHead > length) return false;
    const unsigned char* head = directory.data() + at;
    const std::size_t name = little(head + 28, 2),
                      next = at + kHead + name + little(head + 30, 2) + little(head + 32, 2);
    const bool plain = little(head, 4) == zip_format::kEntryMark && (little(head + 8, 2) & 1U) == 0;
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
  constexpr std::size_t kLocal = zip_format::kLocalHead;
  constexpr std::uint32_t kLargest = 64U << 20;
  if (!read_whole_ || entry.wrong || entry.packed == 0 || entry.packed > kLargest ||
      into.size() != entry.size)
    return false;
  std::array<unsigned char, kLocal> head;
  if (std::fseek(file_.get(), static_cast<long>(entry.header), SEEK_SET) != 0 ||
      std::fread(head.data(), 1, kLocal, file_.get()) != kLocal ||
      little(head.data(), 4) != zip_format::kLocalMark)
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
  std::optional<SalvagedZip> saved = salvage_zip(path_);
  if (saved) open_copy(std::move(saved->copy));
  if (!zip_)
    throw InputError(ExitStatus::kUnusableData, path_, "end of file",
                     "the zip directory is missing or damaged and no whole entry is left",
                     "copy the file again from where it was recorded");
  cut_short_ = fmt::format("cut short after byte {} of {}", saved->used, saved->file_bytes);
}

void ZipFile::open_copy(zip_format::File copy) const {
  zip_error_t error;
  lazy::zip_error_init(&error);
  zip_source_t* source = lazy::zip_source_filep_create(copy.get(), 0, -1, &error);
  if (source) {
    static_cast<void>(copy.release());  // the source's from here on
    zip_.reset(lazy::zip_open_from_source(source, ZIP_RDONLY, &error));
    if (!zip_) lazy::zip_source_free(source);
  }
  lazy::zip_error_fini(&error);
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

ZipFile::Reader ZipFile::open(const Entry& entry) const {
  if (entry.wrong) throw std::runtime_error(entry.wrong);
  return {by_libzip(), entry};
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
    // libzip reports a wrong CRC only when it is asked for more than there is.
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
