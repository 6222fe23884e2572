// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/wire.hpp"

#include <bit>
#include <cstring>
#include <protozero/pbf_writer.hpp>
#include <protozero/varint.hpp>
#include <utility>

#include "plugin/message/fields.hpp"
#include "plugin/system/utf8.hpp"

namespace airlatch {
namespace {

using protozero::pbf_writer;

class WireWriter {
 public:
  template <MessageType Message>
  void fields(const Message& message) {
    Fields<Message>::each(
        message, [&](unsigned number, const char*, const auto& value) { set(number, value); });
  }
  [[nodiscard]] std::string take() { return std::move(bytes_); }

 private:
  // A field where it is not proto3's default. -0.0 is not: its bits are not 0.
  void set(unsigned number, double value) {
    if (std::bit_cast<std::uint64_t>(value) != 0) one(number, value);
  }
  void set(unsigned number, const std::string& value) {
    if (!value.empty()) one(number, value);
  }
  template <typename T>
  requires std::integral<T> || EnumType<T>
  void set(unsigned number, T value) {
    if (value != T{}) one(number, value);
  }
  template <MessageType Message>
  void set(unsigned number, const Message& message) {
    one(number, message);
  }
  template <typename T>
  void set(unsigned number, const std::optional<T>& value) {
    if (value) one(number, *value);
  }
  template <typename T>
  void set(unsigned number, const std::vector<T>& values) {
    for (const T& value : values) one(number, value);
  }

  void one(unsigned number, double value) { out_->add_double(number, value); }
  void one(unsigned number, bool value) { out_->add_bool(number, value); }
  void one(unsigned number, std::uint32_t value) { out_->add_uint32(number, value); }
  void one(unsigned number, std::int64_t value) { out_->add_int64(number, value); }
  void one(unsigned number, EnumType auto value) {
    out_->add_enum(number, static_cast<std::int32_t>(value));
  }
  void one(unsigned number, const std::string& value) {
    if (is_utf8(value))
      out_->add_string(number, value);
    else
      out_->add_string(number, repaired_utf8(value));
  }
  template <MessageType Message>
  void one(unsigned number, const Message& message) {
    const std::size_t before = bytes_.size();
    {
      pbf_writer nested(*out_, number);
      pbf_writer* outer = std::exchange(out_, &nested);
      fields(message);
      out_ = outer;
    }
    // libprotozero leaves an empty message out.
    if (bytes_.size() == before) out_->add_bytes(number, "", 0);
  }

  std::string bytes_;
  pbf_writer whole_{bytes_};
  pbf_writer* out_ = &whole_;
};

// Reading.

struct Refused {};  // the bytes are no message

// Not libprotozero's reader: it knows no groups, which fields that are not known may be, and takes
// lengths and tags that libprotobuf refuses.
enum WireType : unsigned { kVarint, kFixed64, kStretch, kGroup, kGroupEnd, kFixed32 };
constexpr int kDeepest = 100;        // levels of messages and groups, as libprotobuf has it
constexpr std::ptrdiff_t kWord = 5;  // bytes that the varint of a tag or a length may have

class WireReader {
 public:
  WireReader(std::string_view bytes, int levels)
      : at_(bytes.data()), end_(at_ + bytes.size()), levels_(levels) {
    if (levels < 0) throw Refused{};
  }

  template <MessageType Message>
  void read_into(Message& message) {
    while (at_ != end_) {
      read_tag();
      bool taken = false;
      Fields<Message>::each(message, [&](unsigned number, const char*, auto& member) {
        if (number == number_) taken = take(member);
      });
      if (!taken) pass_over(levels_);
    }
  }

 private:
  void read_tag() {
    const auto tag = static_cast<std::uint32_t>(word());
    number_ = tag >> 3U;
    type_ = tag & 7U;
    if (number_ == 0) throw Refused{};
  }

  // Values. False, with nothing read, where the field has another wire type than its own.
  bool take(double& value) {
    if (type_ != kFixed64) return false;
    static_assert(std::endian::native == std::endian::little);
    std::memcpy(&value, bytes(sizeof value).data(), sizeof value);
    return true;
  }
  template <typename T>
  requires std::integral<T> || EnumType<T>
  bool take(T& value) {
    if (type_ != kVarint) return false;
    const std::uint64_t number = varint();
    if constexpr (std::same_as<T, bool>)
      value = number != 0;
    else if constexpr (EnumType<T>)
      value = static_cast<T>(static_cast<int>(number));
    else
      value = static_cast<T>(number);
    return true;
  }
  bool take(std::string& value) {
    if (type_ != kStretch) return false;
    value = stretch();
    if (!is_utf8(value)) throw Refused{};
    return true;
  }
  template <MessageType Message>
  bool take(Message& message) {
    if (type_ != kStretch) return false;
    WireReader(stretch(), levels_ - 1).read_into(message);
    return true;
  }
  template <typename T>
  bool take(std::optional<T>& value) {
    T one = value.value_or(T{});  // a message that comes again is merged
    if (!take(one)) return false;
    value = std::move(one);
    return true;
  }
  template <typename T>
  bool take(std::vector<T>& values) {
    T one = {};
    if (!take(one)) return false;
    values.push_back(std::move(one));
    return true;
  }

  void pass_over(int levels) {
    switch (type_) {
      case kVarint:
        varint();
        return;
      case kFixed64:
        bytes(8);
        return;
      case kStretch:
        stretch();
        return;
      case kFixed32:
        bytes(4);
        return;
      case kGroup:
        return pass_over_group(levels - 1);
      default:  // the end of a group that did not begin, or none of protobuf's
        throw Refused{};
    }
  }
  void pass_over_group(int levels) {
    if (levels < 0) throw Refused{};
    const std::uint32_t group = number_;
    for (read_tag(); type_ != kGroupEnd; read_tag()) pass_over(levels);
    if (number_ != group) throw Refused{};
  }

  std::uint64_t varint() { return protozero::decode_varint(&at_, end_); }
  std::uint64_t word() {
    const char* from = at_;
    const std::uint64_t value = varint();
    if (at_ - from > kWord) throw Refused{};
    return value;
  }
  std::string_view bytes(std::uint64_t count) {
    if (count > static_cast<std::uint64_t>(end_ - at_)) throw Refused{};
    return {std::exchange(at_, at_ + count), count};
  }
  std::string_view stretch() { return bytes(word()); }

  const char* at_;
  const char* end_;
  int levels_;  // that may still be entered
  std::uint32_t number_ = 0;
  unsigned type_ = kVarint;
};

}  // namespace

template <typename Message>
std::string to_wire(const Message& message) {
  WireWriter out;
  out.fields(message);
  return out.take();
}

template <typename Message>
bool from_wire(std::string_view bytes, Message& message) {
  try {
    Message read;
    WireReader(bytes, kDeepest).read_into(read);
    message = std::move(read);
    return true;
  } catch (const Refused&) {
  } catch (const protozero::exception&) {  // a varint that is cut or too long
  }
  return false;
}

template std::string to_wire(const Event&);
template std::string to_wire(const Rig&);
template std::string to_wire(const Plan&);
template std::string to_wire(const Job&);
template std::string to_wire(const Report&);
template bool from_wire(std::string_view, Event&);
template bool from_wire(std::string_view, Rig&);
template bool from_wire(std::string_view, Plan&);
template bool from_wire(std::string_view, Job&);
template bool from_wire(std::string_view, Report&);

}  // namespace airlatch
