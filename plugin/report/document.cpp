// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/document.hpp"

namespace airlatch {

std::string Words::plain() const {
  std::string out;
  for (const Piece& piece : pieces) out += piece.text;
  return out;
}

Words as_typed(std::string text) {
  Words words;
  words.pieces.push_back({.text = std::move(text), .typed = true});
  return words;
}

Words strong(std::string text) {
  Words words;
  words.pieces.push_back({.text = std::move(text), .strong = true});
  return words;
}

}  // namespace airlatch
