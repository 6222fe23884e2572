// SPDX-License-Identifier: GPL-3.0-or-later
// Drives a fuzz target without a fuzzer: seeds, changed by chance, for some seconds.
//     TARGET SECONDS [SEED [FOLDER...]]
// The folders' files are the seeds, each tried as it is first; without any, inputs are noise. Prints
// the seed, so that what it finds can be found again.
#include <algorithm>
#include <chrono>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <vector>

using Input = std::vector<std::uint8_t>;

extern "C" {
int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
// A target's own, where it has one.
__attribute__((weak)) std::size_t LLVMFuzzerCustomMutator(std::uint8_t* data, std::size_t size,
                                                          std::size_t most, unsigned seed);
std::size_t LLVMFuzzerMutate(std::uint8_t* data, std::size_t size, std::size_t most);
}

namespace {

constexpr std::size_t kMost = 1 << 16;  // bytes of an input
std::mt19937_64 dice;

std::vector<Input> seeds_of(int folders, char** folder) {
  std::vector<std::filesystem::path> files;
  for (int k = 0; k < folders; ++k)
    for (const auto& entry : std::filesystem::directory_iterator(folder[k]))
      files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  std::vector<Input> out;
  for (const auto& path : files) {
    std::ifstream file(path, std::ios::binary);
    out.emplace_back(std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>());
  }
  return out;
}

void noise(Input& input) {
  input.resize(dice() % 4096);
  for (auto& byte : input) byte = static_cast<std::uint8_t>(dice());
}

void change(Input& input) {
  const std::size_t size = input.size();
  input.resize(kMost);
  input.resize(LLVMFuzzerCustomMutator ? LLVMFuzzerCustomMutator(input.data(), size, kMost,
                                                                 static_cast<unsigned>(dice()))
                                       : LLVMFuzzerMutate(input.data(), size, kMost));
}

}  // namespace

// A few bytes changed, put in, taken out or copied.
std::size_t LLVMFuzzerMutate(std::uint8_t* data, std::size_t size, std::size_t most) {
  Input input(data, data + size);
  const std::size_t at = size > 0 ? dice() % size : 0, n = std::min(size - at, 1 + dice() % 8);
  const auto here = input.begin() + static_cast<std::ptrdiff_t>(at);
  switch (dice() % 4) {
    case 0:
      input.insert(here, 1 + dice() % 8, static_cast<std::uint8_t>(dice()));
      break;
    case 1:
      input.erase(here, here + static_cast<std::ptrdiff_t>(n));
      break;
    case 2:
      for (std::size_t k = 0; k < n; ++k) input[at + k] = input[dice() % size];
      break;
    default:
      for (std::size_t k = 0; k < n; ++k) input[at + k] = static_cast<std::uint8_t>(dice());
  }
  input.resize(std::min(input.size(), most));
  std::copy(input.begin(), input.end(), data);
  return input.size();
}

int main(int argc, char** argv) {
  const double seconds = argc > 1 ? std::atof(argv[1]) : 1;
  std::uint64_t seed = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : std::random_device()();
  const std::vector<Input> seeds = seeds_of(std::max(argc - 3, 0), argv + 3);
  for (const Input& input : seeds) LLVMFuzzerTestOneInput(input.data(), input.size());
  const auto start = std::chrono::steady_clock::now();
  std::uint64_t inputs = 0;
  Input input;
  for (; std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count() < seconds;
       ++seed, ++inputs) {
    dice.seed(seed);
    if (seeds.empty()) {
      noise(input);
    } else {
      input = seeds[dice() % seeds.size()];
      for (std::size_t changes = 1 + dice() % 4; changes > 0; --changes) change(input);
    }
    if (inputs % 64 == 0) {
      std::printf("seed %llu\n", static_cast<unsigned long long>(seed));
      std::fflush(stdout);
    }
    LLVMFuzzerTestOneInput(input.data(), input.size());
  }
  std::printf("%llu inputs, nothing found\n", static_cast<unsigned long long>(inputs));
  return 0;
}
