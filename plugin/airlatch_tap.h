/* SPDX-License-Identifier: GPL-3.0-or-later */
/* airlatch_tap.h: receives the samples of a libsigrok session that another program runs.
 *
 *     airlatch_options options = AIRLATCH_OPTIONS_INIT;   (channels are found by the tap)
 *     options.on_event = print;
 *     airlatch_tap* tap;
 *     airlatch_tap_attach(session, &options, &tap);
 *     ... sr_session_start, sr_session_run ...
 *     airlatch_tap_detach(tap);
 *
 * The tap is a datafeed callback: it runs where the session runs, takes what the session's devices
 * send, and never stops or changes the session. Evenly sampled devices are timed by their rate,
 * meters by the arrival of each reading.
 */
#ifndef AIRLATCH_TAP_H
#define AIRLATCH_TAP_H

#include <libsigrok/libsigrok.h>

#include "airlatch.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct airlatch_tap airlatch_tap;

/* Call with the session's devices added and their channels enabled, before it is started.
 * `channels` of the options are not looked at: the tap takes every enabled channel, in the order of
 * devices and channels. The tap must be detached before the session is destroyed, and not from
 * inside on_event. Status as of airlatch_create; MISUSE too where the session has no enabled
 * channel. */
AIRLATCH_API airlatch_status airlatch_tap_attach(struct sr_session* session,
                                                 const airlatch_options* options,
                                                 airlatch_tap** tap);

/* The tap's decoder, for poll, report and last_error; it belongs to the tap. */
AIRLATCH_API airlatch_decoder* airlatch_tap_decoder(airlatch_tap* tap);

/* Packets whose values could not be used (an encoding nobody knows). */
AIRLATCH_API uint64_t airlatch_tap_unusable(const airlatch_tap* tap);

/* Finishes the decoder if the session did not end it, and frees the tap. NULL is allowed. The
 * session must not be running any more: libsigrok cannot take a single callback off. */
AIRLATCH_API airlatch_status airlatch_tap_detach(airlatch_tap* tap);

#ifdef __cplusplus
}
#endif
#endif
