// SPDX-License-Identifier: GPL-3.0-or-later
// drawn_mcap.hpp: recordings as other writers make them: channels declared anywhere, messages in
// chunks or outside, with a summary or without; nothing carries a CRC, so that what is flipped in
// them reaches the reader.
#pragma once
#include <string>
#include <vector>

#include "airlatch/v1/sample.pb.h"
#include "plugin/sources/mcap_records.hpp"

namespace airlatch::test {

struct DrawnMcap {
  enum class Declared { kAtStart, kInFirstChunk, kWhereFirstUsed, kBetweenChunks, kNowhere };
  Declared declared = Declared::kAtStart;
  bool chunks = true, summary = true, channels_in_summary = true, again = false;
  bool end = true;  // false: cut behind the last chunk
  std::string compression = {}, library = "drawn";
  std::vector<std::string> names = {"motor_a", "line_kpa", "feed_a_v"};
  std::size_t late_from = 4;  // the last channel begins at this turn
  std::uint16_t first_id = 65500;
};
constexpr std::size_t kDrawnTurns = 8, kDrawnPerTurn = 100;

inline float drawn_value(std::size_t channel, std::size_t turn, std::size_t k) {
  return static_cast<float>(1000 * channel + kDrawnPerTurn * turn + k) / 128;  // exact, a few volts
}

inline std::string drawn_mcap(const DrawnMcap& how) {
  using mcap::Bytes;
  using mcap::Op;
  const auto id = [&](std::size_t c) { return static_cast<std::uint16_t>(how.first_id + c); };
  const auto channel = [&](std::size_t c) {
    return mcap::record(Op::kChannel, Bytes()
                                          .put(id(c))
                                          .put(std::uint16_t{1})
                                          .string("/samples/" + how.names[c])
                                          .string("protobuf")
                                          .map({{"rate_hz", "1000"}}));
  };
  const auto message = [&](std::size_t c, std::size_t turn) {
    v1::SampleBlock block;
    block.mutable_clock()->set_period_num_ns(1'000'000);
    block.mutable_clock()->set_period_den(1);
    block.set_first_index(static_cast<std::int64_t>(turn * kDrawnPerTurn));
    for (std::size_t k = 0; k < kDrawnPerTurn; ++k) block.add_values(drawn_value(c, turn, k));
    return mcap::record(Op::kMessage, Bytes()
                                          .put(id(c))
                                          .put(static_cast<std::uint32_t>(turn))
                                          .put(std::uint64_t{turn * 100'000'000})
                                          .put(std::uint64_t{turn * 100'000'000})
                                          .raw(block.SerializeAsString()));
  };
  const auto first_turn = [&](std::size_t c) {
    return c + 1 == how.names.size() ? how.late_from : std::size_t{0};
  };
  using Declared = DrawnMcap::Declared;
  std::string all, out(mcap::kMagic);
  for (std::size_t c = 0; c < how.names.size(); ++c) all += channel(c);
  const std::string schema = mcap::record(Op::kSchema, Bytes()
                                                           .put(std::uint16_t{1})
                                                           .string("airlatch.v1.SampleBlock")
                                                           .string("protobuf")
                                                           .string(""));
  out += mcap::record(Op::kHeader, Bytes().string("").string(how.library)) + schema;
  if (how.declared == Declared::kAtStart) out += all;
  std::vector<std::uint64_t> counts(how.names.size());
  for (std::size_t turn = 0; turn < kDrawnTurns; ++turn) {
    std::string records;
    for (std::size_t c = 0; c < how.names.size(); ++c) {
      if (turn < first_turn(c)) continue;
      const bool here = how.declared == Declared::kWhereFirstUsed && turn == first_turn(c);
      if (how.declared == Declared::kBetweenChunks && turn == first_turn(c)) out += channel(c);
      if (here || how.again) records += channel(c);
      if (how.declared == Declared::kInFirstChunk && turn == 0 && c == 0) records += all;
      records += message(c, turn);
      ++counts[c];
    }
    if (how.chunks)
      records = mcap::record(Op::kChunk, Bytes()
                                             .put(std::uint64_t{0})
                                             .put(std::uint64_t{0})
                                             .put(std::uint64_t{records.size()})
                                             .put(std::uint32_t{0})
                                             .string(how.compression)
                                             .put(std::uint64_t{records.size()})
                                             .raw(records));
    out += records;
  }
  if (!how.end) return out;
  out += mcap::record(Op::kDataEnd, Bytes().put(std::uint32_t{0}));
  const std::uint64_t summary_at = how.summary ? out.size() : 0;
  if (how.summary) {
    out += schema;
    if (how.channels_in_summary) out += all;
    Bytes pairs;
    for (std::size_t c = 0; c < counts.size(); ++c)
      if (counts[c] > 0) pairs.put(id(c)).put(counts[c]);
    out += mcap::record(Op::kStatistics, Bytes()
                                             .put(std::uint64_t{0})
                                             .put(std::uint16_t{1})
                                             .put(static_cast<std::uint32_t>(counts.size()))
                                             .put(std::uint32_t{0})
                                             .put(std::uint32_t{0})
                                             .put(std::uint32_t{kDrawnTurns})
                                             .put(std::uint64_t{0})
                                             .put(std::uint64_t{0})
                                             .string(pairs.text()));
  }
  out += mcap::record(Op::kFooter,
                      Bytes().put(summary_at).put(std::uint64_t{0}).put(std::uint32_t{0}));
  return out + std::string(mcap::kMagic);
}

}  // namespace airlatch::test
