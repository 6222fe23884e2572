/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A host in plain C: a CSV with a time column in, the events' bytes out.
 *
 *     csv_host CAPTURE.csv RATE_HZ [RIG]     RATE_HZ 0: take the times of the first column
 *
 * Prints each event as one line of hexadecimal bytes (a serialised airlatch.v1.Event). The host
 * knows nothing of pumps or pressures. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "airlatch.h"

enum { kMostChannels = 32, kLongestLine = 4096 };

static void print_event(const void* event, size_t size, void* context) {
  (void)context;
  const unsigned char* bytes = event;
  for (size_t i = 0; i < size; ++i) printf("%02x", bytes[i]);
  printf("\n");
}

static char* whole_file(const char* path, size_t* size) {
  FILE* file = fopen(path, "rb");
  if (!file) return NULL;
  fseek(file, 0, SEEK_END);
  *size = (size_t)ftell(file);
  rewind(file);
  char* text = malloc(*size + 1);
  if (text && fread(text, 1, *size, file) != *size) {
    free(text);
    text = NULL;
  }
  fclose(file);
  return text;
}

int main(int argc, char** argv) {
  if (argc < 3) {
    fprintf(stderr, "csv_host CAPTURE.csv RATE_HZ [RIG]\n");
    return 64;
  }
  FILE* csv = fopen(argv[1], "r");
  static char line[kLongestLine], header[kLongestLine];
  if (!csv || !fgets(header, sizeof header, csv)) {
    fprintf(stderr, "csv_host: %s: cannot be read\n", argv[1]);
    return 66;
  }
  airlatch_channel channels[kMostChannels] = {{0}};
  size_t count = 0;
  strtok(header, ",\r\n"); /* the time column */
  for (char* name = NULL; count < kMostChannels && (name = strtok(NULL, ",\r\n")) != NULL;)
    channels[count++].name = name;

  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  options.channels = channels;
  options.channel_count = count;
  options.on_event = print_event;
  char* rig = NULL;
  if (argc > 3) {
    rig = whole_file(argv[3], &options.rig_size);
    options.rig = rig;
  }
  airlatch_decoder* decoder = NULL;
  if (airlatch_create(&options, &decoder) != AIRLATCH_OK) {
    fprintf(stderr, "csv_host: %s\n", airlatch_last_error(NULL));
    return 65;
  }
  free(rig);
  const int64_t rate_hz = strtoll(argv[2], NULL, 10);
  for (int64_t row = 0; fgets(line, sizeof line, csv); ++row) {
    char* at = line;
    const double seconds = strtod(at, &at);
    const int64_t time_ns = (int64_t)(seconds * 1e9 + (seconds < 0 ? -0.5 : 0.5));
    for (uint32_t c = 0; c < count && *at == ','; ++c) {
      const double value = strtod(at + 1, &at);
      airlatch_block block = {sizeof block, c, 0, 0, 0, &time_ns, NULL, &value, 1};
      if (rate_hz > 0) { /* row n is at n * 1e9 / rate, to the nearest nanosecond */
        block.times_ns = NULL;
        block.start_ns = row / rate_hz * 1000000000 +
                         (2 * (row % rate_hz) * 1000000000 + rate_hz) / (2 * rate_hz);
        block.period_num_ns = 1000000000;
        block.period_den = rate_hz;
      }
      if (airlatch_push(decoder, &block) != AIRLATCH_OK)
        fprintf(stderr, "csv_host: %s\n", airlatch_last_error(decoder));
    }
  }
  fclose(csv);
  const airlatch_status status = airlatch_finish(decoder);
  airlatch_destroy(decoder);
  return status == AIRLATCH_OK ? 0 : 74;
}
