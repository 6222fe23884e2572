// SPDX-License-Identifier: GPL-3.0-or-later
// Drives a fuzz target without a fuzzer: random inputs for some seconds.
//     TARGET SECONDS [SEED]
// Prints the seed, so that what it finds can be found again.
#include <chrono>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <random>
#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

int main(int argc, char** argv) {
  const double seconds = argc > 1 ? std::atof(argv[1]) : 1;
  std::uint64_t seed = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : std::random_device()();
  const auto start = std::chrono::steady_clock::now();
  std::uint64_t inputs = 0;
  std::vector<std::uint8_t> input;
  for (; std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count() < seconds;
       ++seed, ++inputs) {
    std::mt19937_64 random(seed);
    input.resize(random() % 4096);
    for (auto& byte : input) byte = static_cast<std::uint8_t>(random());
    if (inputs % 64 == 0) {
      std::printf("seed %llu\n", static_cast<unsigned long long>(seed));
      std::fflush(stdout);
    }
    LLVMFuzzerTestOneInput(input.data(), input.size());
  }
  std::printf("%llu inputs, nothing found\n", static_cast<unsigned long long>(inputs));
  return 0;
}
