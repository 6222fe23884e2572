/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A datafeed callback that feeds the C ABI. Its own conversion of samples: libsigrok's is right for
 * a few encodings only. */
#include "airlatch_tap.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

typedef struct tap_channel {
  const struct sr_channel* channel;
  const struct sr_dev_inst* device;
  int64_t done; /* samples so far */
} tap_channel;

struct airlatch_tap {
  struct sr_session* session;
  airlatch_decoder* decoder;
  tap_channel* channels;
  uint32_t count;
  double* values; /* of one channel of one packet */
  size_t capacity;
  uint64_t rate_hz; /* of the last META; 0: ask the device */
  int64_t origin_ns;
  uint64_t unusable;
  bool ended;
};

static int64_t now_ns(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (int64_t)t.tv_sec * 1000000000 + t.tv_nsec;
}

static uint64_t rate_of(const struct airlatch_tap* tap, const struct sr_dev_inst* device) {
  GVariant* rate = NULL;
  uint64_t hz = tap->rate_hz;
  const struct sr_dev_driver* driver = sr_dev_inst_driver_get(device);
  if (hz == 0 && driver &&
      sr_config_get(driver, device, NULL, SR_CONF_SAMPLERATE, &rate) == SR_OK) {
    hz = g_variant_get_uint64(rate);
    g_variant_unref(rate);
  }
  return hz;
}

static bool room_for(struct airlatch_tap* tap, size_t count) {
  if (count <= tap->capacity) return true;
  double* values = realloc(tap->values, count * sizeof *values);
  if (!values) return false;
  tap->values = values;
  tap->capacity = count;
  return true;
}

static void push(struct airlatch_tap* tap, uint32_t index, size_t count) {
  tap_channel* channel = &tap->channels[index];
  const uint64_t hz = rate_of(tap, channel->device);
  airlatch_block block = {sizeof block, index, 0, 0, 0, NULL, NULL, tap->values, count};
  int64_t arrival = 0;
  if (hz > 0) {
    /* Sample n of a channel is at origin + n * 1e9 / hz, to the nanosecond nearest. */
    const int64_t whole = channel->done / (int64_t)hz, rest = channel->done % (int64_t)hz;
    block.start_ns = tap->origin_ns + whole * 1000000000 +
                     (2 * rest * 1000000000 + (int64_t)hz) / (2 * (int64_t)hz);
    block.period_num_ns = 1000000000;
    block.period_den = (int64_t)hz;
    channel->done += (int64_t)count;
    airlatch_push(tap->decoder, &block);
    return;
  }
  /* A meter: one reading a packet as a rule; several in one have all arrived now. */
  for (size_t i = 0; i < count; ++i) {
    arrival = now_ns();
    block.times_ns = &arrival;
    block.doubles = &tap->values[i];
    block.count = 1;
    airlatch_push(tap->decoder, &block);
  }
}

static bool unpack(struct airlatch_tap* tap, const struct sr_datafeed_analog* analog, size_t at,
                   size_t stride) {
  const struct sr_analog_encoding* e = analog->encoding;
  const uint8_t* data = analog->data;
  const double scale = e->scale.q ? (double)e->scale.p / (double)e->scale.q : 1;
  const double offset = e->offset.q ? (double)e->offset.p / (double)e->offset.q : 0;
  if (e->unitsize != 1 && e->unitsize != 2 && e->unitsize != 4 && e->unitsize != 8) return false;
  if (e->is_float && e->unitsize < 4) return false;
  for (size_t i = 0; i < analog->num_samples; ++i) {
    uint64_t bits = 0; /* most significant byte first */
    const uint8_t* from = data + (i * stride + at) * e->unitsize;
    for (size_t k = 0; k < e->unitsize; ++k)
      bits = bits << 8 | from[e->is_bigendian ? k : e->unitsize - 1U - k];
    double value = 0;
    if (e->is_float && e->unitsize == 8) {
      memcpy(&value, &bits, 8);
    } else if (e->is_float) {
      const uint32_t word = (uint32_t)bits;
      float f = 0;
      memcpy(&f, &word, 4);
      value = (double)f;
    } else if (e->is_signed) {
      const unsigned shift = 64U - 8U * e->unitsize;
      value = (double)((int64_t)(bits << shift) >> shift);
    } else {
      value = (double)bits;
    }
    tap->values[i] = value * scale + offset;
  }
  return true;
}

