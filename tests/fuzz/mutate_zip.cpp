// SPDX-License-Identifier: GPL-3.0-or-later
// Zip files: their entries, unpacked, changed and packed again with right sizes, offsets and check
// sums; now and then one number of a header is made wrong.
#include <libdeflate.h>

#include <algorithm>
#include <cstring>
#include <memory>
#include <vector>

#include "plugin/sources/zip_format.hpp"
#include "tests/fuzz/mutator.hpp"

namespace airlatch::fuzz {
namespace {
using namespace zip_format;

constexpr std::uint32_t kStored = 0, kDeflated = 8;
constexpr std::size_t kLargest = 1U << 20;  // bytes of an entry that is looked into

struct Entry {
  std::string name, content;
  std::uint32_t method = kStored;
};

struct Freed {
  void operator()(libdeflate_compressor* c) const { libdeflate_free_compressor(c); }
  void operator()(libdeflate_decompressor* c) const { libdeflate_free_decompressor(c); }
};

std::uint32_t number(const std::string& bytes, std::size_t at, int size) {
  return little(reinterpret_cast<const unsigned char*>(bytes.data()) + at, size);
}

bool inflate(const std::string& packed, std::string& content) {
  const std::unique_ptr<libdeflate_decompressor, Freed> with(libdeflate_alloc_decompressor());
  return libdeflate_deflate_decompress(with.get(), packed.data(), packed.size(), content.data(),
                                       content.size(), nullptr) == LIBDEFLATE_SUCCESS;
}

// The entries as their local headers have them, up to the first that cannot be read.
std::vector<Entry> unpacked(const std::string& bytes) {
  std::vector<Entry> out;
  for (std::size_t at = 0; at + kLocalHead <= bytes.size() && number(bytes, at, 4) == kLocalMark;) {
    Entry entry;
    entry.method = number(bytes, at + 8, 2);
    const std::size_t packed = number(bytes, at + 18, 4), size = number(bytes, at + 22, 4),
                      name = number(bytes, at + 26, 2), extra = number(bytes, at + 28, 2),
                      data = at + kLocalHead + name + extra;
    if (data + packed > bytes.size() || size > kLargest) break;
    entry.name = bytes.substr(at + kLocalHead, name);
    entry.content = bytes.substr(data, packed);
    if (entry.method == kDeflated) {
      const std::string from = entry.content;
      entry.content.resize(size);
      if (!inflate(from, entry.content)) break;
    }
    out.push_back(std::move(entry));
    at = data + packed;
  }
  return out;
}

void put(std::string& out, std::uint64_t value, int size) {
  for (int k = 0; k < size; ++k) out += k < 8 ? static_cast<char>(value >> (8 * k) & 0xff) : '\0';
}

std::string deflated(const std::string& content) {
  const std::unique_ptr<libdeflate_compressor, Freed> with(libdeflate_alloc_compressor(1));
  std::string out(libdeflate_deflate_compress_bound(with.get(), content.size()), '\0');
  out.resize(libdeflate_deflate_compress(with.get(), content.data(), content.size(), out.data(),
                                         out.size()));
  return out;
}

// What a local header and the directory's have in common: method to sizes and the name's length.
std::string facts_of(const Entry& entry, std::size_t packed) {
  std::string out;
  put(out, 20, 2);  // version needed
  put(out, 0, 2);   // flags
  put(out, entry.method, 2);
  put(out, 0x00210000, 4);  // date and time
  put(out, libdeflate_crc32(0, entry.content.data(), entry.content.size()), 4);
  put(out, packed, 4);
  put(out, entry.content.size(), 4);
  put(out, entry.name.size(), 2);
  put(out, 0, 2);  // extra
  return out;
}

// `heads`: where headers begin, and their sizes.
std::string packed(const std::vector<Entry>& entries,
                   std::vector<std::pair<std::size_t, std::size_t>>& heads) {
  std::string out, directory;
  for (const Entry& entry : entries) {
    const std::string data = entry.method == kDeflated ? deflated(entry.content) : entry.content;
    const std::string facts = facts_of(entry, data.size());
    heads.emplace_back(out.size(), kLocalHead);
    put(directory, kEntryMark, 4);
    put(directory, 20, 2);
    directory += facts;
    put(directory, 0, 10);  // comment, disk, attributes
    put(directory, out.size(), 4);
    directory += entry.name;
    put(out, kLocalMark, 4);
    out += facts + entry.name + data;
  }
  const std::size_t start = out.size();
  heads.emplace_back(start, directory.size());
  out += directory;
  heads.emplace_back(out.size(), kEnd);
  put(out, kEndMark, 4);
  put(out, 0, 4);
  put(out, entries.size(), 2);
  put(out, entries.size(), 2);
  put(out, directory.size(), 4);
  put(out, start, 4);
  put(out, 0, 2);
  return out;
}

// Puts another number for one that stands in the text.
void change_digits(std::string& text, Random& random) {
  const std::size_t from = text.find_first_of("0123456789", random.below(text.size() + 1));
  if (from == std::string::npos) return change_bytes(text);
  const std::size_t to = std::min(text.find_first_not_of("0123456789", from), text.size());
  text.replace(from, to - from, hostile_digits(random));
}

void change_value(std::string& content, Random& random) {
  if (content.size() < sizeof(float)) return change_bytes(content);
  const auto value = static_cast<float>(hostile_number(random));
  const std::size_t at = random.below(content.size() / sizeof value) * sizeof value;
  std::memcpy(content.data() + at, &value, sizeof value);
}

void change(std::vector<Entry>& entries, Random& random) {
  Entry& entry = random.of(entries);
  switch (random.below(10)) {
    case 0:
      entries.erase(entries.begin() + (&entry - entries.data()));
      break;
    case 1:
      entries.push_back(Entry(entry));
      change_digits(entries.back().name, random);
      break;
    case 2:
      std::swap(entry, random.of(entries));
      break;
    case 3:
      change_digits(entry.name, random);
      break;
    case 4:
      change_bytes(entry.name);
      break;
    case 5:
      entry.method = entry.method == kDeflated ? kStored : kDeflated;
      break;
    case 6:
      entry.content.resize(random.below(2 * entry.content.size() + 8));
      break;
    case 7:
      change_value(entry.content, random);
      break;
    case 8:
      change_digits(entry.name == "metadata" ? entry.content : entry.name, random);
      break;
    default:
      change_bytes(entry.content);
  }
}

}  // namespace

void mutate_zip(std::string& bytes, Random& random) {
  std::vector<Entry> entries = unpacked(bytes);
  if (entries.empty()) return change_bytes(bytes);
  // The metadata say what all else means.
  const auto metadata = std::find_if(entries.begin(), entries.end(),
                                     [](const Entry& entry) { return entry.name == "metadata"; });
  if (metadata != entries.end() && random.one_in(4))
    random.one_in(2) ? change_digits(metadata->content, random) : change_bytes(metadata->content);
  else
    change(entries, random);
  std::vector<std::pair<std::size_t, std::size_t>> heads;
  bytes = packed(entries, heads);
  if (random.one_in(5)) {
    const auto [at, size] = random.of(heads);
    const std::uint64_t word = hostile_word(random);
    if (size >= 8)
      std::memcpy(bytes.data() + at + random.below(size - 4), &word, 2 + 2 * random.below(2));
  }
  if (random.one_in(20)) bytes.resize(random.below(bytes.size()));
}

}  // namespace airlatch::fuzz
