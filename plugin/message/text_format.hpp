// SPDX-License-Identifier: GPL-3.0-or-later
// text_format.hpp: messages as a user writes them, protobuf's text format, without its run-time.
//
// In:   text, at most as large as the caller lets in; or a struct of fields.hpp.
// Out:  the struct, with the place of every field; or text as libprotobuf prints it.
// How:  text_tokens cuts the text, text_reader walks the rows of fields.hpp.
// Cost: of the text; nesting is no deeper than the messages are.
//
//   Places places;
//   const Rig rig = parse_text<Rig>(text, &places);       // throws TextError
//   places.of("channel", 2)->of("scale")                  // where the third channel has its scale
//
// What libprotobuf reads is read, with the same result; what it refuses is refused, at the same
// place. On purpose otherwise:
// - a field that is not repeated is refused when it stands twice, also where it was its default;
// - a string that is not UTF-8 is refused: no message with it could be read again;
// - \U beyond \U0010ffff is refused, where libprotobuf takes the escape for the text itself;
// - names in brackets (extensions, google.protobuf.Any) are refused where they begin: there are none.
#pragma once
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "decoders/event.hpp"
#include "decoders/setup.hpp"
#include "plugin/message/report.hpp"

namespace airlatch {

// Lines and columns from 1, columns in bytes; a tab goes to the next multiple of 8.
struct Place {
  int line = 0;
  int column = 0;
  friend bool operator==(const Place&, const Place&) = default;
};

class TextError : public std::runtime_error {
 public:
  TextError(Place where, const std::string& what, const std::string& mend)
      : std::runtime_error(what), where_(where), mend_(mend) {}
  [[nodiscard]] Place where() const { return where_; }
  [[nodiscard]] const std::string& mend() const { return mend_; }

 private:
  Place where_;
  std::string mend_;
};

// The fields of one message in the order of the text, each with those within it.
struct Places {
  std::string_view field = {};  // its name; empty: the whole text
  Place at = {};                // where the field's name stands; in a list, its value
  std::vector<Places> fields = {};
  // The index-th field of that name, or nothing.
  [[nodiscard]] const Places* of(std::string_view name, std::size_t index = 0) const;
};

// For Event, Rig, Plan, Job and Report. Throws TextError for the first thing wrong.
template <typename Message>
[[nodiscard]] Message parse_text(std::string_view text, Places* places = nullptr);

template <typename Message>
[[nodiscard]] std::string print_text(const Message& message);

}  // namespace airlatch
