/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plain inflate (zlib) of every member of a zip file, one after another: the limit of reading one.
 *    inflate_zip FILE */
#include <stdio.h>
#include <stdlib.h>
#include <zip.h>

int main(int argc, char** argv) {
  static char buffer[1 << 16];
  zip_t* archive = argc == 2 ? zip_open(argv[1], ZIP_RDONLY, NULL) : NULL;
  if (!archive) return 66;
  long total = 0;
  for (zip_int64_t k = 0; k < zip_get_num_entries(archive, 0); ++k) {
    zip_file_t* file = zip_fopen_index(archive, (zip_uint64_t)k, 0);
    zip_int64_t n = 0;
    while (file && (n = zip_fread(file, buffer, sizeof buffer)) > 0) total += n;
    if (file) zip_fclose(file);
  }
  zip_discard(archive);
  printf("%ld bytes\n", total);
  return 0;
}
