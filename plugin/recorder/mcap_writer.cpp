#include "plugin/recorder/mcap_writer.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <google/protobuf/descriptor.pb.h>
#include <unistd.h>
#include <zlib.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <set>

#include "airlatch/v1/sample.pb.h"
#include "plugin/sources/input_error.hpp"
#include "plugin/sources/mcap_records.hpp"

namespace airlatch {
namespace {
using mcap::Bytes;
using mcap::Op;

constexpr std::uint16_t kSampleSchema = 1, kEventSchema = 2;

std::uint32_t crc(const std::string& bytes) {
  return static_cast<std::uint32_t>(
      ::crc32(0, reinterpret_cast<const Bytef*>(bytes.data()), static_cast<uInt>(bytes.size())));
}

void add_files(const google::protobuf::FileDescriptor* file, std::set<std::string>& seen,
               google::protobuf::FileDescriptorSet& set) {
  if (!seen.insert(file->name()).second) return;
  for (int k = 0; k < file->dependency_count(); ++k) add_files(file->dependency(k), seen, set);
  file->CopyTo(set.add_file());
}

// The message with all files it needs, as the specification wants protobuf schemas.
std::string schema(std::uint16_t id, const google::protobuf::Descriptor* type) {
  google::protobuf::FileDescriptorSet set;
  std::set<std::string> seen;
  add_files(type->file(), seen, set);
  return record(
      Op::kSchema,
      Bytes().put(id).string(type->full_name()).string("protobuf").string(set.SerializeAsString()));
}

std::string channel(std::uint16_t id, std::uint16_t schema_id, const std::string& topic,
                    const std::vector<std::pair<std::string, std::string>>& about) {
  return record(Op::kChannel,
                Bytes().put(id).put(schema_id).string(topic).string("protobuf").map(about));
}

std::uint64_t unsigned_ns(std::int64_t time_ns) {
  return time_ns > 0 ? static_cast<std::uint64_t>(time_ns) : 0;
}

}  // namespace

McapWriter::McapWriter(const std::string& path, const std::vector<RecordedChannel>& channels,
                       const std::vector<std::pair<std::string, std::string>>& setup)
    : path_(path), channels_(channels), sequence_(channels.size() + 1) {
  fd_ = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
  if (fd_ < 0)
    throw InputError(
        ExitStatus::kCannotCreate, path, "",
        errno == EEXIST ? "there is a file of this name already" : std::strerror(errno),
        "name another place with --record FILE");
  schemas_and_channels_ = schema(kSampleSchema, v1::SampleBlock::descriptor()) +
                          schema(kEventSchema, v1::Event::descriptor());
  for (std::size_t c = 0; c < channels.size(); ++c)
    schemas_and_channels_ +=
        channel(static_cast<std::uint16_t>(c + 1), kSampleSchema, "/samples/" + channels[c].name,
                {{"name", channels[c].name},
                 {"unit", channels[c].unit},
                 {"logic", channels[c].logic ? "1" : "0"},
                 {"rate_hz", fmt::format("{}", channels[c].rate_hz)}});
  schemas_and_channels_ +=
      channel(static_cast<std::uint16_t>(channels.size() + 1), kEventSchema, "/events", {});
  std::string head(mcap::kMagic);
  head += record(Op::kHeader, Bytes().string("").string("airlatch " AIRLATCH_VERSION));
  head += schemas_and_channels_;
  for (const auto& [name, text] : setup) {
    head += record(Op::kMetadata, Bytes().string("airlatch." + name).map({{"text", text}}));
    ++metadata_;
  }
  write(head);
}

McapWriter::~McapWriter() {
  if (fd_ >= 0) ::close(fd_);
}

void McapWriter::fail(int error) {
  // What is whole stays; what was begun goes.
  if (::ftruncate(fd_, static_cast<off_t>(written_)) != 0) error = error ? error : errno;
  ::close(fd_);
  fd_ = -1;
  throw InputError(ExitStatus::kReadWriteFailed, path_, "",
                   fmt::format("recording stopped: {}", std::strerror(error)),
                   "free some space; what was recorded before is whole");
}

void McapWriter::write(const std::string& bytes) {
  std::size_t done = 0;
  while (done < bytes.size()) {
    const ssize_t n = ::write(fd_, bytes.data() + done, bytes.size() - done);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) fail(n < 0 ? errno : ENOSPC);
    done += static_cast<std::size_t>(n);
  }
  if (::fdatasync(fd_) != 0 && errno != EINVAL) fail(errno);
  written_ += bytes.size();
}

