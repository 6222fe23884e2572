// SPDX-License-Identifier: GPL-3.0-or-later
// trial.hpp: the program against an input made to break it: run with a limit on time and memory,
// and what came of it sorted into one of a few outcomes.
//
// Each test of this folder is a class of hostile inputs, drawn from a fixed seed: some of them in
// tests/run, many by `tests/hostile/campaign`, which sets AIRLATCH_CAMPAIGN to a factor and adds up
// the lines that tallies print.
#pragma once
#include <chrono>
#include <map>
#include <string>
#include <vector>

#include "tests/support/sanitized.hpp"

namespace airlatch::hostile {

enum class Outcome {
  kDone,     // exit status 0 (or 1, with --strict)
  kRefused,  // a status of the contract and one clear line (see `unclear`)
  kUnclear,  // refused, but the line or the status is not what the contract wants
  kCrashed,  // a signal, a sanitizer's report, an internal error
  kHung,     // stopped by us at the time limit
  kTooLarge  // more resident memory than the limit
};

struct Limits {
  std::chrono::milliseconds time{20'000};  // several times what a sanitizer build needs
  long memory_kib = 512 << 10;             // the sanitizers' own memory is let through
};

struct Trial {
  Outcome outcome = Outcome::kDone;
  int status = -1;  // exit status; 128 + signal where one ended it
  std::string out, err;
  std::string why;  // of any outcome but kDone and kRefused
};

// What keeps the text on stderr from being one clear error line; empty: it is one. Lines that begin
// with "note: " may come before it. Clear: ends in a line end, begins with "airlatch: ", is valid
// UTF-8 without control characters or marks that change the direction of writing, and is no longer
// than 600 bytes.
std::string unclear(const std::string& err);

// `input`: a file for stdin. `environment`: added, "NAME=VALUE".
Trial run_trial(const std::vector<std::string>& arguments, const std::string& input = "/dev/null",
                const Limits& limits = {}, const std::vector<std::string>& environment = {});

// How many inputs to draw: `few` in tests/run; by the campaign, `few` times its factor.
int draws(int few);

// Whether the k-th input of a complete walk is tried: each, but under the sanitizers, whose programs
// take ten times as long to start, every third.
inline bool walked(std::size_t k) { return !test::kSanitized || k % 3 == 0; }

// Counts the trials of one class and prints them at the end, one line:
//     hostile CLASS: N tried, N done, N refused, N unclear, N crashed, N hung, N too large, N lost
class Tally {
 public:
  explicit Tally(std::string name) : name_(std::move(name)) {}
  ~Tally();
  Tally(const Tally&) = delete;
  Tally& operator=(const Tally&) = delete;
  // Fails the running test where the outcome is neither kDone nor kRefused; `input` tells how to
  // make it again (seed and number).
  void count(const Trial& trial, const std::string& input);
  // A trial that lost what it should have kept. Fails the running test.
  void lost(const std::string& what);

 private:
  std::string name_;
  std::map<Outcome, int> outcomes_;
  int tried_ = 0, lost_ = 0;
};

}  // namespace airlatch::hostile
