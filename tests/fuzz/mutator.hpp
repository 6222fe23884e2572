// SPDX-License-Identifier: GPL-3.0-or-later
// mutator.hpp: changes of an input that keep its format, so that they get past its checks.
//
// In    an input, anything at all; a seed.
// Out   the input with a few changes made to what it holds (entries, records, cells), put together
//       again with right lengths and check sums most of the time. What is not of the format is
//       changed byte by byte.
#pragma once
#include <cstddef>
#include <cstdint>
#include <random>
#include <string>

namespace airlatch::fuzz {

class Random {
 public:
  explicit Random(std::uint64_t seed) : engine_(seed) {}
  // 0 to n - 1; 0 where n is 0.
  std::size_t below(std::size_t n) { return n == 0 ? 0 : engine_() % n; }
  bool one_in(std::size_t n) { return below(n) == 0; }
  template <typename List>
  auto& of(List& list) {
    return list[below(std::size(list))];
  }

 private:
  std::mt19937_64 engine_;
};

// By the fuzzer's own means: its dictionary, what it saw compared, chance.
void change_bytes(std::string& bytes);
// Numbers at which arithmetic goes wrong.
std::uint64_t hostile_word(Random& random);
double hostile_number(Random& random);
std::string hostile_digits(Random& random);

void mutate_zip(std::string& bytes, Random& random);
void mutate_mcap(std::string& bytes, Random& random);
void mutate_rows(std::string& bytes, Random& random);
void mutate_replay(std::string& bytes, Random& random);

// As LLVMFuzzerCustomMutator has it.
std::size_t mutated(std::uint8_t* data, std::size_t size, std::size_t most, unsigned seed,
                    void (*mutate)(std::string&, Random&));

}  // namespace airlatch::fuzz

#define AIRLATCH_MUTATED_BY(mutate)                                                    \
  extern "C" std::size_t LLVMFuzzerCustomMutator(std::uint8_t* data, std::size_t size, \
                                                 std::size_t most, unsigned seed) {    \
    return airlatch::fuzz::mutated(data, size, most, seed, airlatch::fuzz::mutate);    \
  }
