// crypto.hpp: what is used of OpenSSL (digests), loaded when it is first called.
#pragma once
#include <openssl/evp.h>

#include "plugin/sources/late/library.hpp"

namespace airlatch {

inline constexpr LateLibrary kCrypto{"libcrypto.so.3", "libssl3"};
AIRLATCH_LATE(kCrypto, EVP_DigestFinal_ex)
AIRLATCH_LATE(kCrypto, EVP_DigestInit_ex)
AIRLATCH_LATE(kCrypto, EVP_DigestUpdate)
AIRLATCH_LATE(kCrypto, EVP_MD_CTX_free)
AIRLATCH_LATE(kCrypto, EVP_MD_CTX_new)
AIRLATCH_LATE(kCrypto, EVP_sha256)

}  // namespace airlatch
