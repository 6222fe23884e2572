/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Loads the plugin, uses it and closes it, again and again in one process:
 *
 *     GLIBC_TUNABLES=glibc.malloc.tcache_count=0 load_host LIBRARY ROUNDS
 *
 * Each round must give the same events and report, really unload the library, and leave memory as it
 * was: after a warm-up of a tenth of the rounds, the heap in use may not grow by a byte (the setting
 * above has glibc count what was freed as free), no mapping may be left over, and resident memory may
 * grow by kMostGrowth_kib, for the pages of libraries that the kernel reads ahead.
 * Plain C, so that the C++ run-time comes and goes with the plugin. */
#include <dlfcn.h>
#include <malloc.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/plugin/abi/drawn_run.h"

enum { kMostGrowth_kib = 64 };

static _Noreturn void fail(const char* what, const char* why) {
  fprintf(stderr, "load_host: %s: %s\n", what, why);
  exit(1);
}

typedef struct Library {
  void* handle;
  airlatch_status (*create)(const airlatch_options*, airlatch_decoder**);
  airlatch_status (*push)(airlatch_decoder*, const airlatch_block*);
  airlatch_status (*finish)(airlatch_decoder*);
  airlatch_status (*report)(airlatch_decoder*, const void**, size_t*);
  airlatch_status (*destroy)(airlatch_decoder*);
} Library;

static void find(void* handle, const char* name, void* function) {
  void* const found = dlsym(handle, name);
  if (!found) fail(name, dlerror());
  memcpy(function, &found, sizeof found); /* ISO C has no cast from object to function */
}

static Library load(const char* path) {
  Library library = {dlopen(path, RTLD_NOW | RTLD_GLOBAL), NULL, NULL, NULL, NULL, NULL};
  if (!library.handle) fail("dlopen", dlerror());
  find(library.handle, "airlatch_create", &library.create);
  find(library.handle, "airlatch_push", &library.push);
  find(library.handle, "airlatch_finish", &library.finish);
  find(library.handle, "airlatch_report", &library.report);
  find(library.handle, "airlatch_destroy", &library.destroy);
  return library;
}

typedef struct Heard {
  uint64_t hash; /* FNV-1a */
  int events;
} Heard;

static void add(Heard* heard, const void* bytes, size_t size) {
  const unsigned char* byte = bytes;
  for (size_t i = 0; i < size; ++i) heard->hash = (heard->hash ^ byte[i]) * 0x100000001b3U;
}

static void on_event(const void* event, size_t size, void* context) {
  add(context, event, size);
  ++((Heard*)context)->events;
}

/* One whole use, a refusal first: it is an exception inside. */
static Heard use(const Library* library) {
  static float values[kDrawnSamples];
  Heard heard = {0xcbf29ce484222325U, 0};
  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  airlatch_decoder* decoder = NULL;
  if (library->create(&options, &decoder) != AIRLATCH_MISUSE) fail("create", "takes no channels");
  options.channels = kDrawn;
  options.channel_count = kDrawnChannels;
  options.on_event = on_event;
  options.context = &heard;
  if (library->create(&options, &decoder) != AIRLATCH_OK) fail("create", "refused");
  for (uint32_t c = 0; c < kDrawnChannels; ++c) {
    const airlatch_block block = drawn_block(c, values);
    if (library->push(decoder, &block) != AIRLATCH_OK) fail("push", "refused");
  }
  const void* report = NULL;
  size_t size = 0;
  if (library->finish(decoder) != AIRLATCH_OK) fail("finish", "refused");
  if (library->report(decoder, &report, &size) != AIRLATCH_OK) fail("report", "refused");
  add(&heard, report, size);
  if (library->destroy(decoder) != AIRLATCH_OK) fail("destroy", "refused");
  return heard;
}

typedef struct Memory {
  long resident_kib, mappings;
  size_t heap;
} Memory;

/* Pages counted one by one; /proc/self/statm lags behind by up to 64 of them. */
static long resident_kib(void) {
  FILE* file = fopen("/proc/self/smaps_rollup", "r");
  char line[256];
  long kib = 0;
  while (file && kib == 0 && fgets(line, sizeof line, file)) (void)sscanf(line, "Rss: %ld", &kib);
  if (kib == 0) fail("/proc/self/smaps_rollup", "cannot be read");
  fclose(file);
  return kib;
}

static Memory memory_now(void) {
  const struct mallinfo2 heap = mallinfo2();
  Memory now = {resident_kib(), 0, heap.uordblks + heap.hblkhd};
  FILE* file = fopen("/proc/self/maps", "r");
  if (!file) fail("/proc/self/maps", "cannot be read");
  for (int c = 0; (c = fgetc(file)) != EOF;) now.mappings += c == '\n';
  fclose(file);
  return now;
}

int main(int argc, char** argv) {
  const int rounds = argc == 3 ? atoi(argv[2]) : 0;
  if (rounds < 10) fail("usage", "load_host LIBRARY ROUNDS");
  Heard first = {0, 0};
  Memory warm = memory_now(); /* once before, since measuring needs pages of its own */
  for (int round = 0; round < rounds; ++round) {
    const Library library = load(argv[1]);
    const Heard heard = use(&library);
    if (dlclose(library.handle) != 0) fail("dlclose", dlerror());
    if (dlopen(argv[1], RTLD_NOW | RTLD_NOLOAD)) fail("dlclose", "the library is still loaded");
    if (round == 0) first = heard;
    if (heard.hash != first.hash || heard.events != first.events)
      fail("events", "not those of the first round");
    if (round == rounds / 10) warm = memory_now();
  }
  const Memory end = memory_now();
  printf(
      "%d rounds of %d events; since the warm-up: resident %+ld KiB of %ld, heap %+ld B of %zu, "
      "mappings %+ld\n",
      rounds, first.events, end.resident_kib - warm.resident_kib, end.resident_kib,
      (long)end.heap - (long)warm.heap, end.heap, end.mappings - warm.mappings);
  if (first.events < 4) fail("events", "hardly any");
#ifndef __SANITIZE_ADDRESS__ /* which keeps freed memory back, and finds what is lost itself */
  if (end.resident_kib > warm.resident_kib + kMostGrowth_kib) fail("resident memory", "grows");
  if (end.heap > warm.heap) fail("the heap", "grows");
  if (end.mappings > warm.mappings) fail("mappings", "are left over");
#endif
  return 0;
}
