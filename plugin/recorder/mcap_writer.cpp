// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/recorder/mcap_writer.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <google/protobuf/descriptor.pb.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zlib.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <set>

#include "airlatch/v1/event.pb.h"
#include "airlatch/v1/sample.pb.h"
#include "plugin/message/wire.hpp"
#include "plugin/sources/mcap_records.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {
using mcap::Bytes;
using mcap::Op;

constexpr std::uint16_t kSampleSchema = 1, kEventSchema = 2;

std::uint32_t crc(const std::string& bytes, std::uint32_t before = 0) {
  return static_cast<std::uint32_t>(::crc32(before, reinterpret_cast<const Bytef*>(bytes.data()),
                                            static_cast<uInt>(bytes.size())));
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

// Opens a file that was not there; `path` becomes the name it got.
int create(std::string& path, McapWriter::Taken taken) {
  constexpr int kMostNames = 10'000;
  const std::size_t ending = std::min(path.rfind(".mcap"), path.size());
  const std::string stem = path.substr(0, ending), rest = path.substr(ending);
  for (int k = 2;; ++k) {
    const int fd = ::open(path.c_str(), O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
    if (fd >= 0) return fd;
    if (errno != EEXIST || taken == McapWriter::Taken::kRefused || k > kMostNames)
      throw InputError(
          ExitStatus::kCannotCreate, path, "",
          errno == EEXIST ? "there is a file of this name already" : std::strerror(errno),
          "name another place with --record FILE");
    path = fmt::format("{}-{}{}", stem, k, rest);
  }
}

}  // namespace

McapWriter::McapWriter(const std::string& path, const std::vector<RecordedChannel>& channels,
                       const std::vector<std::pair<std::string, std::string>>& setup, Taken taken)
    : path_(path), channels_(channels), sequence_(channels.size() + 1) {
  fd_ = create(path_, taken);
  sync_.emplace(fd_);
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
  append(head);
  whole();
  sync_->ask(whole_);
  data_start_ = whole_;
}

McapWriter::~McapWriter() {
  sync_.reset();
  if (fd_ >= 0) ::close(fd_);
}

void McapWriter::fail(const std::string& why, const std::string& mend) {
  const int sync_error = sync_->error();
  const std::uint64_t sound = sync_error ? sync_->synced() : whole_;
  sync_.reset();
  // Complete chunks stay; the incomplete one is removed.
  const bool cut = ::ftruncate(fd_, static_cast<off_t>(sound)) == 0;
  ::close(fd_);
  fd_ = -1;
  throw InputError(
      ExitStatus::kReadWriteFailed, path_, "", "recording stopped: " + why,
      mend + (cut ? "; what was recorded before is whole" : "; its last moment may be damaged"));
}

void McapWriter::append(const std::string& bytes) {
  std::size_t done = 0;
  while (done < bytes.size()) {
    const ssize_t n = ::write(fd_, bytes.data() + done, bytes.size() - done);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) fail(std::strerror(n < 0 ? errno : ENOSPC));
    done += static_cast<std::size_t>(n);
  }
  appended_ += bytes.size();
  appended_crc_ = crc(bytes, appended_crc_);
}

void McapWriter::whole() {
  whole_ = appended_;
  struct stat about {};
  if (::fstat(fd_, &about) == 0 && about.st_nlink == 0)
    fail("its file was deleted", "record where nothing cleans up");
  if (const int error = sync_->error()) fail(std::strerror(error));
}

