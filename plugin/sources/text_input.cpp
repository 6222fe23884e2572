// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/text_input.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>

#include "plugin/system/input_error.hpp"
#include "plugin/system/retried.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kPiece = 1U << 16;
constexpr std::size_t kFewest = 4;  // bytes that tell what they are
constexpr std::size_t kLetter = 4;  // bytes that one takes at most

std::size_t put_utf8(char32_t code, char* to) {
  const auto byte = [&](std::size_t at, char32_t bits) { to[at] = static_cast<char>(bits); };
  if (code < 0x80) return byte(0, code), 1;
  if (code < 0x800) return byte(0, 0xC0 | code >> 6), byte(1, 0x80 | (code & 0x3F)), 2;
  if (code < 0x10000) {
    byte(0, 0xE0 | code >> 12);
    byte(1, 0x80 | (code >> 6 & 0x3F));
    return byte(2, 0x80 | (code & 0x3F)), 3;
  }
  byte(0, 0xF0 | code >> 18);
  byte(1, 0x80 | (code >> 12 & 0x3F));
  byte(2, 0x80 | (code >> 6 & 0x3F));
  return byte(3, 0x80 | (code & 0x3F)), 4;
}

// Text in UTF-16 without a mark: nearly every second byte is 0, on one side.
bool every_other_is_zero(std::string_view head, std::size_t side) {
  if (head.size() < 16) return false;
  std::size_t zeros = 0, others = 0;  // a letter of another alphabet may end in a zero
  for (std::size_t at = 0; at + 1 < head.size(); at += 2) {
    zeros += head[at + side] == '\0' ? 1 : 0;
    others += head[at + 1 - side] == '\0' ? 1 : 0;
  }
  return zeros * 2 > head.size() / 2 && others * 8 < zeros;
}

constexpr std::string_view kLittleMark = "\xff\xfe", kBigMark = "\xfe\xff";

}  // namespace

TextInput::Letters TextInput::letters_of(std::string_view head) {
  const std::string_view first = head.substr(0, 512);
  if (head.starts_with(kLittleMark) || every_other_is_zero(first, 1)) return Letters::kLittle16;
  if (head.starts_with(kBigMark) || every_other_is_zero(first, 0)) return Letters::kBig16;
  return Letters::kBytes;
}

TextInput::TextInput(const std::string& path, const std::string& name, bool hashed) {
  file_ = path == "-" ? STDIN_FILENO : ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (hashed) digest_.emplace();
  if (file_ < 0)
    throw InputError(errno == ENOENT ? ExitStatus::kNotFound : ExitStatus::kReadWriteFailed, name,
                     "", std::strerror(errno), "check the name and that you may read it");
  struct stat about {};
  if (::fstat(file_, &about) == 0 && S_ISREG(about.st_mode))
    size_ = static_cast<std::uint64_t>(about.st_size);
}

TextInput::~TextInput() {
  if (file_ > STDIN_FILENO) ::close(file_);
}

TextInput::Reading TextInput::read_raw(char* to, std::size_t room) {
  if (size_ > 0) room = static_cast<std::size_t>(std::min<std::uint64_t>(room, size_ - taken_));
  Reading reading;
  reading.got = retried([&] { return ::read(file_, to, room); });
  reading.error = errno;
  if (reading.got > 0) {
    taken_ += static_cast<std::uint64_t>(reading.got);
    if (digest_) digest_->add({to, static_cast<std::size_t>(reading.got)});
  }
  if (reading.got == 0) at_end_ = true;
  return reading;
}

// The first bytes, which tell what the others are.
TextInput::Reading TextInput::look() {
  raw_.resize(kPiece);
  std::size_t here = 0;
  while (here < kFewest) {
    const Reading reading = read_raw(raw_.data() + here, raw_.size() - here);
    if (reading.got < 0) return reading;
    if (reading.got == 0) break;
    here += static_cast<std::size_t>(reading.got);
  }
  looked_ = true;
  raw_left_ = {raw_.data(), here};
  if (Gunzip::is_gzip(raw_left_)) gunzip_.emplace();
  if (!gunzip_) tell_letters();
  return {1, 0};
}

void TextInput::tell_letters() {
  std::string_view& head = gunzip_ ? wide_left_ : raw_left_;
  letters_ = letters_of(head);
  if (head.starts_with("\xef\xbb\xbf")) head.remove_prefix(3);
  if (head.starts_with(kLittleMark) || head.starts_with(kBigMark)) head.remove_prefix(2);
}

