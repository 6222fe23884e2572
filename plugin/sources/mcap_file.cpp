// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/mcap_file.hpp"

#include <libdeflate.h>

#include "plugin/system/input_error.hpp"

namespace airlatch {
using mcap::Op;
namespace {
constexpr std::uint64_t kLargestRecord = std::uint64_t{1} << 28;
constexpr long kFooterContent = 20;
}  // namespace

McapFile::McapFile(const std::string& path) : file_(std::fopen(path.c_str(), "rb"), std::fclose) {
  if (!file_ || bytes(0, mcap::kMagic.size()) != mcap::kMagic)
    throw InputError(ExitStatus::kUnusableData, path, "byte 0", "this is not an MCAP file",
                     "name a recording");
  std::fseek(file_.get(), 0, SEEK_END);
  size_ = std::ftell(file_.get());
  go_to_start();
}

void McapFile::go_to(long position) {
  std::fseek(file_.get(), position, SEEK_SET);
  at_ = position;
}

std::string McapFile::bytes(long from, std::size_t n) {
  std::string out(n, '\0');
  if (std::fseek(file_.get(), from, SEEK_SET) != 0 ||
      std::fread(out.data(), 1, n, file_.get()) != n)
    return {};
  return out;
}

bool McapFile::next(Op& op) {
  std::string head(mcap::kRecordHead, '\0');
  if (std::fread(head.data(), 1, head.size(), file_.get()) != head.size()) return false;
  mcap::Reader reader(head);
  op = static_cast<Op>(reader.get<std::uint8_t>());
  const auto length = reader.get<std::uint64_t>();
  const auto left =
      static_cast<std::uint64_t>(std::max(0L, size_ - at_ - static_cast<long>(mcap::kRecordHead)));
  if (length > kLargestRecord || length > left) return false;
  if (length > record_.capacity()) {  // not twice the room: chunks are nearly alike
    record_ = {};
    record_.reserve(length + length / 8);
  }
  record_.resize(length);
  if (std::fread(record_.data(), 1, length, file_.get()) != length) return false;
  at_ += static_cast<long>(mcap::kRecordHead + length);
  return true;
}

bool McapFile::go_to_summary() {
  const long magic = static_cast<long>(mcap::kMagic.size()),
             footer_at = size_ - magic - kFooterContent - static_cast<long>(mcap::kRecordHead);
  if (footer_at < magic) return false;
  const std::string end = bytes(footer_at, static_cast<std::size_t>(size_ - footer_at));
  mcap::Reader footer(end);
  const auto op = static_cast<Op>(footer.get<std::uint8_t>());
  const auto length = footer.get<std::uint64_t>(), start = footer.get<std::uint64_t>();
  (void)footer.get<std::uint64_t>();
  const auto expected = footer.get<std::uint32_t>();
  if (op != Op::kFooter || length != kFooterContent || footer.rest() != mcap::kMagic ||
      start < static_cast<std::uint64_t>(magic) || start >= static_cast<std::uint64_t>(footer_at))
    return false;
  const auto from = static_cast<long>(start);
  // The CRC covers the summary and the footer up to itself.
  const long covered = footer_at - from + kFooterContent + static_cast<long>(mcap::kRecordHead) - 4;
  if (covered > static_cast<long>(kLargestRecord)) return false;
  const std::string summary = bytes(from, static_cast<std::size_t>(covered));
  if (summary.empty() ||
      (expected != 0 && libdeflate_crc32(0, summary.data(), summary.size()) != expected))
    return false;
  go_to(from);
  return true;
}

McapChunk open_mcap_chunk(std::string_view content) {
  mcap::Reader in(content);
  (void)in.get<std::uint64_t>();
  (void)in.get<std::uint64_t>();
  (void)in.get<std::uint64_t>();
  const auto expected = in.get<std::uint32_t>();
  McapChunk chunk;
  chunk.compression = in.string();
  chunk.records = in.raw(in.get<std::uint64_t>());
  if (!in.good()) chunk.wrong = "a chunk is shorter than it says";
  if (chunk.wrong || !chunk.compression.empty() || expected == 0) return chunk;
  if (libdeflate_crc32(0, chunk.records.data(), chunk.records.size()) != expected)
    chunk.wrong = "a chunk's CRC is wrong";
  return chunk;
}

}  // namespace airlatch