void McapWriter::message(std::uint16_t id, std::int64_t time_ns, const std::string& data) {
  if (fd_ < 0) return;
  const std::uint64_t t = unsigned_ns(time_ns);
  if (chunk_.empty()) chunk_start_ns_ = chunk_end_ns_ = t;
  chunk_start_ns_ = std::min(chunk_start_ns_, t);
  chunk_end_ns_ = std::max(chunk_end_ns_, t);
  chunk_index_[id].emplace_back(t, chunk_.size());
  chunk_ += record(Op::kMessage, Bytes().put(id).put(sequence_[id - 1U]++).put(t).put(t).raw(data));
  ++counts_[id];
  if (chunk_.size() >= kChunk_bytes) flush();
}

void McapWriter::block(const SampleBlock& raw) {
  v1::SampleBlock out;
  out.set_channel(channels_[raw.channel].name);
  if (raw.times_ns.empty()) {
    out.mutable_clock()->set_start_ns(raw.clock.start_ns);
    out.mutable_clock()->set_period_num_ns(raw.clock.num_ns);
    out.mutable_clock()->set_period_den(raw.clock.den);
    out.set_first_index(raw.first);
  } else {
    out.mutable_times_ns()->Add(raw.times_ns.begin(), raw.times_ns.end());
  }
  out.mutable_values()->Add(raw.values.begin(), raw.values.end());
  message(static_cast<std::uint16_t>(raw.channel + 1), raw.time_ns(0), out.SerializeAsString());
}

void McapWriter::event(const v1::Event& event, std::int64_t time_ns) {
  message(static_cast<std::uint16_t>(channels_.size() + 1), time_ns, event.SerializeAsString());
}

void McapWriter::tick(double now_s) {
  if (fd_ < 0) return;
  if (flushed_s_ < 0) flushed_s_ = now_s;
  if (now_s - flushed_s_ < kFlush_s) return;
  flushed_s_ = now_s;
  flush();
}

void McapWriter::flush() {
  if (fd_ < 0 || chunk_.empty()) return;
  const std::string chunk = record(Op::kChunk, Bytes()
                                                   .put(chunk_start_ns_)
                                                   .put(chunk_end_ns_)
                                                   .put(static_cast<std::uint64_t>(chunk_.size()))
                                                   .put(crc(chunk_))
                                                   .string("")
                                                   .put(static_cast<std::uint64_t>(chunk_.size()))
                                                   .raw(chunk_));
  Chunk entry{chunk_start_ns_, chunk_end_ns_, written_, chunk.size(), chunk_.size(), {}, 0};
  std::string index;
  for (const auto& [id, places] : chunk_index_) {
    entry.index_offsets.emplace_back(id, written_ + chunk.size() + index.size());
    Bytes pairs;
    for (const auto& [t, offset] : places) pairs.put(t).put(offset);
    index += record(Op::kMessageIndex, Bytes().put(id).string(pairs.text()));
  }
  entry.index_length = index.size();
  write(chunk + index);
  chunks_.push_back(std::move(entry));
  chunk_.clear();
  chunk_index_.clear();
}

void McapWriter::close() {
  if (fd_ < 0) return;
  flush();
  std::string end = record(Op::kDataEnd, Bytes().put(std::uint32_t{0}));
  const std::uint64_t summary_start = written_ + end.size();
  std::string summary = schemas_and_channels_;
  std::uint64_t first = 0, last = 0, messages = 0;
  for (const Chunk& chunk : chunks_) {
    first = first == 0 ? chunk.start_ns : std::min(first, chunk.start_ns);
    last = std::max(last, chunk.end_ns);
    Bytes offsets;
    for (const auto& [id, offset] : chunk.index_offsets) offsets.put(id).put(offset);
    summary += record(Op::kChunkIndex, Bytes()
                                           .put(chunk.start_ns)
                                           .put(chunk.end_ns)
                                           .put(chunk.offset)
                                           .put(chunk.length)
                                           .string(offsets.text())
                                           .put(chunk.index_length)
                                           .string("")
                                           .put(chunk.size)
                                           .put(chunk.size));
  }
  Bytes counts;
  for (const auto& [id, n] : counts_) {
    counts.put(id).put(n);
    messages += n;
  }
  summary += record(Op::kStatistics, Bytes()
                                         .put(messages)
                                         .put(std::uint16_t{2})
                                         .put(static_cast<std::uint32_t>(channels_.size() + 1))
                                         .put(std::uint32_t{0})
                                         .put(metadata_)
                                         .put(static_cast<std::uint32_t>(chunks_.size()))
                                         .put(first)
                                         .put(last)
                                         .string(counts.text()));
  // The footer's CRC covers the summary and the footer itself up to it.
  Bytes footer;
  footer.put(summary_start).put(std::uint64_t{0});
  const std::string before_crc = summary + Bytes()
                                               .put(static_cast<std::uint8_t>(Op::kFooter))
                                               .put(std::uint64_t{20})
                                               .raw(footer.text())
                                               .text();
  footer.put(crc(before_crc));
  write(end + summary + record(Op::kFooter, footer) + std::string(mcap::kMagic));
  ::close(fd_);
  fd_ = -1;
}

}  // namespace airlatch
