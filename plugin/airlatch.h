/* SPDX-License-Identifier: GPL-3.0-or-later */
/* airlatch.h: the decoders for any logging host. Plain C (C11, C++20), no dependency.
 *
 * A host creates a decoder for its channels, pushes blocks of samples, and gets structured events:
 *
 *     airlatch_channel channels[] = {{"motor_a", 0}, {"line_kpa", 0}};
 *     airlatch_options options = AIRLATCH_OPTIONS_INIT;
 *     options.channels = channels;
 *     options.channel_count = 2;
 *     airlatch_decoder* decoder;
 *     if (airlatch_create(&options, &decoder) != AIRLATCH_OK) puts(airlatch_last_error(NULL));
 *
 * Conventions
 *  1. Every function returns an airlatch_status unless stated otherwise; after a refusal
 *     airlatch_last_error has the reason in one line: that of the decoder, or, for calls that no
 *     decoder can keep a reason for (a null one, or one that is busy in its own on_event), that of
 *     the calling thread. Nothing else is changed by a call that fails, unless stated otherwise.
 *  2. Threads: a decoder belongs to one thread at a time; the host sees to that. Different decoders
 *     may be used in different threads at once. Tag: [any] any thread, [one] one at a time for this
 *     decoder.
 *  3. Ownership: what the host passes in is copied or used up before the call returns. What the
 *     library hands out belongs to the library, and is valid until the next call for that decoder.
 *  4. No exception, no abort, no output and no signal crosses this boundary. Memory that cannot be
 *     had is AIRLATCH_NO_MEMORY.
 *  5. Every struct begins with its size. Later versions add members at the end only. Members that
 *     the host's struct does not have are taken as zero, so that old hosts keep working; members
 *     that the library does not know are passed over. The elements of `channels` have no size of
 *     their own: `channel_size` gives that of each.
 *  6. Samples are in the unit of the channel's role (or the rig's raw unit), NaN is a missing
 *     sample, +-infinity an overload. Times are nanoseconds from any fixed origin; events count
 *     seconds from the first sample. The same samples give the same bytes however they are cut
 *     into blocks.
 */
#ifndef AIRLATCH_H
#define AIRLATCH_H

#include <stddef.h>
#include <stdint.h>

#if defined(_WIN32)
#define AIRLATCH_API
#else
#define AIRLATCH_API __attribute__((visibility("default")))
#endif

