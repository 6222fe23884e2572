#include "decoders/decoder.hpp"

namespace airlatch {

Decoder::Decoder(CaptureContext& context) : context_(context) {}
Decoder::~Decoder() = default;

void Decoder::tell(const Event& event) const { events(event); }
void Decoder::tell(const Edge& edge) const { edges(edge); }

}  // namespace airlatch