static void on_packet(const struct sr_dev_inst* device, const struct sr_datafeed_packet* packet,
                      void* data) {
  struct airlatch_tap* tap = data;
  if (tap->ended) return; /* libsigrok may send more after the end */
  if (packet->type == SR_DF_META) {
    const struct sr_datafeed_meta* meta = packet->payload;
    for (const GSList* l = meta->config; l; l = l->next) {
      const struct sr_config* config = l->data;
      if (config->key == SR_CONF_SAMPLERATE) tap->rate_hz = g_variant_get_uint64(config->data);
    }
  } else if (packet->type == SR_DF_ANALOG) {
    const struct sr_datafeed_analog* analog = packet->payload;
    const size_t stride = g_slist_length(analog->meaning->channels);
    if (analog->num_samples == 0) return;
    if (!room_for(tap, analog->num_samples)) {
      ++tap->unusable;
      return;
    }
    size_t at = 0;
    for (const GSList* l = analog->meaning->channels; l; l = l->next, ++at)
      for (uint32_t c = 0; c < tap->count; ++c) {
        if (tap->channels[c].channel != l->data) continue;
        if (unpack(tap, analog, at, stride))
          push(tap, c, analog->num_samples);
        else
          ++tap->unusable;
      }
  } else if (packet->type == SR_DF_LOGIC) {
    const struct sr_datafeed_logic* logic = packet->payload;
    if (logic->unitsize == 0) return;
    const size_t count = logic->length / logic->unitsize;
    if (count == 0 || !room_for(tap, count)) return;
    for (uint32_t c = 0; c < tap->count; ++c) {
      const struct sr_channel* channel = tap->channels[c].channel;
      if (tap->channels[c].device != device || channel->type != SR_CHANNEL_LOGIC) continue;
      const size_t byte = (size_t)channel->index / 8;
      if (byte >= logic->unitsize) continue;
      for (size_t i = 0; i < count; ++i) {
        const uint8_t bits = ((const uint8_t*)logic->data)[i * logic->unitsize + byte];
        tap->values[i] = (double)(bits >> (channel->index % 8) & 1);
      }
      push(tap, c, count);
    }
  } else if (packet->type == SR_DF_END) {
    tap->ended = true;
    airlatch_finish(tap->decoder);
  }
}

/* Every enabled channel of every device; false: no memory. */
static bool list_channels(struct airlatch_tap* tap, airlatch_channel** out) {
  GSList* devices = NULL;
  sr_session_dev_list(tap->session, &devices);
  *out = NULL;
  bool good = true;
  for (const GSList* d = devices; d && good; d = d->next)
    for (const GSList* l = sr_dev_inst_channels_get(d->data); l && good; l = l->next) {
      const struct sr_channel* channel = l->data;
      if (!channel->enabled) continue;
      tap_channel* channels = realloc(tap->channels, (tap->count + 1) * sizeof *channels);
      if (channels) tap->channels = channels;
      airlatch_channel* names = realloc(*out, (tap->count + 1) * sizeof *names);
      if (names) *out = names;
      good = channels && names;
      if (!good) break;
      channels[tap->count] = (tap_channel){channel, d->data, 0};
      names[tap->count] =
          (airlatch_channel){channel->name, channel->type == SR_CHANNEL_LOGIC ? AIRLATCH_LOGIC : 0};
      ++tap->count;
    }
  g_slist_free(devices);
  return good;
}

static void free_tap(struct airlatch_tap* tap) {
  airlatch_destroy(tap->decoder);
  free(tap->channels);
  free(tap->values);
  free(tap);
}

airlatch_status airlatch_tap_attach(struct sr_session* session, const airlatch_options* options,
                                    airlatch_tap** out) {
  if (!session || !options || !out) return AIRLATCH_MISUSE;
  *out = NULL;
  struct airlatch_tap* tap = calloc(1, sizeof *tap);
  if (!tap) return AIRLATCH_NO_MEMORY;
  tap->session = session;
  tap->origin_ns = now_ns();
  airlatch_channel* names = NULL;
  airlatch_status status = AIRLATCH_NO_MEMORY;
  if (list_channels(tap, &names)) {
    airlatch_options all = AIRLATCH_OPTIONS_INIT;
    memcpy(&all, options, options->struct_size < sizeof all ? options->struct_size : sizeof all);
    all.struct_size = sizeof all;
    all.channels = names;
    all.channel_count = tap->count;
    all.channel_size = sizeof *names;
    status = airlatch_create(&all, &tap->decoder);
  }
  free(names);
  if (status == AIRLATCH_OK && sr_session_datafeed_callback_add(session, on_packet, tap) != SR_OK)
    status = AIRLATCH_MISUSE;
  if (status != AIRLATCH_OK) {
    free_tap(tap);
    return status;
  }
  *out = tap;
  return AIRLATCH_OK;
}

airlatch_decoder* airlatch_tap_decoder(airlatch_tap* tap) { return tap ? tap->decoder : NULL; }

uint64_t airlatch_tap_unusable(const airlatch_tap* tap) { return tap ? tap->unusable : 0; }

airlatch_status airlatch_tap_detach(airlatch_tap* tap) {
  if (!tap) return AIRLATCH_OK;
  airlatch_status status = AIRLATCH_OK;
  if (!tap->ended) status = airlatch_finish(tap->decoder);
  free_tap(tap);
  return status;
}