#ifdef __cplusplus
extern "C" {
#endif

/* Raised when something in this header changes its meaning; the library's soname follows it. */
#define AIRLATCH_ABI 1

typedef enum airlatch_status {
  AIRLATCH_OK = 0,
  AIRLATCH_NO_EVENT = 1,  /* poll: none is waiting; no error */
  AIRLATCH_MISUSE = 2,    /* a null pointer, a wrong size, a call in the wrong place */
  AIRLATCH_BAD_SETUP = 3, /* the rig, the plan or the channels cannot be used */
  AIRLATCH_BAD_BLOCK = 4, /* the block's channel, times or values cannot be used */
  AIRLATCH_NO_MEMORY = 5,
  AIRLATCH_BROKEN = 6 /* an earlier call failed half way: reset or destroy */
} airlatch_status;

typedef struct airlatch_decoder airlatch_decoder;

typedef struct airlatch_info {
  size_t struct_size;
  uint32_t abi;          /* AIRLATCH_ABI of the library */
  uint32_t capabilities; /* AIRLATCH_CAN_... */
  const char* version;   /* "0.1.0"; lives as long as the library */
} airlatch_info;
#define AIRLATCH_CAN_CALL_BACK 1u
#define AIRLATCH_CAN_REPORT 2u
#define AIRLATCH_CAN_JSON 4u

/* Fills in `info`, whose struct_size the host has set; members that do not fit whole are left as they
 * are. [any] Cost: none. MISUSE: null, or too small for `abi`. */
AIRLATCH_API airlatch_status airlatch_get_info(airlatch_info* info);

typedef struct airlatch_channel {
  const char* name; /* UTF-8; a rig's `source`, or a default name such as "motor_a" */
  uint32_t flags;   /* AIRLATCH_LOGIC: values are 0 and 1 */
} airlatch_channel;
#define AIRLATCH_LOGIC 1u

/* One event: `event` is a serialised airlatch.v1.Event (or its JSON, see `event_format`) of `size`
 * bytes, valid during the call. Called inside the functions that say so, on their thread. It must
 * return normally (no longjmp, no exception); calls for the same decoder from inside it are answered
 * with MISUSE, and airlatch_last_error, which may be asked there, has the reason. */
typedef void (*airlatch_event_fn)(const void* event, size_t size, void* context);

typedef enum airlatch_format { AIRLATCH_TEXT = 0, AIRLATCH_BINARY = 1 } airlatch_format;
typedef enum airlatch_event_format {
  AIRLATCH_EVENT_PROTOBUF = 0,
  AIRLATCH_EVENT_JSON = 1 /* one object of UTF-8 text, no newline, not ended by a zero */
} airlatch_event_format;

typedef struct airlatch_options {
  size_t struct_size;
  const void* rig; /* airlatch.v1.Rig as protobuf text or binary, see `format`; NULL: none */
  size_t rig_size;
  const void* plan; /* airlatch.v1.Plan likewise, or the name of one that is built in */
  size_t plan_size;
  uint32_t format;     /* airlatch_format */
  size_t channel_size; /* sizeof(airlatch_channel) */
  const airlatch_channel* channels;
  size_t channel_count;
  airlatch_event_fn on_event; /* NULL: events wait for airlatch_poll */
  void* context;              /* handed to on_event */
  uint64_t event_format;      /* airlatch_event_format: what on_event and poll hand out */
} airlatch_options;
#define AIRLATCH_OPTIONS_INIT                                                                     \
  {                                                                                               \
    sizeof(airlatch_options), NULL, 0, NULL, 0, AIRLATCH_TEXT, sizeof(airlatch_channel), NULL, 0, \
        NULL, NULL, AIRLATCH_EVENT_PROTOBUF                                                       \
  }

/* Makes a decoder. Channels that have neither a rig entry nor a default name are accepted and their
 * samples passed over; at least one must have a role. `*decoder` is NULL after a failure.
 * [any] Cost: about 0.1 ms. BAD_SETUP: with line and column of the mistake. */
AIRLATCH_API airlatch_status airlatch_create(const airlatch_options* options,
                                             airlatch_decoder** decoder);

typedef struct airlatch_block {
  size_t struct_size;
  uint32_t channel;      /* its place in options.channels */
  int64_t start_ns;      /* of the first value, when times_ns is NULL */
  int64_t period_num_ns; /* period = num / den ns: both 1 to 1e15, at least 1 ps */
  int64_t period_den;
  const int64_t* times_ns; /* one a value, rising; NULL: evenly spaced as above */
  const float* floats;     /* the values: one of these two, the other NULL */
  const double* doubles;   /* rounded to float */
  size_t count;            /* 0 is allowed and does nothing */
} airlatch_block;

/* Pushes samples. Blocks of one channel must follow each other in time: samples that do not are
 * dropped and counted (airlatch_dropped). Channels may run ahead of each other; events wait for the
 * slowest, see airlatch_flush. [one] Calls on_event. Cost: a few ns a value where nothing happens,
 * memory for what one channel is ahead. BAD_BLOCK: nothing was taken. */
AIRLATCH_API airlatch_status airlatch_push(airlatch_decoder* decoder, const airlatch_block* block);

/* Promises that no sample before `until_ns` will come any more on any channel, so that a silent
 * channel does not keep the others waiting. [one] Calls on_event. */
AIRLATCH_API airlatch_status airlatch_flush(airlatch_decoder* decoder, int64_t until_ns);

/* No more samples of this channel will come. [one] Calls on_event. */
AIRLATCH_API airlatch_status airlatch_end_channel(airlatch_decoder* decoder, uint32_t channel);

/* The oldest event that waits, as on_event would be handed it; NO_EVENT: none. With on_event set there
 * never is one. [one] Cost: none. */
AIRLATCH_API airlatch_status airlatch_poll(airlatch_decoder* decoder, const void** event,
                                           size_t* size);

/* The capture ended: what is open is decided. Afterwards only poll, report, dropped, reset and
 * destroy are no MISUSE. [one] Calls on_event. */
AIRLATCH_API airlatch_status airlatch_finish(airlatch_decoder* decoder);

/* After finish: a serialised airlatch.v1.Report with events, runs, decays, steps, findings.
 * [one] Cost: under 1 ms for a capture of a few runs. */
AIRLATCH_API airlatch_status airlatch_report(airlatch_decoder* decoder, const void** report,
                                             size_t* size);

/* Samples that were dropped because their time was not after the one before. [one] */
AIRLATCH_API airlatch_status airlatch_dropped(const airlatch_decoder* decoder, int64_t* samples);

/* As it was when created: for the next capture of the same channels. [one] */
AIRLATCH_API airlatch_status airlatch_reset(airlatch_decoder* decoder);

/* Ends the decoder; NULL is allowed. [one] MISUSE, and nothing is freed: from inside on_event. */
AIRLATCH_API airlatch_status airlatch_destroy(airlatch_decoder* decoder);

/* Why the last call for this decoder failed, one line of UTF-8, never NULL, empty after a success.
 * With NULL, or from inside the decoder's own on_event: why the last of these calls on this thread
 * failed: airlatch_get_info, airlatch_create, any with a null decoder, any from inside the on_event
 * of its decoder. Valid until the next call. [one] */
AIRLATCH_API const char* airlatch_last_error(const airlatch_decoder* decoder);

#ifdef __cplusplus
}
#endif
#endif
