// SPDX-License-Identifier: GPL-3.0-or-later
// zip_file.hpp: entries of a zip, checked; and the complete entries of a zip that is cut short.
#pragma once
#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "plugin/sources/zip_format.hpp"
#include "plugin/system/lazy/libzip.hpp"

struct libdeflate_decompressor;

namespace airlatch {

class ZipFile {
 public:
  struct Entry {
    std::string name;
    std::uint64_t index = 0, size = 0;  // size: bytes when inflated
    // Where it lies, for read_whole; unless libzip found it.
    std::uint32_t header = 0;
    std::uint64_t packed = 0;  // bytes in the file
    std::uint32_t crc = 0;
    std::uint16_t method = 0;
    const char* wrong = nullptr;  // why it cannot be read
  };
  // Throws InputError. Where the directory is lost, the whole entries before the cut are found by
  // their local headers (APPNOTE 6.3, 4.3.7) and `cut_short()` says why.
  explicit ZipFile(const std::string& path);
  [[nodiscard]] const std::vector<Entry>& entries() const { return entries_; }
  [[nodiscard]] const Entry* find(const std::string& name) const;  // the first of that name
  [[nodiscard]] const std::string& cut_short() const { return cut_short_; }
  // Reads an entry in pieces. `read` fills the span and returns the bytes read, 0 at its sound end
  // (size and CRC right); throws std::runtime_error with the reason where it is damaged.
  class Reader {
   public:
    Reader(zip_t* zip, const Entry& entry);
    std::size_t read(std::span<std::byte> into);

   private:
    std::unique_ptr<zip_file_t, int (*)(zip_file_t*)> file_;
    std::uint64_t left_;
    bool ended_ = false;
  };
  [[nodiscard]] Reader open(const Entry& entry) const;
  // A whole entry at once, by libdeflate where the directory says where it lies: fast. False where
  // that does not do (damaged, encrypted, zip64 ...): then a Reader reads it, or says why not.
  [[nodiscard]] bool read_whole(const Entry& entry, std::span<std::byte> into) const;

 private:
  bool read_directory();
  void list_by_libzip();
  // What entries say of themselves is believed as far as a file of this size can hold them: entries
  // that share their bytes with others, or inflate without end, are wrong. Work and memory are then
  // bounded by the file's own size.
  void check_sizes();
  zip_t* by_libzip() const;  // opened when first asked for
  void salvage() const;      // where libzip finds no directory
  void open_copy(zip_format::File copy) const;
  struct Freed {
    void operator()(libdeflate_decompressor* inflater) const;
  };
  zip_format::File file_;
  bool read_whole_ = true;          // the directory says where entries lie, and
  std::uint64_t directory_at_ = 0;  // it lies behind them
  std::unique_ptr<libdeflate_decompressor, Freed> inflater_;
  mutable std::vector<std::byte> packed_;
  std::string path_;
  mutable std::unique_ptr<zip_t, void (*)(zip_t*)> zip_;
  std::vector<Entry> entries_;
  mutable std::string cut_short_;
};

}  // namespace airlatch
