// SPDX-License-Identifier: GPL-3.0-or-later
// speech.hpp: prompts spoken aloud, for users whose hands are both busy.
//
// How   through spd-say or espeak-ng, whichever is there; none of them is waited for.
#pragma once
#include <sys/types.h>

#include <string>
#include <vector>

namespace airlatch {

class Speech {
 public:
  // Throws InputError (kNotFound) where there is no program that speaks.
  Speech();
  void say(const std::string& text);
  // Why it was not said aloud, once that is known; empty: nothing went wrong. To be asked now and
  // then.
  const std::string& failure();
  [[nodiscard]] const std::string& program() const { return program_; }

 private:
  std::string program_, failure_;
  std::vector<pid_t> speaking_ = {};
};

}  // namespace airlatch
