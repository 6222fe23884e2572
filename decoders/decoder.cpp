// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/decoder.hpp"

namespace airlatch {

Decoder::Decoder(CaptureContext& context) : context_(context) {}
Decoder::~Decoder() = default;

void Decoder::emit(const Event& event) const { events(event); }
void Decoder::emit(const Edge& edge) const { edges(edge); }

}  // namespace airlatch
