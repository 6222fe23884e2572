// plain_rows_body.hpp: the work of plain_rows.cpp, which includes it once for any processor and
// once for one with wide registers (AVX2 and all before it).
[[gnu::always_inline]] inline Bytes load(const void* from) {
  Bytes v;
  std::memcpy(&v, from, sizeof v);
  return v;
}

// A bit for each character that is not 0.
[[gnu::always_inline]] inline std::uint32_t bits_of(Bytes v) {
#if defined(__SSE2__)
  return static_cast<std::uint32_t>(_mm_movemask_epi8(std::bit_cast<__m128i>(v)));
#else
  std::uint32_t bits = 0;
  for (std::size_t i = 0; i < kWidth; ++i) bits |= (v[i] ? 1U : 0U) << i;
  return bits;
#endif
}

[[gnu::always_inline]] inline Bytes shuffled(Bytes v, const Row& places) {
#if defined(AIRLATCH_AVX2)
  return std::bit_cast<Bytes>(
      _mm_shuffle_epi8(std::bit_cast<__m128i>(v), std::bit_cast<__m128i>(load(&places))));
#else
  Bytes out = {};
  for (std::size_t i = 0; i < kWidth; ++i) out[i] = v[places[i]];
  return out;
#endif
}

// Sixteen digits: pairs, fours, eights; the earlier one is the greater (little-endian).
[[gnu::always_inline]] inline std::int64_t number_of(Bytes digits) {
#if defined(AIRLATCH_AVX2)
  const __m128i pairs =
      _mm_maddubs_epi16(std::bit_cast<__m128i>(digits), _mm_set1_epi16(1 << 8 | 10));
  const __m128i fours = _mm_madd_epi16(pairs, _mm_set1_epi32(1 << 16 | 100));
  const __m128i eights =
      _mm_madd_epi16(_mm_packus_epi32(fours, fours), _mm_set1_epi32(1 << 16 | 10'000));
  const auto both = static_cast<std::uint64_t>(_mm_cvtsi128_si64(eights));
  return static_cast<std::int64_t>((both & 0xffffffff) * 100'000'000 + (both >> 32));
#else
  Pairs pairs = std::bit_cast<Pairs>(digits);
  pairs = (pairs & 0xff) * 10 + (pairs >> 8);
  constexpr Pairs kHundreds = {100, 1, 100, 1, 100, 1, 100, 1};
  Fours fours = std::bit_cast<Fours>(pairs * kHundreds);
  fours = (fours & 0xffff) + (fours >> 16);
  const auto eights = std::bit_cast<Eights>(fours);
  const std::uint64_t high = (eights[0] & 0xffffffff) * 10'000 + (eights[0] >> 32);
  const std::uint64_t low = (eights[1] & 0xffffffff) * 10'000 + (eights[1] >> 32);
  return static_cast<std::int64_t>(high * 100'000'000 + low);
#endif
}

// What is wrong with cells, gathered over a row and looked at once.
struct Doubts {
  Bytes not_digits = {};
  std::size_t lengths = 0;  // beyond 15: too many characters
  std::int64_t digits = 0;  // below 0: a cell without any
  bool line_ends = false;   // inside the row

  [[gnu::always_inline]] bool any() const {
    return bits_of(not_digits) != 0 || lengths > kMostCharacters || digits < 0 || line_ends;
  }
};

// The cell [start, end). No branch hangs on what it holds: a processor could not guess it.
[[gnu::always_inline]] inline Number cell_of(const char* start, const char* end, bool comma,
                                             Doubts& doubts) {
  Number out;
  out.negative = *start == '-';
  const std::size_t n = static_cast<std::size_t>(end - start) - (out.negative ? 1U : 0U);
  const std::size_t known = n % kWidth;
  Bytes v = (load(end - kWidth) & load(&kept.mask[known])) | load(&kept.zeros[known]);
  const auto point = static_cast<Bytes>(v == '.');
  const std::uint32_t marks = bits_of(comma ? point | static_cast<Bytes>(v == ',') : point);
  out.mark = static_cast<std::size_t>(std::countr_zero(marks | 1U << kWidth));
  v = shuffled(v, without_mark[out.mark]) - '0';
  doubts.not_digits |= static_cast<Bytes>(v > 9);
  doubts.lengths |= n;
  doubts.digits |= static_cast<std::int64_t>(n) - 2 + static_cast<std::int64_t>(out.mark / kWidth);
  out.digits = number_of(v);
  return out;
}

// Adds the ends of cells in the 64 characters at `from`.
[[gnu::always_inline]] inline void add_ends(const char* text, std::size_t from, std::size_t size,
                                            char separator, Ends& ends) {
  const Bytes separators = Bytes{} + static_cast<unsigned char>(separator);
  std::uint64_t here = 0;
  for (std::size_t part = 0; part < 64; part += kWidth) {
    const Bytes v = load(text + from + part);
    here |= std::uint64_t{bits_of((v == separators) | (v == '\n'))} << part;
  }
  if (size - from < 64) here &= (std::uint64_t{1} << (size - from)) - 1;
  const auto found = static_cast<std::size_t>(std::popcount(here));
  std::uint32_t* to = ends.at.data() + ends.n;
  ends.n += found;
  // Eight at a time, whether there are so many or not.
  for (std::size_t done = 0; done < found; done += 8, to += 8)
    for (std::size_t k = 0; k < 8; ++k) {
      to[k] = static_cast<std::uint32_t>(from) + static_cast<std::uint32_t>(std::countr_zero(here));
      here &= here - 1;
    }
}

// Times: most differ from the row before in their last digit only.
struct Time {
  Bytes text = {};
  std::size_t n = 0;
  std::int64_t digits = 0, step_ns = 0, ns = 0;

  [[gnu::always_inline]] bool read(const char* start, const char* end, bool comma) {
    const auto here = static_cast<std::size_t>(end - start);
    const Bytes v = load(end - kWidth) & load(&kept.mask[here % kWidth]);
    const Bytes before = text;
    text = v;
    if (here == n && (bits_of(v == before) | 1U << (kWidth - 1)) == (1U << kWidth) - 1 &&
        v[kWidth - 1] > before[kWidth - 1] && v[kWidth - 1] <= '9') {
      ns += (v[kWidth - 1] - before[kWidth - 1]) * step_ns;
      return true;
    }
    n = 0;
    Doubts doubts;
    const Number number = cell_of(start, end, comma, doubts);
    step_ns = kStep_ns[number.mark];
    if (doubts.any() || number.negative || step_ns == 0 ||
        __builtin_mul_overflow(number.digits, step_ns, &ns))
      return false;
    if (here < kWidth && start[here - 1] >= '0') n = here;
    return true;
  }
};

PlainRows take(std::string_view text, const PlainLayout& layout,
               std::span<const PlainColumn> columns, std::int64_t* times_ns, std::int64_t after_ns,
               std::size_t most) {
  PlainRows out{.last_ns = after_ns};
  const std::size_t shift = layout.time ? 1 : 0, cells = columns.size() + shift;
  if (cells > kMostCells) return out;
  const char *const data = text.data(), *start = data;
  Ends ends;
  std::size_t next = 0;  // of the ends
  Time time;
  for (std::size_t look = 0; look < text.size();) {
    std::copy(ends.at.begin() + static_cast<std::ptrdiff_t>(next),
              ends.at.begin() + static_cast<std::ptrdiff_t>(ends.n), ends.at.begin());
    ends.n -= next;
    next = 0;
    const std::size_t until = std::min(look + kLook, text.size());
    for (; look < until; look += 64) add_ends(data, look, text.size(), layout.separator, ends);
    for (; next + cells <= ends.n; next += cells) {
      if (out.rows == most) return out;
      const std::uint32_t* const stops = ends.at.data() + next;
      const char* const line_end = data + stops[cells - 1];
      const char* const last = line_end > start && line_end[-1] == '\r' ? line_end - 1 : line_end;
      bool plain = *line_end == '\n';
      const char* from = start;
      Doubts doubts;
      if (layout.time) {
        const char* const stop = cells == 1 ? last : data + stops[0];
        plain &= (*stop != '\n' || cells == 1) && time.read(from, stop, layout.comma) &&
                 time.ns > out.last_ns;
        times_ns[out.rows] = time.ns;
        from = data + stops[0] + 1;
      }
      for (std::size_t c = 0; c < columns.size(); ++c) {
        const char* const stop = data + stops[c + shift];
        const bool ends_line = c + 1 == columns.size();
        const Number number = cell_of(from, ends_line ? last : stop, layout.comma, doubts);
        doubts.line_ends |= !ends_line & (*stop == '\n');
        const double value = static_cast<double>(number.digits) / kPower[number.mark] *
                             kSign[number.negative ? 1 : 0];
        columns[c].to[out.rows] = static_cast<float>(columns[c].scale * value + columns[c].offset);
        from = stop + 1;
      }
      if (!plain || doubts.any()) return out;
      start = line_end + 1;
      ++out.rows;
      out.bytes = static_cast<std::size_t>(start - data);
      if (!layout.time) continue;
      out.last_ns = time.ns;
      if (out.resolution_ns == 0 || time.step_ns < out.resolution_ns)
        out.resolution_ns = time.step_ns;
    }
  }
  return out;
}
