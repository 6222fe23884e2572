// SPDX-License-Identifier: GPL-3.0-or-later
// background.hpp: the built program while it runs, to be killed, starved or cut off by a test.
#pragma once
#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>
#include <fstream>
#include <string>
#include <thread>
#include <vector>

namespace airlatch::test {

// Where its output goes, and what it may do.
struct Surroundings {
  int out = -1;          // a file descriptor; -1: nowhere
  std::string err = {};  // a file; "": nowhere
  rlim_t largest_file = RLIM_INFINITY;
};

class Background {
 public:
  explicit Background(const std::vector<std::string>& arguments,
                      const Surroundings& surroundings = {})
      : child_(::fork()) {
    if (child_ != 0) return;
    const int quiet = ::open("/dev/null", O_RDWR);
    for (const int fd : {0, 1, 2}) ::dup2(quiet, fd);
    if (surroundings.out >= 0) ::dup2(surroundings.out, 1);
    if (!surroundings.err.empty())
      ::dup2(::open(surroundings.err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600), 2);
    if (surroundings.largest_file != RLIM_INFINITY) {
      const rlimit limit = {surroundings.largest_file, surroundings.largest_file};
      ::setrlimit(RLIMIT_FSIZE, &limit);
      ::signal(SIGXFSZ, SIG_IGN);
    }
    std::vector<std::string> copies = arguments;
    std::string program = AIRLATCH_BINARY_DIR "/plugin/host/airlatch";
    std::vector<char*> argv = {program.data()};
    for (std::string& a : copies) argv.push_back(a.data());
    argv.push_back(nullptr);
    ::execv(program.c_str(), argv.data());
    ::_exit(127);
  }
  // Exit status; 128 + signal where one ended it. `signal` 0: it ends by itself.
  int end(int signal) {
    if (signal) ::kill(child_, signal);
    int status = 0;
    ::waitpid(child_, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  }
  // To the processes that it has started.
  void signal_children(int signal) const {
    const std::string pid = std::to_string(child_);
    std::ifstream children("/proc/" + pid + "/task/" + pid + "/children");
    for (pid_t child = 0; children >> child;) ::kill(child, signal);
  }

 private:
  pid_t child_;
};

inline void wait_s(double seconds) {
  std::this_thread::sleep_for(std::chrono::duration<double>(seconds));
}

// Until the file is there, whatever the machine is busy with.
inline void wait_for(const std::string& path) {
  for (int k = 0; k < 3000 && !std::filesystem::exists(path); ++k) wait_s(0.01);
}

}  // namespace airlatch::test
