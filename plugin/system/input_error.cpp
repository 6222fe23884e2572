// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {
std::string line(const std::string& file, const std::string& place, const std::string& what,
                 const std::string& mend) {
  std::string text = file;
  if (!place.empty()) text += (text.empty() ? "" : ", ") + place;
  if (!text.empty()) text += ": ";
  text += what;
  if (!mend.empty()) text += "; " + mend;
  for (char& c : text)
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = '?';  // stays one line
  return text;
}
}  // namespace

InputError::InputError(ExitStatus status, const std::string& file, const std::string& place,
                       const std::string& what, const std::string& mend)
    : std::runtime_error(line(file, place, what, mend)), status_(status) {}

}  // namespace airlatch
