// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/sha256.hpp"

#include <fmt/format.h>

#include <cstdio>
#include <memory>
#include <vector>

#include "plugin/system/lazy/crypto.hpp"

namespace airlatch {
namespace {

class Digest {
 public:
  Digest() { lazy::EVP_DigestInit_ex(context_.get(), lazy::EVP_sha256(), nullptr); }
  void add(const void* data, std::size_t size) {
    lazy::EVP_DigestUpdate(context_.get(), data, size);
  }
  std::string hex() {
    unsigned char hash[EVP_MAX_MD_SIZE];
    unsigned int size = 0;
    lazy::EVP_DigestFinal_ex(context_.get(), hash, &size);
    std::string out;
    for (unsigned int k = 0; k < size; ++k) out += fmt::format("{:02x}", hash[k]);
    return out;
  }

 private:
  std::unique_ptr<EVP_MD_CTX, void (*)(EVP_MD_CTX*)> context_{lazy::EVP_MD_CTX_new(),
                                                              lazy::EVP_MD_CTX_free};
};

}  // namespace

std::string sha256_of(std::string_view bytes) {
  Digest digest;
  digest.add(bytes.data(), bytes.size());
  return digest.hex();
}

std::string sha256_of_file(const std::string& path) {
  const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen(path.c_str(), "rb"),
                                                             std::fclose);
  if (!file) return {};
  Digest digest;
  std::vector<unsigned char> buffer(1 << 16);
  while (const std::size_t n = std::fread(buffer.data(), 1, buffer.size(), file.get()))
    digest.add(buffer.data(), n);
  return digest.hex();
}

}  // namespace airlatch
