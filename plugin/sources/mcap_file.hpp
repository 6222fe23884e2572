// SPDX-License-Identifier: GPL-3.0-or-later
// mcap_file.hpp: an MCAP file record by record, and what its summary says.
//
// In    a regular file; what is appended while it is read is not looked at.
// Cost  memory for the longest record, which cannot be longer than the file.
#pragma once
#include <cstdio>
#include <memory>
#include <string>
#include <string_view>

#include "plugin/sources/mcap_records.hpp"

namespace airlatch {

class McapFile {
 public:
  // Throws InputError.
  explicit McapFile(const std::string& path);

  // The next whole record; false at the end or where the file was cut.
  bool next(mcap::Op& op);
  // The content of the record next() found; valid until the call after the next one of next().
  [[nodiscard]] std::string_view content() const { return record_; }
  [[nodiscard]] long position() const { return at_; }  // behind the last whole record
  [[nodiscard]] long size() const { return size_; }
  void go_to(long position);
  void go_to_start() { go_to(static_cast<long>(mcap::kMagic.size())); }
  // Goes to the summary section; false where the file has none that is sound.
  bool go_to_summary();

 private:
  [[nodiscard]] std::string bytes(long from, std::size_t n);
  std::unique_ptr<std::FILE, int (*)(std::FILE*)> file_;
  long size_ = 0, at_ = 0;
  std::string record_;
};

struct McapChunk {
  std::string_view compression;
  std::string_view records;
  const char* wrong = nullptr;  // why it cannot be used
};
// `content`: of a chunk record.
McapChunk open_mcap_chunk(std::string_view content);

}  // namespace airlatch
