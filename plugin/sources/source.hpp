// SPDX-License-Identifier: GPL-3.0-or-later
// source.hpp: where samples come from, whatever the container.
//
// A source is opened, states its channels, and then hands out stretches of raw samples in time
// order across channels: no channel runs more than kLargestLead_s of capture time (or one sample)
// ahead of the others, so that what reads it needs bounded memory. Decoders never see a source.
#pragma once
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "decoders/stream/sample_block.hpp"

namespace airlatch {

struct SourceChannel {
  std::string name;       // as the file or instrument has it, without the unit
  std::string unit = {};  // as written in the file, "kPa", "mA" ...; empty: none was given
  // Factor and offset that the written unit implies towards the role unit (V, A, kPa, degC):
  // role value = unit_scale * raw + unit_offset. Already applied to the values handed out.
  double unit_scale = 1, unit_offset = 0;
  SampleClock clock = {};  // num_ns == 0: explicit times
  bool logic = false;      // values are 0 and 1
  // Of text: the header's cell with all that stands in it, and the column, counted from 1 (0: none).
  // A rig may name the channel by either.
  std::string written = {};
  std::size_t column = 0;
  std::string repeats =
      {};                 // the name in the file, where another channel has it and this was counted
  bool absolute = false;  // the written unit says so (psia, bar abs)
};

class Source {
 public:
  static constexpr std::size_t kMostChannels = 1024, kLongestName = 256;  // bytes
  static constexpr double kLargestLead_s = 0.1;
  virtual ~Source() = default;
  [[nodiscard]] virtual const std::vector<SourceChannel>& channels() const = 0;
  // Reads the next stretch of one channel; one without values: that channel has ended (it may also
  // end unsaid). False at the end. The block borrows the source's
  // memory until the next call. Throws InputError where the data cannot be used at all; damage
  // that leaves sound data before it ends the stream and is reported by `damage()`.
  virtual bool next(SampleBlock& block) = 0;
  // Empty, or why the data end before the file says they should: one line, with the
  // place and how to correct it.
  [[nodiscard]] virtual std::string damage() const { return {}; }
  // What a reader should know though nothing is damaged; complete at the end.
  [[nodiscard]] virtual std::vector<std::string> remarks() const { return {}; }
  // How the file was read, a line a fact, for people: which column is the time in which unit, what
  // told so, what was left out; complete at the end. Empty where the format leaves no choice.
  [[nodiscard]] virtual std::vector<std::string> understood() const { return {}; }
  // Values that come at once after a while of reading: reading ahead should hold them all.
  [[nodiscard]] virtual std::size_t values_at_once() const { return 0; }
  // Of all bytes of the file, where OpenOptions::hashed asked for it: known at the end. Empty where
  // a pipe was not read to its end. Throws InputError.
  [[nodiscard]] virtual std::string sha256() { return {}; }
  // Fraction of the file read so far, 0 to 1; negative when it cannot be known (a pipe).
  [[nodiscard]] virtual double progress() const { return -1; }
};

// What the user has to state for text or files without a header.
struct OpenOptions {
  double rate_hz = 0;    // --rate: the time base of text without a time column
  bool hashed = false;   // sha256() will be asked for
  TextLayout text = {};  // what the rig says of a text file
};

// Opens a capture, its format recognised by content; "-" is delimited text on stdin.
// What a source states is checked here, whatever its format: how many channels, how long their names.
// Throws InputError (exit status 65, 66 or 74) with file, place and how to correct it.
std::unique_ptr<Source> open_source(const std::string& path, const OpenOptions& options = {});

}  // namespace airlatch
