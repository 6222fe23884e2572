// SPDX-License-Identifier: GPL-3.0-or-later
// MCAP files: their records, also those within chunks, moved, made and changed, and put together
// again with right lengths and check sums; now and then one length is made wrong.
#include <libdeflate.h>

#include <algorithm>
#include <optional>
#include <vector>

#include "airlatch/v1/sample.pb.h"
#include "plugin/sources/mcap_records.hpp"
#include "tests/fuzz/mutator.hpp"

namespace airlatch::fuzz {
namespace {
using mcap::Op;

struct Record {
  Op op = Op::kHeader;
  std::string content = {};        // of a chunk: its compression's name
  std::vector<Record> inner = {};  // of a chunk
  std::uint64_t start_ns = 0, end_ns = 0;
  std::uint64_t length_lie = 0;  // added to its length
};
using Records = std::vector<Record>;

Records records_of(std::string_view bytes);

std::optional<Record> chunk_of(std::string_view content) {
  mcap::Reader in(content);
  Record out{.op = Op::kChunk};
  out.start_ns = in.get<std::uint64_t>();
  out.end_ns = in.get<std::uint64_t>();
  static_cast<void>(in.get<std::uint64_t>());  // size
  static_cast<void>(in.get<std::uint32_t>());  // CRC
  out.content = in.string();
  const std::string_view inner = in.raw(in.get<std::uint64_t>());
  if (!in.good()) return std::nullopt;
  out.inner = records_of(inner);
  return out;
}

Records records_of(std::string_view bytes) {
  Records out;
  mcap::Reader in(bytes);
  while (!in.empty()) {
    const auto op = static_cast<Op>(in.get<std::uint8_t>());
    const std::string_view content = in.raw(in.get<std::uint64_t>());
    if (!in.good()) break;
    std::optional<Record> chunk;
    if (op == Op::kChunk) chunk = chunk_of(content);
    out.push_back(chunk ? *chunk : Record{.op = op, .content = std::string(content)});
  }
  return out;
}

std::string bytes_of(const Records& records, Random& random) {
  mcap::Bytes out;
  for (const Record& record : records) {
    std::string content = record.content;
    if (record.op == Op::kChunk) {
      const std::string inner = bytes_of(record.inner, random);
      std::uint32_t crc = libdeflate_crc32(0, inner.data(), inner.size());
      if (random.one_in(50)) crc = random.one_in(2) ? 0 : crc + 1;
      content = mcap::Bytes()
                    .put(record.start_ns)
                    .put(record.end_ns)
                    .put(static_cast<std::uint64_t>(inner.size()))
                    .put(crc)
                    .string(record.content)
                    .put(static_cast<std::uint64_t>(inner.size()))
                    .raw(inner)
                    .text();
    }
    out.put(static_cast<std::uint8_t>(record.op))
        .put(static_cast<std::uint64_t>(content.size()) + record.length_lie)
        .raw(content);
  }
  return out.text();
}

Record a_channel(Random& random) {
  static const char* const kNames[] = {"motor_a", "line_kpa", "feed_a_v", "supply_v",
                                       "command", "CH1",      "",         "motor_a"};
  static const char* const kUnits[] = {"V", "A", "kPa", "mbar", "", "furlong"};
  static const char* const kFlags[] = {"0", "1", "", "2"};
  return {.op = Op::kChannel,
          .content = mcap::Bytes()
                         .put(static_cast<std::uint16_t>(random.below(12)))
                         .put(static_cast<std::uint16_t>(random.below(4)))
                         .string(std::string("/samples/") + random.of(kNames))
                         .string(random.one_in(16) ? "json" : "protobuf")
                         .map({{"unit", random.of(kUnits)},
                               {"logic", random.of(kFlags)},
                               {"rate_hz", random.one_in(2) ? "1000" : hostile_digits(random)}})
                         .text()};
}

void change_samples(v1::SampleBlock& block, Random& random) {
  const auto word = static_cast<std::int64_t>(hostile_word(random));
  auto& times = *block.mutable_times_ns();
  auto& values = *block.mutable_values();
  switch (random.below(9)) {
    case 0:
      block.mutable_clock()->set_start_ns(word);
      break;
    case 1:
      block.mutable_clock()->set_period_num_ns(word);
      break;
    case 2:
      block.mutable_clock()->set_period_den(word);
      break;
    case 3:
      block.set_first_index(word);
      break;
    case 4:
      if (!times.empty())
        times[static_cast<int>(random.below(static_cast<std::size_t>(times.size())))] = word;
      break;
    case 5:  // own times instead of a clock
      times.Clear();
      block.clear_clock();
      for (int k = 0; k < values.size(); ++k) times.Add(word + k * 1'000'000);
      break;
    case 6:
      values.Add(static_cast<float>(hostile_number(random)));
      break;
    case 7:
      values.Truncate(static_cast<int>(random.below(static_cast<std::size_t>(values.size()) + 1)));
      break;
    default:
      if (!values.empty())
        values[static_cast<int>(random.below(static_cast<std::size_t>(values.size())))] =
            static_cast<float>(hostile_number(random));
  }
}

// Its channel, or what it says of samples.
void change_message(std::string& content, Random& random) {
  constexpr std::size_t kHead = 2 + 4 + 8 + 8;
  if (content.size() < kHead || random.one_in(8)) return change_bytes(content);
  if (random.one_in(8)) {
    content[0] = static_cast<char>(random.below(12));
    return;
  }
  v1::SampleBlock block;
  if (!block.ParseFromArray(content.data() + kHead, static_cast<int>(content.size() - kHead)))
    return change_bytes(content);
  change_samples(block, random);
  content = content.substr(0, kHead) + block.SerializeAsString();
}

// The list at the top, or that of a chunk.
Records& some_list(Records& top, Random& random) {
  std::vector<Records*> lists = {&top};
  for (Record& record : top)
    if (record.op == Op::kChunk) lists.push_back(&record.inner);
  return *random.of(lists);
}

void change(Records& top, Random& random) {
  Records& list = some_list(top, random);
  const auto there = [&](Records& in) {
    return in.begin() + static_cast<std::ptrdiff_t>(random.below(in.size() + 1));
  };
  if (list.empty() || random.one_in(8)) {
    list.insert(there(list), a_channel(random));
    return;
  }
  const std::size_t at = random.below(list.size());
  switch (random.below(8)) {
    case 0:
      list.erase(list.begin() + static_cast<std::ptrdiff_t>(at));
      break;
    case 1:
      list.insert(there(list), Record(list[at]));
      break;
    case 2: {  // to anywhere, also into or out of a chunk
      const Record moved = list[at];
      list.erase(list.begin() + static_cast<std::ptrdiff_t>(at));
      Records& to = some_list(top, random);
      to.insert(there(to), moved);
      break;
    }
    case 3:
      list[at].op = static_cast<Op>(random.below(17));
      break;
    case 4:
      if (random.one_in(4))
        list[at].length_lie = hostile_word(random);
      else
        change_bytes(list[at].content);
      break;
    default:
      if (list[at].op == Op::kMessage)
        change_message(list[at].content, random);
      else if (list[at].op != Op::kChunk)
        change_bytes(list[at].content);
      else
        std::swap(list[at], random.of(list));
  }
}

}  // namespace

void mutate_mcap(std::string& bytes, Random& random) {
  if (!bytes.starts_with(mcap::kMagic)) return change_bytes(bytes);
  Records records = records_of(std::string_view(bytes).substr(mcap::kMagic.size()));
  change(records, random);
  bytes = std::string(mcap::kMagic) + bytes_of(records, random);
  if (!random.one_in(8)) bytes += mcap::kMagic;
}

}  // namespace airlatch::fuzz
