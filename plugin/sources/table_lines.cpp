// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/table_lines.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kHeadBytes = 256U << 10, kHeadLines = 2000, kPipeLines = 200;
constexpr std::size_t kMostKeys = 1024;
constexpr std::ptrdiff_t kMostNested = 1000;

using Json = nlohmann::ordered_json;

std::optional<Json> object_of(std::string_view line) {
  while (!line.empty() && (line.back() == ' ' || line.back() == ',' || line.back() == ']'))
    line.remove_suffix(1);
  while (!line.empty() && (line.front() == ' ' || line.front() == '[')) line.remove_prefix(1);
  // Each opened list or object costs far more memory than its byte.
  if (!line.starts_with('{') ||
      std::count(line.begin(), line.end(), '[') + std::count(line.begin(), line.end(), '{') >
          kMostNested)
    return std::nullopt;
  Json object = Json::parse(line, nullptr, false);
  if (!object.is_object()) return std::nullopt;
  return object;
}

// Each value that is no list or object, by the keys that lead to it.
void walk(const Json& object, const std::string& before, const auto& take) {
  for (const auto& [key, value] : object.items()) {
    const std::string path = before.empty() ? key : before + "." + key;
    if (value.is_object())
      walk(value, path, take);
    else if (!value.is_array())
      take(path, value);
  }
}

std::string cell_of(const Json& value) {
  if (value.is_null()) return "";
  if (value.is_boolean()) return value.get<bool>() ? "1" : "0";
  std::string text = value.is_string() ? value.get<std::string>()
                                       : value.dump(-1, ' ', false, Json::error_handler_t::replace);
  std::replace_if(
      text.begin(), text.end(), [](char c) { return c == '\t' || c == '\n'; }, ' ');
  return text;
}

// Of a pipe: a header that names the time as it always was, and a row in fractions of a second or
// with a date: nothing about it is open.
bool leaves_no_question(std::string_view header, std::string_view row) {
  for (const char separator : {'\t', ';', ','}) {
    if (header.find(separator) == std::string_view::npos) continue;
    Cells names, cells;
    split_cells(header, separator, names);
    split_cells(row, separator, cells);
    std::string name(trimmed_cell(names[0]));
    std::transform(name.begin(), name.end(), name.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    if (cells.size() < 2 || names.size() != cells.size()) return false;
    const std::string_view time = trimmed_cell(cells[0]);
    const bool seconds = kind_of(time, separator) == CellKind::kNumber;
    if (name == "time_s") return seconds;
    if (name != "time" && name != "t" && name != "timestamp") return false;
    return (seconds && time.find_first_of(".,") != std::string_view::npos) || parse_iso_time(time);
  }
  return false;
}

}  // namespace

bool JsonRows::learn(std::string_view line) {
  const auto object = object_of(line);
  if (!object) return false;
  const auto add = [&](const std::string& key) {
    if (keys_.size() < kMostKeys && std::find(keys_.begin(), keys_.end(), key) == keys_.end())
      keys_.push_back(key);
  };
  walk(*object, "", [&](const std::string& key, const Json&) {
    if (key != "period_s") add(key);
  });
  if (object->contains("values")) add("value");
  return true;
}

std::string JsonRows::header() const {
  std::string out;
  for (const std::string& key : keys_) out += (out.empty() ? "" : "\t") + key;
  return out;
}

void JsonRows::translate(std::string_view line, std::deque<std::string>& rows) const {
  const auto object = object_of(line);
  if (!object) {
    rows.emplace_back(line);
    return;
  }
  std::vector<std::string> cells(keys_.size());
  const auto put = [&](const std::string& key, std::string text) {
    const auto at = std::find(keys_.begin(), keys_.end(), key);
    if (at != keys_.end()) cells[static_cast<std::size_t>(at - keys_.begin())] = std::move(text);
  };
  const auto join = [&] {
    std::string out;
    for (std::size_t k = 0; k < cells.size(); ++k) out += (k > 0 ? "\t" : "") + cells[k];
    rows.push_back(std::move(out));
  };
  walk(*object, "", [&](const std::string& key, const Json& value) { put(key, cell_of(value)); });
  const auto values = object->find("values"), period = object->find("period_s"),
             start = object->find("time_s");
  if (values == object->end() || !values->is_array()) return join();
  if (period == object->end() || !period->is_number() || start == object->end() ||
      !start->is_number()) {
    rows.emplace_back(line.substr(0, 80));
    return;
  }
  for (std::size_t k = 0; k < values->size(); ++k) {
    put("time_s", fmt::format("{:.9f}", start->get<double>() +
                                            static_cast<double>(k) * period->get<double>()));
    put("value", cell_of((*values)[k]));
    join();
  }
}

