// SPDX-License-Identifier: GPL-3.0-or-later
// input_error.hpp: the one way this program refuses input: file, place, what is wrong, how to
// correct it.
#pragma once
#include <stdexcept>
#include <string>

namespace airlatch {

// Exit statuses of the contract (the numbers of BSD sysexits.h).
enum class ExitStatus : int {
  kDone = 0,
  kFault = 1,  // only with --strict
  kUsage = 64,
  kUnusableData = 65,
  kNotFound = 66,
  kNoInstrument = 69,
  kCannotCreate = 73,
  kReadWriteFailed = 74,
};

class InputError : public std::runtime_error {
 public:
  // One line, whatever the parts are: "FILE[, PLACE]: WHAT; MEND", each a shown_text, the middle of
  // a long one left out. `file` and `place` may be empty.
  InputError(ExitStatus status, const std::string& file, const std::string& place,
             const std::string& what, const std::string& mend);
  [[nodiscard]] ExitStatus status() const { return status_; }

 private:
  ExitStatus status_;
};

}  // namespace airlatch
