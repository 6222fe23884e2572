// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/sha256.hpp"

#include <fmt/format.h>

#include <new>

#include "plugin/system/lazy/crypto.hpp"

namespace airlatch {

Sha256::Sha256() : context_(lazy::EVP_MD_CTX_new(), lazy::EVP_MD_CTX_free) {
  if (!context_ || lazy::EVP_DigestInit_ex(context_.get(), lazy::EVP_sha256(), nullptr) != 1)
    throw std::bad_alloc();
}

void Sha256::add(std::string_view bytes) {
  if (lazy::EVP_DigestUpdate(context_.get(), bytes.data(), bytes.size()) != 1)
    throw std::bad_alloc();
}

std::string Sha256::hex() {
  unsigned char hash[EVP_MAX_MD_SIZE];
  unsigned int size = 0;
  if (lazy::EVP_DigestFinal_ex(context_.get(), hash, &size) != 1) throw std::bad_alloc();
  std::string out;
  for (unsigned int k = 0; k < size; ++k) out += fmt::format("{:02x}", hash[k]);
  return out;
}

std::string sha256_of(std::string_view bytes) {
  Sha256 digest;
  digest.add(bytes);
  return digest.hex();
}

}  // namespace airlatch
