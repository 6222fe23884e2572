/* SPDX-License-Identifier: GPL-3.0-or-later */
/* drawn_run.h: one run of a pump drawn by hand, for hosts in C and C++ that know nothing of the rest:
 * a second of rest, three of blowing, eight in which the line leaks. 1000 samples a second. */
#ifndef AIRLATCH_DRAWN_RUN_H
#define AIRLATCH_DRAWN_RUN_H
#include <math.h>

#include "plugin/airlatch.h"

enum { kDrawnSamples = 12000, kDrawnChannels = 3 };
static const airlatch_channel kDrawn[kDrawnChannels] = {
    {"feed_a_v", 0}, {"motor_a", 0}, {"line_kpa", 0}};

static inline float drawn_value(uint32_t channel, int k) {
  const double t_s = k / 1000.0, fed_s = t_s - 1, left_s = t_s - 4;
  const double full_kpa = 50 * (1 - exp(-3 / 0.8));
  if (fed_s < 0) return 0;
  if (channel == 0) return left_s < 0 ? 12.0F : 0.0F;
  if (channel == 1) return left_s < 0 ? (float)(4 + 8 * exp(-fed_s / 0.05)) : 0.0F;
  if (left_s < 0) return (float)(50 * (1 - exp(-fed_s / 0.8)));
  return (float)(full_kpa * exp(-left_s / 60));
}

/* The samples of one channel as a block; `values` has room for kDrawnSamples. */
static inline airlatch_block drawn_block(uint32_t channel, float* values) {
  airlatch_block block = {sizeof(airlatch_block), 0, 0, 1000000, 1, NULL, NULL, NULL,
                          kDrawnSamples};
  block.channel = channel;
  block.floats = values;
  for (int k = 0; k < kDrawnSamples; ++k) values[k] = drawn_value(channel, k);
  return block;
}
#endif
