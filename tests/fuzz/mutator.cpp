// SPDX-License-Identifier: GPL-3.0-or-later
#include "tests/fuzz/mutator.hpp"

#include <algorithm>
#include <cstring>
#include <limits>

#include "tests/fuzz/replay_input.hpp"

extern "C" std::size_t LLVMFuzzerMutate(std::uint8_t* data, std::size_t size, std::size_t most);

namespace airlatch::fuzz {

void change_bytes(std::string& bytes) {
  constexpr std::size_t kMore = 64;
  const std::size_t size = bytes.size();
  bytes.resize(size + kMore);
  bytes.resize(LLVMFuzzerMutate(reinterpret_cast<std::uint8_t*>(bytes.data()), size, bytes.size()));
}

std::uint64_t hostile_word(Random& random) {
  const std::uint64_t edge = std::uint64_t{1} << random.below(64);
  const std::uint64_t words[] = {0,     1,        edge,          edge - 1,
                                 ~edge, 0 - edge, 1'000'000'000, random.below(256)};
  return random.of(words);
}

double hostile_number(Random& random) {
  constexpr double kInfinity = std::numeric_limits<double>::infinity();
  const double numbers[] = {0,
                            -0.0,
                            1,
                            -1,
                            0.1,
                            1e-9,
                            1e-300,
                            1e9,
                            -1e9,
                            9.3e9,
                            1.8e19,
                            1e308,
                            3e38,
                            -3e38,
                            1e-40,
                            4294967296.0,
                            kInfinity,
                            -kInfinity,
                            std::numeric_limits<double>::quiet_NaN(),
                            static_cast<double>(random.below(1000)) / 10};
  return random.of(numbers);
}

std::string hostile_digits(Random& random) {
  if (random.one_in(2)) return std::to_string(static_cast<std::int64_t>(hostile_word(random)));
  if (random.one_in(4))
    return std::string(random.below(400), static_cast<char>('0' + random.below(10)));
  char text[64];
  static const char* const kForms[] = {"%g", "%.17g", "%f", "%e", "%.3f"};
  const int n = std::snprintf(text, sizeof text, random.of(kForms), hostile_number(random));
  return {text, static_cast<std::size_t>(std::clamp<int>(n, 0, sizeof text - 1))};
}

void mutate_replay(std::string& bytes, Random& random) {
  const ReplayInput input(bytes);
  std::string rig(input.rig), capture(input.capture);
  if (random.one_in(8))
    change_bytes(rig);
  else if (capture.starts_with("PK"))
    mutate_zip(capture, random);
  else if (capture.starts_with("\x89MCAP"))
    mutate_mcap(capture, random);
  else if (capture.starts_with("RIFF"))
    change_bytes(capture);
  else
    mutate_rows(capture, random);
  if (rig.empty())
    bytes = capture;
  else
    bytes = rig.append(ReplayInput::kCapture) + capture;
}

std::size_t mutated(std::uint8_t* data, std::size_t size, std::size_t most, unsigned seed,
                    void (*mutate)(std::string&, Random&)) {
  Random random(seed);
  std::string bytes(reinterpret_cast<const char*>(data), size);
  if (!random.one_in(4))
    for (std::size_t changes = 1 + random.below(3); changes > 0; --changes) mutate(bytes, random);
  else
    bytes.clear();
  if (bytes.empty() || bytes.size() > most) return LLVMFuzzerMutate(data, size, most);
  std::memcpy(data, bytes.data(), bytes.size());
  return bytes.size();
}

}  // namespace airlatch::fuzz
