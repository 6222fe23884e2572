// SPDX-License-Identifier: GPL-3.0-or-later
// document.hpp: a report as what it says, before it is laid out: the one model of page and PDF.
//
// In    composed by customer_page, technician_pages and appendix.
// Out   written by html_writer and pdf_writer, which add no word and leave none out.
// How   text is any text: the writers take it through the door of shown_text. What a user typed is a
//       piece of its own, isolated in its direction.
#pragma once
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "plugin/report/picture.hpp"

namespace airlatch {

struct Piece {
  std::string text = {};
  bool typed = false;  // by a user: a name of a file, a vehicle
  bool strong = false;
};

struct Words {
  std::vector<Piece> pieces = {};
  Words() = default;
  Words(const char* text)
      : Words(std::string(text)) {}  // so that a table's cells can be just texts
  Words(std::string text) {
    if (!text.empty()) pieces.push_back({std::move(text)});
  }
  Words& operator+=(const Words& more) {
    pieces.insert(pieces.end(), more.pieces.begin(), more.pieces.end());
    return *this;
  }
  friend Words operator+(Words a, const Words& b) { return a += b; }
  [[nodiscard]] bool empty() const { return pieces.empty(); }
  [[nodiscard]] std::string plain() const;
};
Words as_typed(std::string text);
Words strong(std::string text);

struct Heading {
  int level = 1;  // 1 to 3
  Words words = {};
};

enum class Look { kPlain, kLead, kSoft };
struct Paragraph {
  Words words = {};
  Look look = Look::kPlain;
};

struct Bullets {
  std::vector<Words> items = {};
};

// Names and what they are: "Vehicle", "Merganser estate".
struct Facts {
  std::vector<std::pair<std::string, Words>> rows = {};
};

// A frame of its own around what must not be passed over.
struct Callout {
  enum class Kind { kGood, kBad, kOpen, kCaution };
  Kind kind = Kind::kOpen;
  std::string title = {};
  std::vector<Words> lines = {};
  bool bullets = false;
};

struct Table {
  struct Column {
    std::string head = {};
    double share = 1;  // of the width, beside the others'
    bool figures = false;
  };
  std::string caption = {};
  std::vector<Column> columns = {};
  std::vector<std::vector<Words>> rows = {};  // the first cell heads its row
};

// Text of another program or a file, as it stands.
struct Verbatim {
  std::string label = {};
  std::string text = {};
};

// Bars on one scale, with the limit they are held against.
struct Gauge {
  struct Bar {
    std::string label = {};  // "before"
    std::string text = {};   // "4.2 s"
    double value = 0, u = 0;
    bool past = false;  // drawn hollow
  };
  std::string name = {};
  std::vector<Bar> bars = {};
  std::string limit = {};  // "at most 4 s"; empty: none
  std::optional<double> min = {}, max = {};
  double low = 0, high = 1;
};
struct Gauges {
  std::vector<Gauge> rows = {};
};

struct Figure {
  Picture picture = {};
  Words caption = {};
  bool gives_way = false;  // lower where its page would not hold everything
};

using Block =
    std::variant<Heading, Paragraph, Bullets, Facts, Callout, Table, Verbatim, Gauges, Figure>;

// Begins on a page of its own.
struct Section {
  std::string label = {};
  std::string language = "en";
  bool one_page = false;
  std::vector<Block> blocks = {};
};

struct Document {
  std::string title = {}, author = {};
  std::string language = "en";
  std::string foot = {};     // the job, on every page
  std::string page_of = {};  // "page {page} of {pages}"
  std::vector<Section> sections = {};
};

}  // namespace airlatch