TextInput::Reading TextInput::read_unpacked(char* to, std::size_t room) {
  if (!raw_left_.empty() && !gunzip_) {
    const std::size_t got = std::min(room, raw_left_.size());
    std::memcpy(to, raw_left_.data(), got);
    raw_left_.remove_prefix(got);
    return {static_cast<ssize_t>(got), 0};
  }
  if (!gunzip_) return read_raw(to, room);
  while (true) {
    const std::size_t got = gunzip_->unpack(raw_left_, to, room);
    if (got > 0) return {static_cast<ssize_t>(got), 0};
    if (gunzip_->damaged()) return {-1, kDamaged};
    const Reading reading = read_raw(raw_.data(), raw_.size());
    if (reading.got == 0 && !gunzip_->whole()) return {-1, kCut};
    if (reading.got <= 0) return reading;
    raw_left_ = {raw_.data(), static_cast<std::size_t>(reading.got)};
  }
}

// As many letters of wide_left_ as there is room for.
std::size_t TextInput::take_letters(char* to, std::size_t room) {
  const auto half = [&](std::size_t at) {
    const auto low = static_cast<unsigned char>(wide_left_[at]),
               high = static_cast<unsigned char>(wide_left_[at + 1]);
    return static_cast<char32_t>(letters_ == Letters::kLittle16 ? low | high << 8
                                                                : high | low << 8);
  };
  std::size_t written = 0;
  while (wide_left_.size() >= 2 && written + kLetter <= room) {
    char32_t code = half(0);
    std::size_t bytes = 2;
    if (code >= 0xD800 && code < 0xDC00) {
      if (wide_left_.size() < 4) break;
      const char32_t low = half(2);
      const bool pair = low >= 0xDC00 && low < 0xE000;
      code = pair ? 0x10000 + ((code - 0xD800) << 10) + (low - 0xDC00) : 0xFFFD;
      bytes = pair ? 4 : 2;
    } else if (code >= 0xDC00 && code < 0xE000) {
      code = 0xFFFD;
    }
    written += put_utf8(code, to + written);
    wide_left_.remove_prefix(bytes);
  }
  return written;
}

TextInput::Reading TextInput::read_letters(char* to, std::size_t room) {
  // What was packed tells its letters only once it is unpacked.
  if (gunzip_ && wide_.empty()) {
    wide_.resize(kPiece);
    const Reading reading = read_unpacked(wide_.data(), wide_.size());
    if (reading.got <= 0) return reading;
    wide_left_ = {wide_.data(), static_cast<std::size_t>(reading.got)};
    tell_letters();
  }
  if (letters_ == Letters::kBytes) {
    if (wide_left_.empty()) return read_unpacked(to, room);
    const std::size_t got = std::min(room, wide_left_.size());
    std::memcpy(to, wide_left_.data(), got);
    wide_left_.remove_prefix(got);
    return {static_cast<ssize_t>(got), 0};
  }
  if (wide_.empty()) wide_.resize(kPiece);
  while (true) {
    if (room < kLetter && letter_.empty()) {
      letter_.resize(kLetter);
      letter_.resize(take_letters(letter_.data(), kLetter));
    }
    if (!letter_.empty()) {
      const std::size_t got = letter_.copy(to, room);
      letter_.erase(0, got);
      return {static_cast<ssize_t>(got), 0};
    }
    if (const std::size_t got = take_letters(to, room)) return {static_cast<ssize_t>(got), 0};
    const std::size_t left = wide_left_.size();
    std::copy(wide_left_.begin(), wide_left_.end(), wide_.begin());
    const Reading reading = read_unpacked(wide_.data() + left, wide_.size() - left);
    if (reading.got <= 0) return reading;
    wide_left_ = {wide_.data(), left + static_cast<std::size_t>(reading.got)};
  }
}

TextInput::Reading TextInput::read(char* to, std::size_t room) {
  if (!looked_)
    if (const Reading reading = look(); reading.got < 0) return reading;
  const Reading reading = read_letters(to, room);
  if (reading.got <= 0 || (bare_returns_ && !*bare_returns_)) return reading;
  const std::string_view text(to, static_cast<std::size_t>(reading.got));
  if (!bare_returns_) {
    const std::size_t first = text.find('\r');
    bare_returns_ = first != std::string_view::npos && first + 1 < text.size() &&
                    text.find('\n') == std::string_view::npos;
  }
  if (*bare_returns_) std::replace(to, to + reading.got, '\r', '\n');
  return reading;
}

std::string TextInput::sha256() {
  if (!digest_) return {};
  std::vector<char> piece(kPiece);
  while (size_ > 0 && !at_end_)
    if (read_raw(piece.data(), piece.size()).got < 0) break;
  return at_end_ ? digest_->hex() : std::string();
}

}  // namespace airlatch
