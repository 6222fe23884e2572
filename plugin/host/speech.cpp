// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/speech.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <sstream>

#include "plugin/system/input_error.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

bool is_installed(const std::string& program) {
  const char* path = std::getenv("PATH");
  std::istringstream folders(path ? path : "");
  for (std::string folder; std::getline(folders, folder, ':');)
    if (::access((folder + "/" + program).c_str(), X_OK) == 0) return true;
  return false;
}

}  // namespace

Speech::Speech() {
  for (const char* program : {"spd-say", "espeak-ng"})
    if (program_.empty() && is_installed(program)) program_ = program;
  if (program_.empty())
    throw InputError(ExitStatus::kNotFound, "--speak", "",
                     "there is no program that speaks on this computer",
                     "install spd-say (package speech-dispatcher) or espeak-ng, or leave it out");
}

void Speech::say(const std::string& text) {
  posix_spawn_file_actions_t silently;
  ::posix_spawn_file_actions_init(&silently);
  for (const int fd : {0, 1, 2})
    ::posix_spawn_file_actions_addopen(&silently, fd, "/dev/null", O_RDWR, 0);
  posix_spawnattr_t usual;
  ::posix_spawnattr_init(&usual);
  sigset_t signals;
  ::sigemptyset(&signals);
  ::sigaddset(&signals, SIGPIPE);  // which we ignore
  ::posix_spawnattr_setsigdefault(&usual, &signals);
  ::posix_spawnattr_setflags(&usual, POSIX_SPAWN_SETSIGDEF);
  std::string program = program_, options_end = "--", words = shown_text(text);
  const std::array<char*, 4> arguments = {program.data(), options_end.data(), words.data(),
                                          nullptr};
  pid_t child = 0;
  if (const int error =
          ::posix_spawnp(&child, program_.c_str(), &silently, &usual, arguments.data(), environ))
    failure_ = std::strerror(error);
  else
    speaking_.push_back(child);
  ::posix_spawnattr_destroy(&usual);
  ::posix_spawn_file_actions_destroy(&silently);
}

const std::string& Speech::failure() {
  std::erase_if(speaking_, [this](pid_t child) {
    int status = 0;
    if (::waitpid(child, &status, WNOHANG) != child) return false;
    if (status != 0)
      failure_ = WIFEXITED(status) ? fmt::format("it ended with status {}", WEXITSTATUS(status))
                                   : fmt::format("signal {} ended it", WTERMSIG(status));
    return true;
  });
  return failure_;
}

}  // namespace airlatch
