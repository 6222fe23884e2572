// zip_file.hpp: entries of a zip, checked; and what can be saved of one that is cut short.
#pragma once
#include <zip.h>

#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <vector>

namespace airlatch {

class ZipFile {
 public:
  struct Entry {
    std::string name;
    std::uint64_t index = 0, size = 0;  // size: bytes when inflated
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
  [[nodiscard]] Reader open(const Entry& entry) const { return {zip_.get(), entry}; }

 private:
  void salvage(const std::string& path);
  std::unique_ptr<zip_t, void (*)(zip_t*)> zip_;
  std::vector<Entry> entries_;
  std::string cut_short_;
};

}  // namespace airlatch
