// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/zip_salvage.hpp"

#include <zlib.h>

#include <algorithm>
#include <array>
#include <vector>

#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {
using zip_format::little;

constexpr std::uint32_t kDeflated = 8;        // method
constexpr std::uint32_t kSizesBehind = 8U;    // flag: CRC and sizes are in a descriptor
constexpr long kMostBytes = 0x7ffffff0L;      // offsets are of 32 bits
constexpr std::size_t kMostEntries = 0xfffe;  // and their number of 16

struct Local {  // one entry as its local header has it
  std::string name = {};
  std::uint32_t offset = 0, method = 0, crc = 0, packed = 0, size = 0, flags = 0;
};

// Inflates from the present place to the stream's end: where an entry was written without knowing
// its size, only its own end mark shows it. False where the stream is cut or broken.
bool measure_stream(std::FILE* file, Local& local) {
  z_stream stream{};
  if (inflateInit2(&stream, -MAX_WBITS) != Z_OK) return false;
  std::array<unsigned char, 65536> in, out;
  std::uint64_t size = 0, packed = 0;
  uLong crc = crc32(0, nullptr, 0);
  int code = Z_OK;
  std::size_t at_once = 256;  // small entries are not read far beyond their ends
  while (code == Z_OK) {
    const std::size_t got = std::fread(in.data(), 1, at_once, file);
    if (got == 0) break;
    at_once = std::min(at_once * 2, in.size());
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

// The entry whose header is at local.offset; false where there is none. `data`: where its data begin.
bool read_header(std::FILE* file, Local& local, long& data) {
  std::array<unsigned char, zip_format::kLocalHead> head;
  std::fseek(file, static_cast<long>(local.offset), SEEK_SET);
  if (std::fread(head.data(), 1, head.size(), file) != head.size() ||
      little(head.data(), 4) != zip_format::kLocalMark)
    return false;
  local.flags = little(head.data() + 6, 2);
  local.method = little(head.data() + 8, 2);
  local.crc = little(head.data() + 14, 4);
  local.packed = little(head.data() + 18, 4);
  local.size = little(head.data() + 22, 4);
  local.name.resize(little(head.data() + 26, 2));
  if (std::fread(local.name.data(), 1, local.name.size(), file) != local.name.size()) return false;
  data = static_cast<long>(local.offset) + static_cast<long>(head.size() + local.name.size()) +
         static_cast<long>(little(head.data() + 28, 2));
  return true;
}

long descriptor_bytes(std::FILE* file, long at) {  // an optional mark, then CRC and sizes
  std::array<unsigned char, 4> mark{};
  std::fseek(file, at, SEEK_SET);
  if (std::fread(mark.data(), 1, mark.size(), file) != mark.size()) return 0;
  return little(mark.data(), 4) == zip_format::kDescriptorMark ? 16 : 12;
}

// Reads the entry at local.offset to its end; false where it is not whole.
bool read_entry(std::FILE* file, long file_bytes, Local& local, long& end) {
  long data = 0;
  if (!read_header(file, local, data)) return false;
  const bool described = local.flags & kSizesBehind;
  if (described) {
    std::fseek(file, data, SEEK_SET);
    if (local.method != kDeflated || !measure_stream(file, local)) return false;
  }
  end = data + static_cast<long>(local.packed);
  if (end > file_bytes) return false;
  if (described) end += descriptor_bytes(file, end);
  return true;
}

// The entries before the cut. `end`: of the last of them.
std::vector<Local> whole_entries(std::FILE* file, long file_bytes, long& end) {
  std::vector<Local> whole;
  end = 0;
  while (whole.size() < kMostEntries) {
    Local local{.offset = static_cast<std::uint32_t>(end)};
    long next = 0;
    if (!read_entry(file, file_bytes, local, next)) return whole;
    whole.push_back(local);
    end = next;
  }
  return whole;
}

void put(std::string& out, std::uint64_t value, int bytes) {
  for (int k = 0; k < bytes; ++k) out += k < 8 ? static_cast<char>(value >> (8 * k) & 0xff) : '\0';
}

// A directory of the entries, to lie at `start`.
std::string directory_of(const std::vector<Local>& entries, long start) {
  std::string out;
  for (const Local& local : entries) {
    put(out, zip_format::kEntryMark, 4);
    put(out, 20, 2);
    put(out, 20, 2);
    put(out, local.flags & ~kSizesBehind, 2);
    put(out, local.method, 2);
    put(out, 0, 4);  // date and time
    put(out, local.crc, 4);
    put(out, local.packed, 4);
    put(out, local.size, 4);
    put(out, local.name.size(), 2);
    put(out, 0, 12);  // extra, comment, disk, attributes
    put(out, local.offset, 4);
    out += local.name;
  }
  const std::size_t length = out.size();
  put(out, zip_format::kEndMark, 4);
  put(out, 0, 4);
  put(out, entries.size(), 2);
  put(out, entries.size(), 2);
  put(out, length, 4);
  put(out, static_cast<std::uint64_t>(start), 4);
  put(out, 0, 2);
  return out;
}

bool copy_bytes(std::FILE* from, std::FILE* to, long bytes) {
  constexpr long kAtOnce = 1 << 20;
  std::vector<char> buffer(kAtOnce);
  std::fseek(from, 0, SEEK_SET);
  for (long left = bytes; left > 0;) {
    const auto want = static_cast<std::size_t>(std::min(left, kAtOnce));
    if (std::fread(buffer.data(), 1, want, from) != want ||
        std::fwrite(buffer.data(), 1, want, to) != want)
      return false;
    left -= static_cast<long>(want);
  }
  return true;
}

}  // namespace

std::optional<SalvagedZip> salvage_zip(const std::string& path) {
  const zip_format::File file(std::fopen(path.c_str(), "rb"));
  if (!file) return std::nullopt;
  std::fseek(file.get(), 0, SEEK_END);
  SalvagedZip out;
  out.file_bytes = std::ftell(file.get());
  if (out.file_bytes > kMostBytes) return std::nullopt;
  long end = 0;
  const std::vector<Local> whole = whole_entries(file.get(), out.file_bytes, end);
  if (whole.empty()) return std::nullopt;
  out.used = std::min(end, out.file_bytes);
  out.copy.reset(std::tmpfile());
  if (!out.copy)
    throw InputError(ExitStatus::kReadWriteFailed, path, "", "no room for a temporary copy",
                     "free some space in the temporary folder");
  const std::string directory = directory_of(whole, out.used);
  if (!copy_bytes(file.get(), out.copy.get(), out.used) ||
      std::fwrite(directory.data(), 1, directory.size(), out.copy.get()) != directory.size() ||
      std::fflush(out.copy.get()) != 0)
    return std::nullopt;
  return out;
}

}  // namespace airlatch
