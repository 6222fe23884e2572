// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/input_error.hpp"

#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

// With "airlatch: " before it, 600 bytes at most, shared so that no part loses all of its room.
constexpr std::size_t kLongestError = 580, kLongestPlace = 100, kLongestMend = 220;

std::string line(const std::string& file, const std::string& place, const std::string& what,
                 const std::string& mend) {
  std::string text = shown_name(file);
  if (!place.empty()) text += (text.empty() ? "" : ", ") + shown_text(place, kLongestPlace);
  if (!text.empty()) text += ": ";
  const std::string end = mend.empty() ? "" : "; " + shown_text(mend, kLongestMend);
  return text + shown_text(what, kLongestError - text.size() - end.size()) + end;
}

}  // namespace

InputError::InputError(ExitStatus status, const std::string& file, const std::string& place,
                       const std::string& what, const std::string& mend)
    : std::runtime_error(line(file, place, what, mend)), status_(status) {}

}  // namespace airlatch
