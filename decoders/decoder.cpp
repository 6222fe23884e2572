#include "decoders/decoder.hpp"

namespace airlatch {

Decoder::Decoder(Bench& bench) : bench_(bench) {}
Decoder::~Decoder() = default;

void Decoder::tell(const v1::Event& event) const { events(event); }
void Decoder::tell(const Edge& edge) const { edges(edge); }

}  // namespace airlatch