std::string McapWriter::read(std::uint64_t offset, std::size_t size) {
  std::string bytes(size, '\0');
  ssize_t n = 0;
  do n = ::pread(fd_, bytes.data(), size, static_cast<off_t>(offset));
  while (n < 0 && errno == EINTR);
  if (n != static_cast<ssize_t>(size)) fail(std::strerror(n < 0 ? errno : EIO));
  return bytes;
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

void McapWriter::event(const Event& event, std::int64_t time_ns) {
  message(static_cast<std::uint16_t>(channels_.size() + 1), time_ns, to_wire(event));
}

void McapWriter::tick(double now_s) {
  if (fd_ < 0) return;
  if (flushed_s_ < 0) flushed_s_ = now_s;
  if (now_s - flushed_s_ < kFlush_s) return;
  flushed_s_ = now_s;
  flush();
  if (now_s - synced_s_ < kSync_s) return;
  synced_s_ = now_s;
  sync_->ask(whole_);
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
  std::string index;
  for (const auto& [id, places] : chunk_index_) {
    Bytes pairs;
    for (const auto& [t, offset] : places) pairs.put(t).put(offset);
    index += record(Op::kMessageIndex, Bytes().put(id).string(pairs.text()));
  }
  append(chunk + index);
  whole();
  first_ns_ = chunks_ == 0 ? chunk_start_ns_ : std::min(first_ns_, chunk_start_ns_);
  last_ns_ = std::max(last_ns_, chunk_end_ns_);
  ++chunks_;
  chunk_.clear();
  chunk_index_.clear();
}

// One chunk index record for each chunk with the message indexes behind it.
void McapWriter::append_chunk_indexes() {
  constexpr std::size_t kTimesAndSize = 24;
  std::uint64_t at = data_start_;
  while (at < whole_) {
    const std::string head = read(at, mcap::kRecordHead + kTimesAndSize);
    mcap::Reader chunk(head);
    chunk.get<std::uint8_t>();
    const std::uint64_t length = mcap::kRecordHead + chunk.get<std::uint64_t>();
    const auto start_ns = chunk.get<std::uint64_t>(), end_ns = chunk.get<std::uint64_t>(),
               size = chunk.get<std::uint64_t>();
    Bytes offsets;
    std::uint64_t next = at + length;
    while (next < whole_) {
      const std::string index_head = read(next, mcap::kRecordHead + sizeof(std::uint16_t));
      mcap::Reader index(index_head);
      if (index.get<std::uint8_t>() != static_cast<std::uint8_t>(Op::kMessageIndex)) break;
      const std::uint64_t index_length = index.get<std::uint64_t>();
      offsets.put(index.get<std::uint16_t>()).put(next);
      next += mcap::kRecordHead + index_length;
    }
    append(record(Op::kChunkIndex, Bytes()
                                       .put(start_ns)
                                       .put(end_ns)
                                       .put(at)
                                       .put(length)
                                       .string(offsets.text())
                                       .put(next - at - length)
                                       .string("")
                                       .put(size)
                                       .put(size)));
    at = next;
  }
}

void McapWriter::close() {
  if (fd_ < 0) return;
  flush();
  append(record(Op::kDataEnd, Bytes().put(std::uint32_t{0})));
  const std::uint64_t summary_start = appended_;
  appended_crc_ = 0;
  append(schemas_and_channels_);
  append_chunk_indexes();
  std::uint64_t messages = 0;
  Bytes counts;
  for (const auto& [id, n] : counts_) {
    counts.put(id).put(n);
    messages += n;
  }
  append(record(Op::kStatistics, Bytes()
                                     .put(messages)
                                     .put(std::uint16_t{2})
                                     .put(static_cast<std::uint32_t>(channels_.size() + 1))
                                     .put(std::uint32_t{0})
                                     .put(metadata_)
                                     .put(chunks_)
                                     .put(first_ns_)
                                     .put(last_ns_)
                                     .string(counts.text())));
  // The footer's CRC covers the summary and the footer itself up to it.
  Bytes footer;
  footer.put(summary_start).put(std::uint64_t{0});
  const std::string footer_head = Bytes()
                                      .put(static_cast<std::uint8_t>(Op::kFooter))
                                      .put(std::uint64_t{20})
                                      .raw(footer.text())
                                      .text();
  footer.put(crc(footer_head, appended_crc_));
  append(record(Op::kFooter, footer) + std::string(mcap::kMagic));
  whole();
  sync_->ask(whole_);
  if (const int error = sync_->finish()) fail(std::strerror(error));
  sync_.reset();
  ::close(fd_);
  fd_ = -1;
}

}  // namespace airlatch
