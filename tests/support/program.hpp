// SPDX-License-Identifier: GPL-3.0-or-later
// program.hpp: the built program, run as a person or a pipeline would run it.
#pragma once
#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <string>
#include <vector>

#include "tests/support/files.hpp"

namespace airlatch::test {

struct Ran {
  int status = -1;  // exit status; 128 + signal where one ended it
  std::string out, err;
  long peak_kib = 0;  // largest resident set
};

// `stdout_to`: a file instead of catching it. `input`: a file for stdin.
inline Ran run(const std::vector<std::string>& arguments, const std::string& stdout_to = "",
               const std::string& input = "/dev/null") {
  const Folder folder;
  const std::string out = stdout_to.empty() ? folder.at("out") : stdout_to;
  const pid_t child = ::fork();
  if (child == 0) {
    const int in_fd = ::open(input.c_str(), O_RDONLY);
    const int out_fd = ::open(out.c_str(), O_WRONLY | O_CREAT, 0600);
    const int err_fd = ::open(folder.at("err").c_str(), O_WRONLY | O_CREAT, 0600);
    ::dup2(in_fd, 0);
    ::dup2(out_fd, 1);
    ::dup2(err_fd, 2);
    std::vector<char*> argv;
    std::string program = AIRLATCH_BINARY_DIR "/plugin/host/airlatch";
    argv.push_back(program.data());
    std::vector<std::string> copies = arguments;
    for (std::string& a : copies) argv.push_back(a.data());
    argv.push_back(nullptr);
    ::execv(program.c_str(), argv.data());
    ::_exit(127);
  }
  Ran ran;
  int status = 0;
  rusage usage{};
  ::wait4(child, &status, 0, &usage);
  ran.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  ran.peak_kib = usage.ru_maxrss;
  if (stdout_to.empty()) ran.out = read_file(out);
  ran.err = read_file(folder.at("err"));
  return ran;
}

inline std::size_t lines(const std::string& text) {
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

}  // namespace airlatch::test
