// SPDX-License-Identifier: GPL-3.0-or-later
// crypto.hpp: the functions of OpenSSL (digests) that are used, loaded at their first call.
#pragma once
#include <openssl/evp.h>

#include "plugin/system/lazy/library.hpp"

namespace airlatch::lazy {

inline constexpr LazyLibrary kCrypto{"libcrypto.so.3", "libssl3"};
AIRLATCH_LAZY(kCrypto, EVP_DigestFinal_ex)
AIRLATCH_LAZY(kCrypto, EVP_DigestInit_ex)
AIRLATCH_LAZY(kCrypto, EVP_DigestUpdate)
AIRLATCH_LAZY(kCrypto, EVP_MD_CTX_free)
AIRLATCH_LAZY(kCrypto, EVP_MD_CTX_new)
AIRLATCH_LAZY(kCrypto, EVP_sha256)

}  // namespace airlatch::lazy