TableHead TableLines::head(std::uint32_t skip_lines) {
  const bool file = reader_.regular();
  const auto lines_here = [&] {
    const std::string_view here = reader_.here();
    return static_cast<std::size_t>(std::count(here.begin(), here.end(), '\n'));
  };
  bool ended = false;
  // A pipe's first two lines that count.
  const auto first_two = [&]() -> std::optional<std::pair<std::string_view, std::string_view>> {
    std::vector<std::string_view> rows;
    std::string_view here = reader_.here();
    for (std::size_t end; rows.size() < 2 && (end = here.find('\n')) != std::string_view::npos;
         here.remove_prefix(end + 1)) {
      std::string_view line = here.substr(0, end);
      if (line.ends_with('\r')) line.remove_suffix(1);
      if (!is_no_row(line, '\0')) rows.push_back(line);
    }
    if (rows.size() < 2) return std::nullopt;
    return std::pair{rows[0], rows[1]};
  };
  bool two = false;
  while (!ended && reader_.here().size() < kHeadBytes && (file || lines_here() < kPipeLines)) {
    if (!file && skip_lines == 0)
      if (const auto rows = first_two(); rows && leaves_no_question(rows->first, rows->second)) {
        two = true;
        break;
      }
    ended = !reader_.fill();
  }
  head_text_ = std::string(reader_.here().substr(0, kHeadBytes));
  TableHead out;
  out.file = reader_.name();
  std::size_t rows = 0;
  std::string_view left = head_text_;
  const std::size_t most = file ? kHeadLines : kPipeLines;
  for (std::uint64_t number = 1; !left.empty() && out.lines.size() < most && !(two && rows == 2);
       ++number) {
    const std::size_t end = left.find('\n');
    // What the piece cuts is no line, unless nothing else is there.
    if (end == std::string_view::npos && !ended && !out.lines.empty()) break;
    std::string_view line = left.substr(0, end);
    if (line.ends_with('\r')) line.remove_suffix(1);
    if (number > skip_lines) out.lines.push_back({number, line});
    if (!is_no_row(line, '\0')) ++rows;
    left = end == std::string_view::npos ? std::string_view() : left.substr(end + 1);
  }
  out.whole = ended && left.empty();
  if (!out.whole && rows < 2) refuse_long(out.lines.empty() ? 1 : out.lines.back().number + 1);
  const auto first = std::find_if(out.lines.begin(), out.lines.end(), [](const HeadLine& line) {
    return line.text.find_first_not_of(" \t[") != std::string_view::npos;
  });
  if (first == out.lines.end()) return out;
  if (!object_of(first->text)) {
    take_fixed(out);
    return out;
  }
  json_ = true;
  for (const HeadLine& line : out.lines) rows_.learn(line.text);
  std::vector<HeadLine> objects;
  head_lines_.push_back(rows_.header());
  objects.push_back({first->number, head_lines_.back()});
  for (const HeadLine& line : out.lines) {
    if (!object_of(line.text)) continue;
    const std::size_t before = head_lines_.size();
    rows_.translate(line.text, head_lines_);
    for (std::size_t k = before; k < head_lines_.size(); ++k)
      objects.push_back({line.number, head_lines_[k]});
  }
  out.lines = std::move(objects);
  return out;
}

void TableLines::take_fixed(TableHead& head) {
  fixed_ = columns_.learn(head.lines);
  if (!fixed_) return;
  for (HeadLine& line : head.lines) {
    if (is_no_row(line.text, '\0')) continue;
    head_lines_.push_back(columns_.translate(line.text));
    line.text = head_lines_.back();
  }
}

// A line that fills the head.
void TableLines::refuse_long(std::uint64_t line) {
  if (reader_.here().size() < kHeadBytes) return;
  throw InputError(ExitStatus::kUnusableData, reader_.name(), fmt::format("line {}", line),
                   "the line is longer than 1 MiB, or than any row of samples",
                   "this is not a table of samples");
}

void TableLines::skip_to(std::uint64_t line) {
  std::string_view skipped;
  while (reader_.number() + 1 < line && reader_.next(skipped)) {
  }
}

bool TableLines::next(std::string_view& line) {
  if (as_they_stand()) return reader_.next(line);
  if (fixed_) {
    if (!reader_.next(line)) return false;
    if (is_no_row(line, '\0')) return true;
    line_ = columns_.translate(line);
    line = line_;
    return true;
  }
  while (translated_.empty()) {
    std::string_view text;
    if (!reader_.next(text)) return false;
    if (text.find_first_not_of(" \t[],") != std::string_view::npos)
      rows_.translate(text, translated_);
  }
  line_ = std::move(translated_.front());
  translated_.pop_front();
  line = line_;
  return true;
}

WalkRows TableLines::walk(const TableLayout& layout) const {
  if (!reader_.regular()) return {};
  return [this, &layout](const std::function<bool(const Cells&, std::uint64_t)>& take) {
    TableLines again(path_, false);
    again.json_ = json_;
    again.rows_ = rows_;
    again.fixed_ = fixed_;
    again.columns_ = columns_;
    again.skip_to(layout.first_line);
    Cells cells;
    try {
      for (std::string_view line; again.next(line);) {
        if (is_no_row(line, layout.separator)) continue;
        split_cells(line, layout.separator, cells);
        if (!take(cells, again.number())) return;
      }
    } catch (const InputError& error) {
      if (error.status() != ExitStatus::kUnusableData) throw;
      // What cannot be read is told where it is read.
    }
  };
}

}  // namespace airlatch
