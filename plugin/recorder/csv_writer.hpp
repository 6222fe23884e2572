// SPDX-License-Identifier: GPL-3.0-or-later
// csv_writer.hpp: samples of any channels as delimited text, a row wherever any has one.
//
// In    blocks as a source hands them out.
// Out   times to the nanosecond from the first sample, values to the last bit (nine digits), cells
//       without a sample empty; this program reads the same samples back.
// How   a row is written once all channels have come as far. A channel that ends early or stays
//       behind is waited for until kMostHeld samples are in memory; one of its samples that comes
//       later than that, or in no order, is left out and counted.
// Cost  kMostHeld samples at most.
#pragma once
#include <cstdint>
#include <deque>
#include <string>
#include <vector>

#include "plugin/sources/source.hpp"
#include "plugin/system/whole_file.hpp"

namespace airlatch {

class CsvWriter {
 public:
  static constexpr std::size_t kLongestName = 240;  // with its marks no longer than sources read
  static constexpr std::size_t kMostHeld = std::size_t{1} << 23;  // 32 MiB, 96 with times
  CsvWriter(WholeFile& file, const std::vector<SourceChannel>& channels);
  void add(const SampleBlock& block);  // an empty one: its channel has ended
  void finish();
  [[nodiscard]] std::int64_t left_out() const { return left_out_; }

 private:
  struct Held {  // a block, and what of it was written
    SampleBlock block;
    std::vector<float> values;
    std::vector<std::int64_t> times_ns;
    std::size_t at = 0;
  };
  struct Column {
    std::deque<Held> held;
    std::int64_t next_ns = 0;    // of the first held sample
    std::int64_t newest_ns = 0;  // of the last that came
    bool begun = false, ended = false;
  };
  [[nodiscard]] std::int64_t reached_ns() const;
  void look_at_next(Column& column);
  void write_rows(std::int64_t up_to_ns, std::size_t leave);
  void write_row(std::int64_t time_ns);

  WholeFile& file_;
  std::vector<Column> columns_;
  std::size_t held_ = 0;
  bool any_row_ = false;
  std::int64_t first_ns_ = 0, last_ns_ = 0, left_out_ = 0;  // times of rows
  std::string text_;
};

}  // namespace airlatch
