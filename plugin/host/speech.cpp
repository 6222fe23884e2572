// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/speech.hpp"

#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "plugin/system/shown_text.hpp"

namespace airlatch {

void speak(const std::string& words) {
  const std::string text = shown_text(words);
  if (const pid_t child = ::fork(); child == 0) {
    if (::fork() != 0) ::_exit(0);  // the speaking process is not waited for
    const int quiet = ::open("/dev/null", O_RDWR);
    for (const int fd : {0, 1, 2}) ::dup2(quiet, fd);
    ::execlp("spd-say", "spd-say", "--", text.c_str(), nullptr);
    ::execlp("espeak-ng", "espeak-ng", "--", text.c_str(), nullptr);
    ::_exit(127);
  } else if (child > 0) {
    ::waitpid(child, nullptr, 0);
  }
}

}  // namespace airlatch
