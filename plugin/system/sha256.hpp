// SPDX-License-Identifier: GPL-3.0-or-later
// sha256.hpp: SHA-256 digests, by which captures and reports are identified.
#pragma once
#include <memory>
#include <string>
#include <string_view>

struct evp_md_ctx_st;

namespace airlatch {

// Of bytes that come piece by piece.
class Sha256 {
 public:
  Sha256();
  void add(std::string_view bytes);
  std::string hex();  // 64 hexadecimal digits; nothing is added after it

 private:
  std::unique_ptr<evp_md_ctx_st, void (*)(evp_md_ctx_st*)> context_;
};

std::string sha256_of(std::string_view bytes);

}  // namespace airlatch
