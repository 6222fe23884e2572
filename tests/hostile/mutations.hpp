// SPDX-License-Identifier: GPL-3.0-or-later
// mutations.hpp: what is done to a sound file to make it hostile, drawn from a seed.
#pragma once
#include <cstdint>
#include <random>
#include <string>
#include <vector>

namespace airlatch::hostile {

class Mutations {
 public:
  explicit Mutations(std::uint64_t seed) : engine_(seed) {}
  std::size_t below(std::size_t n) { return static_cast<std::size_t>(engine_() % n); }

  std::string cut(std::string file) {
    file.resize(below(file.size() + 1));
    return file;
  }
  // Some bits.
  std::string flipped(std::string file) {
    for (std::size_t n = 1 + below(8); n > 0; --n)
      file[below(file.size())] ^= static_cast<char>(1 << below(8));
    return file;
  }
  // A stretch of `other` over, between or instead of what is there.
  std::string spliced(std::string file, const std::string& other) {
    const std::size_t from = below(other.size()), n = 1 + below(other.size() - from);
    const std::size_t at = below(file.size());
    const std::size_t gone = below(3) == 0 ? 0 : below(file.size() - at);
    return file.replace(at, gone, other, from, n);
  }
  // A whole number somewhere, at the end of its range.
  std::string extreme_bytes(std::string file) {
    static constexpr std::uint64_t kEnds[] = {
        0,          1,          0x7f,       0x7fff,     0x8000,     0xffff,
        0x7fffffff, 0x80000000, 0xfffffffe, 0xffffffff, 1ULL << 62, 0x7fffffffffffffff,
        1ULL << 63, ~0ULL};
    for (std::size_t n = 1 + below(2); n > 0; --n) {
      const std::size_t size = std::size_t{1} << below(4), at = below(file.size());
      const std::uint64_t value = kEnds[below(std::size(kEnds))];
      for (std::size_t k = 0; k < size && at + k < file.size(); ++k)
        file[at + k] = static_cast<char>(value >> (8 * k) & 0xff);
    }
    return file;
  }
  // A number of a text, exchanged.
  std::string extreme_text(std::string text) {
    static const std::vector<std::string> kNumbers = {"nan",
                                                      "-nan",
                                                      "inf",
                                                      "-inf",
                                                      "0",
                                                      "-0",
                                                      "1e308",
                                                      "-1e308",
                                                      "1e-320",
                                                      "1e999",
                                                      "OL",
                                                      "9223372036854775807",
                                                      "-9223372036854775808",
                                                      "18446744073709551616",
                                                      "4000000000",
                                                      "4000000001",
                                                      "-4000000000",
                                                      "9999-12-31T23:59:59Z",
                                                      "0001-01-01T00:00:00Z",
                                                      "",
                                                      "0.000000000000000000000000001",
                                                      std::string(400, '9'),
                                                      "1" + std::string(400, '0'),
                                                      "x",
                                                      "\xc3\xa4",
                                                      "\"",
                                                      "\x1b[31m",
                                                      "=1+1",
                                                      "1,5",
                                                      "0x10",
                                                      "1e",
                                                      "- 1",
                                                      "\r",
                                                      "\n",
                                                      ";",
                                                      "\t"};
    for (std::size_t n = 1 + below(3); n > 0; --n) {
      const std::size_t at = text.find_first_of("0123456789", below(text.size()));
      if (at == std::string::npos) continue;
      const std::size_t end = std::min(text.find_first_not_of("0123456789.", at), text.size());
      text.replace(at, end - at, kNumbers[below(kNumbers.size())]);
    }
    return text;
  }

 private:
  std::mt19937_64 engine_;
};

}  // namespace airlatch::hostile
