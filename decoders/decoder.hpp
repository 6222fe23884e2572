// SPDX-License-Identifier: GPL-3.0-or-later
// decoder.hpp: the base class of all decoders.
//
// A decoder receives, slice by slice and in this order: the slice's scaled blocks (a BlockDecoder),
// the edges and events of the decoders below it as they are found (`on_edge`, `on_event`), and the
// end of the slice (`on_tick`; all samples before it are known). `finish` decides what is still
// open. Recent samples of all roles are in the CaptureContext. No I/O, clock, globals or threads.
#pragma once
#include <boost/signals2/signal.hpp>

#include "decoders/context.hpp"
#include "decoders/event.hpp"
#include "decoders/stream/sample_block.hpp"

namespace airlatch {

// A transition of the motor current or a feed, for the decoders above; never leaves the chain.
struct Edge {
  enum class What {
    kFeedOn,     // the source reached the contact
    kFeedOff,    // the source left it
    kMotorOn,    // the current rose from off: a start
    kMotorDips,  // the current fell below half: a dropout or a stop, not yet decided
    kMotorBack,  // ... and returned: it was a dropout
    kMotorOff,   // ... and stayed away: it was a stop, at kMotorDips' instant
  };
  What what = What::kMotorOn;
  double time_s = 0, u_s = 0;         // the instant and its standard uncertainty
  Contact contact = Contact::NONE;    // NONE: not known, or the command line
  double before = 0, after = 0;       // state levels on both sides; currents count from their zero
  double zero = 0;                    // motor edges: reading of the probe at no current
  double zero_span_s = 0;             // kMotorOn: how long a mean that zero is
  double sign = 1;                    // motor edges: sign of the current as the probe sees it
  bool level_seen = true;             // kMotorOn: `after` is the inrush peak and was resolved
  double level_u = 0;                 // kMotorOn: standard uncertainty of the peak
  double level_time_s = 0;            // kMotorOn: instant of the peak
  bool began_before_capture = false;  // kMotorOn: it already ran at the first sample
};

class Decoder {
 public:
  explicit Decoder(CaptureContext& context);
  virtual ~Decoder();
  Decoder(const Decoder&) = delete;
  Decoder& operator=(const Decoder&) = delete;

  virtual void on_edge(const Edge& /*lower*/) {}
  virtual void on_event(const Event& /*lower*/) {}
  virtual void on_tick(double /*now_s*/) {}
  virtual void finish(double /*end_s*/) {}

  boost::signals2::signal<void(const Event&)> events;
  boost::signals2::signal<void(const Edge&)> edges;

 protected:
  // Passes it to all listeners. The signals are called in decoder.cpp only, so that a decoder's own
  // file compiles quickly.
  void emit(const Event& event) const;
  void emit(const Edge& edge) const;
  CaptureContext& context_;
};

// A decoder that examines each block as it came, missing samples included; most use the tracks of
// the CaptureContext instead.
class BlockDecoder : public Decoder {
 public:
  using Decoder::Decoder;
  virtual void on_block(const SampleBlock& scaled) = 0;
};

}  // namespace airlatch
