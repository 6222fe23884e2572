// SPDX-License-Identifier: GPL-3.0-or-later
#include "tests/hostile/trial.hpp"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <set>
#include <sstream>
#include <thread>

#include "tests/support/files.hpp"

namespace airlatch::hostile {
namespace {

constexpr std::size_t kLongestLine = 600;
const std::set<int> kRefusals{64, 65, 66, 69, 73, 74};

// The next code point of UTF-8 text, which is moved on; 0xFFFFFFFF: not valid.
char32_t take(std::string_view& text) {
  constexpr char32_t kBad = 0xFFFFFFFF;
  const auto byte = [&](std::size_t k) { return static_cast<unsigned char>(text[k]); };
  const unsigned char first = byte(0);
  const std::size_t more = first < 0x80 ? 0 : first >> 5 == 6 ? 1 : first >> 4 == 14 ? 2 : 3;
  if ((first >= 0x80 && first < 0xC2) || first > 0xF4 || text.size() <= more) return kBad;
  char32_t code = more == 0 ? first : first & (0x3FU >> more);
  for (std::size_t k = 1; k <= more; ++k) {
    if (byte(k) >> 6 != 2) return kBad;
    code = code << 6 | (byte(k) & 0x3F);
  }
  text.remove_prefix(more + 1);
  return code;
}

bool steers_a_terminal(char32_t code) {
  return code < 0x20 || (code >= 0x7F && code < 0xA0) || (code >= 0x200B && code <= 0x200F) ||
         (code >= 0x2028 && code <= 0x202E) || (code >= 0x2060 && code <= 0x206F) || code == 0xFEFF;
}

std::string unclear_line(std::string_view line) {
  if (line.size() > kLongestLine) return "a line of " + std::to_string(line.size()) + " bytes";
  while (!line.empty()) {
    const char32_t code = take(line);
    if (code == 0xFFFFFFFF) return "not UTF-8";
    if (steers_a_terminal(code)) return "control character " + std::to_string(code);
  }
  return "";
}

Trial sorted(Trial trial, bool hung, long peak_kib, const Limits& limits) {
  const auto say = [&](Outcome outcome, const std::string& why) {
    trial.outcome = outcome;
    trial.why = why;
    return trial;
  };
  if (hung) return say(Outcome::kHung, "still running at the time limit");
  if (trial.status >= 128)
    return say(Outcome::kCrashed, "signal " + std::to_string(trial.status - 128));
  for (const char* sign : {"Sanitizer", "runtime error:", "internal error", "terminate called"})
    if (trial.err.find(sign) != std::string::npos) return say(Outcome::kCrashed, sign);
  if (!test::kSanitized && peak_kib > limits.memory_kib)
    return say(Outcome::kTooLarge, std::to_string(peak_kib) + " KiB");
  if (trial.status == 0 || trial.status == 1) return trial;
  if (kRefusals.count(trial.status) == 0)
    return say(Outcome::kUnclear, "exit status " + std::to_string(trial.status));
  if (const std::string why = unclear(trial.err); !why.empty()) return say(Outcome::kUnclear, why);
  return say(Outcome::kRefused, "");
}

int open_at(const std::string& path, int flags, int fd) {
  const int opened = ::open(path.c_str(), flags, 0600);
  return opened < 0 ? -1 : ::dup2(opened, fd);
}

}  // namespace

std::string unclear(const std::string& err) {
  if (err.empty()) return "no word on stderr";
  if (err.back() != '\n') return "no line end";
  std::istringstream lines(err);
  int errors = 0;
  for (std::string line; std::getline(lines, line);) {
    if (const std::string why = unclear_line(line); !why.empty()) return why;
    if (line.starts_with("airlatch: note: ")) continue;
    if (!line.starts_with("airlatch: ")) return "a line of another make: " + line;
    ++errors;
  }
  return errors == 1 ? "" : std::to_string(errors) + " error lines";
}

Trial run_trial(const std::vector<std::string>& arguments, const std::string& input,
                const Limits& limits, const std::vector<std::string>& environment) {
  const test::Folder folder;
  std::string program = AIRLATCH_BINARY_DIR "/plugin/host/airlatch";
  std::vector<std::string> copies = arguments;
  std::vector<char*> argv{program.data()};
  for (std::string& a : copies) argv.push_back(a.data());
  argv.push_back(nullptr);
  const std::string out = folder.at("out"), err = folder.at("err");
  const pid_t child = ::fork();
  if (child == 0) {
    ::setpgid(0, 0);
    for (const std::string& e : environment) ::putenv(const_cast<char*>(e.c_str()));
    if (open_at(input, O_RDONLY, 0) < 0 || open_at(out, O_WRONLY | O_CREAT, 1) < 0 ||
        open_at(err, O_WRONLY | O_CREAT, 2) < 0)
      ::_exit(127);
    ::execv(program.c_str(), argv.data());
    ::_exit(127);
  }
  ::setpgid(child, child);  // here too: whoever is first
  int status = 0;
  rusage usage{};
  bool hung = false;
  const auto end = std::chrono::steady_clock::now() + limits.time;
  auto nap = std::chrono::microseconds(200);
  while (::wait4(child, &status, WNOHANG, &usage) == 0) {
    if (!hung && std::chrono::steady_clock::now() > end) {
      hung = true;
      ::kill(-child, SIGKILL);
    }
    std::this_thread::sleep_for(nap);
    nap = std::min(nap * 2, std::chrono::microseconds(10'000));
  }
  ::kill(-child, SIGKILL);  // what it started and left behind
  Trial trial;
  trial.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  trial.out = test::read_file(out);
  trial.err = test::read_file(err);
  return sorted(std::move(trial), hung, usage.ru_maxrss, limits);
}

int draws(int few) {
  if (const char* factor = std::getenv("AIRLATCH_CAMPAIGN")) {
    return few * std::max(1, std::atoi(factor));
  }
#ifdef __SANITIZE_ADDRESS__
  return (few + 2) /
         3;  // each trial starts a program, which takes the sanitizers several times as long
#else
  return few;
#endif
}

Tally::~Tally() {
  const auto of = [&](Outcome outcome) { return outcomes_[outcome]; };
  std::printf(
      "hostile %s: %d tried, %d done, %d refused, %d unclear, %d crashed, %d hung, %d too large, "
      "%d "
      "lost\n",
      name_.c_str(), tried_, of(Outcome::kDone), of(Outcome::kRefused), of(Outcome::kUnclear),
      of(Outcome::kCrashed), of(Outcome::kHung), of(Outcome::kTooLarge), lost_);
}

void Tally::count(const Trial& trial, const std::string& input) {
  ++tried_;
  ++outcomes_[trial.outcome];
  if (trial.outcome == Outcome::kDone || trial.outcome == Outcome::kRefused) return;
  ADD_FAILURE() << name_ << ", " << input << ": " << trial.why << "\nstatus " << trial.status
                << ", stderr:\n"
                << trial.err.substr(0, 2000);
}

void Tally::lost(const std::string& what) {
  ++lost_;
  ADD_FAILURE() << name_ << ": lost: " << what;
}

}  // namespace airlatch::hostile
