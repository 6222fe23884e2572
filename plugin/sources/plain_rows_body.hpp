// SPDX-License-Identifier: GPL-3.0-or-later
// plain_rows_body.hpp: the work of plain_rows.cpp, which includes it once for any processor and
// once for one with SIMD registers (AVX2 and all before it).
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
  return std::bit_cast<Bytes>(_mm_shuffle_epi8(std::bit_cast<__m128i>(v),
                                               std::bit_cast<__m128i>(load_simd<Bytes>(&places))));
#else
  Bytes out = {};
  for (std::size_t i = 0; i < kWidth; ++i) out[i] = v[places[i]];
  return out;
#endif
}

// Sixteen digits as two numbers of eight, the greater one first: pairs, fours, eights, of which the
// earlier one is the greater (little-endian).
[[gnu::always_inline]] inline std::uint64_t eights_of(Bytes digits) {
#if defined(AIRLATCH_AVX2)
  const __m128i pairs =
      _mm_maddubs_epi16(std::bit_cast<__m128i>(digits), _mm_set1_epi16(1 << 8 | 10));
  const __m128i fours = _mm_madd_epi16(pairs, _mm_set1_epi32(1 << 16 | 100));
  const __m128i eights =
      _mm_madd_epi16(_mm_packus_epi32(fours, fours), _mm_set1_epi32(1 << 16 | 10'000));
  return static_cast<std::uint64_t>(_mm_cvtsi128_si64(eights));
#else
  Pairs pairs = std::bit_cast<Pairs>(digits);
  pairs = (pairs & 0xff) * 10 + (pairs >> 8);
  constexpr Pairs kHundreds = {100, 1, 100, 1, 100, 1, 100, 1};
  Fours fours = std::bit_cast<Fours>(pairs * kHundreds);
  fours = (fours & 0xffff) + (fours >> 16);
  const auto eights = std::bit_cast<Eights>(fours);
  const std::uint64_t high = (eights[0] & 0xffffffff) * 10'000 + (eights[0] >> 32);
  const std::uint64_t low = (eights[1] & 0xffffffff) * 10'000 + (eights[1] >> 32);
  return low << 32 | high;
#endif
}

// The place of the lowest bit; if there is none, any below 65.
[[gnu::always_inline]] inline std::uint32_t lowest(std::uint64_t bits) {
#if defined(AIRLATCH_AVX2)
  return static_cast<std::uint32_t>(_tzcnt_u64(bits));
#else
  return static_cast<std::uint32_t>(std::countr_zero(bits | std::uint64_t{1} << 63));
#endif
}

// What is wrong with cells, gathered over a row and looked at once.
struct Doubts {
  Bytes most = {};          // beyond 9: no digit
  std::size_t lengths = 0;  // beyond 15: too many characters
  std::int64_t digits = 0;  // below 0: a cell without any

  [[gnu::always_inline]] bool any() const {
    return bits_of(most > 9) != 0 || lengths > kMostCharacters || digits < 0;
  }
};

// The cell [start, end). No branch depends on its content: a processor could not predict it.
[[gnu::always_inline]] inline Number cell_of(const char* start, const char* end, Bytes other_mark,
                                             Doubts& doubts) {
  Number out;
  out.negative = *start == '-';
  const std::size_t n = static_cast<std::size_t>(end - start) - (out.negative ? 1U : 0U);
  Bytes v = (load_simd<Bytes>(end - kWidth) - '0') & load_simd<Bytes>(&kept[n % kWidth]);
  const Bytes point = Bytes{} + static_cast<unsigned char>('.' - '0');
  const std::uint32_t marks = bits_of((v == point) | (v == other_mark));
  out.mark = static_cast<std::size_t>(std::countr_zero(marks | 1U << kWidth));
  v = shuffled(v, without_mark[out.mark]);
  doubts.most = v > doubts.most ? v : doubts.most;
  doubts.lengths |= n;
  doubts.digits |= static_cast<std::int64_t>(n) - 2 + static_cast<std::int64_t>(out.mark / kWidth);
  out.eights = eights_of(v);
  return out;
}

// Adds places from + k for each bit k that is set, kAtOnce at a time whether there are so many or
// not.
template <std::size_t kAtOnce>
[[gnu::always_inline]] inline void add(Places& places, std::uint64_t bits, std::size_t from) {
  const auto found = static_cast<std::size_t>(std::popcount(bits));
  std::uint32_t* to = places.at.data() + places.n;
  places.n += found;
  for (std::size_t done = 0; done < found; done += kAtOnce, to += kAtOnce)
    for (std::size_t k = 0; k < kAtOnce; ++k) {
      to[k] = static_cast<std::uint32_t>(from) + lowest(bits);
      bits &= bits - 1;
    }
}

// A bit for each of the 64 characters at `from` that is `which`.
[[gnu::always_inline]] inline std::uint64_t found_in(const char* from, char which) {
#if defined(AIRLATCH_AVX2)
  const auto half = [&](const char* at) __attribute__((always_inline)) {
    const __m256i same = _mm256_cmpeq_epi8(std::bit_cast<__m256i>(load_simd<LongBytes>(at)),
                                           _mm256_set1_epi8(which));
    return std::uint64_t{static_cast<std::uint32_t>(_mm256_movemask_epi8(same))};
  };
  return half(from) | half(from + 32) << 32;
#else
  std::uint64_t bits = 0;
  for (std::size_t part = 0; part < 64; part += kWidth)
    bits |=
        std::uint64_t{bits_of(load_simd<Bytes>(from + part) == static_cast<unsigned char>(which))}
        << part;
  return bits;
#endif
}

// Adds the ends of cells and of lines in the 64 characters at `from`.
[[gnu::always_inline]] inline void look_at(const char* text, std::size_t from, std::size_t size,
                                           char separator, Places& ends, Places& lines) {
  const std::size_t here = size - from;
  const std::uint64_t inside = here < 64 ? (std::uint64_t{1} << here) - 1 : ~std::uint64_t{0};
  const std::uint64_t rows = found_in(text + from, '\n') & inside;
  add<8>(ends, (found_in(text + from, separator) & inside) | rows, from);
  add<2>(lines, rows, from);
}

[[gnu::always_inline]] inline void drop_used(Places& places) {
  std::copy(places.at.begin() + static_cast<std::ptrdiff_t>(places.next),
            places.at.begin() + static_cast<std::ptrdiff_t>(places.n), places.at.begin());
  places.n -= places.next;
  places.next = 0;
}

// Times: most differ from the row before in their last digit only.
struct Time {
  Bytes text = {};
  std::size_t n = 0;
  std::int64_t step_ns = 0, ns = 0;

  [[gnu::always_inline]] bool read(const char* start, const char* end, Bytes other_mark) {
    const auto here = static_cast<std::size_t>(end - start);
    const Bytes v = load_simd<Bytes>(end - kWidth) & load_simd<Bytes>(&kept[here % kWidth]);
    const Bytes before = text;
    text = v;
    if (here == n && (bits_of(v == before) | 1U << (kWidth - 1)) == (1U << kWidth) - 1 &&
        v[kWidth - 1] > before[kWidth - 1] && v[kWidth - 1] <= '9') {
      ns += (v[kWidth - 1] - before[kWidth - 1]) * step_ns;
      return true;
    }
    n = 0;
    Doubts doubts;
    const Number number = cell_of(start, end, other_mark, doubts);
    step_ns = kStep_ns[number.mark];
    if (doubts.any() || number.negative || step_ns == 0 ||
        __builtin_mul_overflow(number.digits(), step_ns, &ns) || ns > kLatest_ns)
      return false;
    if (here < kWidth && start[here - 1] >= '0') n = here;
    return true;
  }
};

// Whole numbers below 2^52, as its low bits.
[[gnu::always_inline]] inline Doubles number_of(Wholes v) {
  constexpr double kTwo52 = 4503599627370496.0;
  return std::bit_cast<Doubles>(v | std::bit_cast<std::uint64_t>(kTwo52)) - kTwo52;
}

// The numbers of `rows` rows held, `stride` places a column, to their columns from row `first` on.
// Digits are below 10^15, so all this is exact but for the division.
[[gnu::always_inline]] inline void settle(const Held& held, std::size_t stride, std::size_t rows,
                                          std::span<const PlainColumn> columns, std::size_t first) {
  for (std::size_t c = 0; c < columns.size(); ++c)
    for (std::size_t r = 0; r < rows; r += kLanes) {
      const auto eights = load_simd<Wholes>(held.eights.data() + c * stride + r);
      const Doubles value = (number_of(eights & 0xffffffff) * kEight + number_of(eights >> 32)) /
                            load_simd<Doubles>(held.over.data() + c * stride + r);
      const auto out =
          __builtin_convertvector(columns[c].scale * value + columns[c].offset, Floats);
      std::memcpy(columns[c].to + first + r, &out, sizeof(float) * std::min(kLanes, rows - r));
    }
}

PlainRows take(std::string_view text, const PlainLayout& layout,
               std::span<const PlainColumn> columns, std::int64_t* times_ns, std::int64_t after_ns,
               std::size_t most) {
  PlainRows out{.last_ns = after_ns};
  const std::size_t shift = layout.time ? 1 : 0, cells = columns.size() + shift;
  if (cells > kMostCells) return out;
  const auto mark = static_cast<unsigned char>((layout.comma ? ',' : '.') - '0');
  const Bytes other_mark = Bytes{} + mark;
  const char *const data = text.data(), *start = data;
  Places ends, lines;  // of cells, a line's end among them; of lines
  Time time;
  Held held;
  const std::size_t stride =
      std::min(kMostHeld, held.eights.size() / columns.size() / kLanes * kLanes);
  std::size_t waiting = 0;  // rows held
  const auto settle_all = [&] {
    settle(held, stride, waiting, columns, out.rows - waiting);
    waiting = 0;
  };
  bool plain = true;
  std::int64_t uneven = 0;  // bits in which steps differ
  for (std::size_t look = 0; plain && out.rows < most && look < text.size();) {
    drop_used(ends);
    drop_used(lines);
    const std::size_t until = std::min(look + kLook, text.size());
    for (; look < until; look += 64)
      look_at(data, look, text.size(), layout.separator, ends, lines);
    for (; out.rows < most && ends.next + cells <= ends.n; ends.next += cells, ++lines.next) {
      std::uint32_t* const stops = ends.at.data() + ends.next;
      const std::uint32_t line_end = stops[cells - 1];
      // No line ends before or after the row's last cell.
      if (lines.next == lines.n || lines.at[lines.next] != line_end) {
        plain = false;
        break;
      }
      if (data + line_end > start && data[line_end - 1] == '\r') --stops[cells - 1];
      const char* from = start;
      Doubts doubts;
      if (layout.time) {
        const char* const stop = data + stops[0];
        plain = time.read(from, stop, other_mark) && time.ns > out.last_ns;
        times_ns[out.rows] = time.ns;
        from = stop + 1;
      }
      for (std::size_t c = 0; c < columns.size(); ++c) {
        const char* const stop = data + stops[c + shift];
        const Number number = cell_of(from, stop, other_mark, doubts);
        held.eights[c * stride + waiting] = number.eights;
        held.over[c * stride + waiting] = std::bit_cast<std::uint64_t>(kPower[number.mark]) ^
                                          std::uint64_t{number.negative} << 63;
        from = stop + 1;
      }
      plain &= !doubts.any();
      if (!plain) break;
      start = data + line_end + 1;
      out.bytes = line_end + 1;
      ++waiting;
      ++out.rows;
      if (waiting == stride) settle_all();
      if (!layout.time) continue;
      if (out.rows > 1) {
        const std::int64_t step_ns = time.ns - out.last_ns;
        if (out.rows == 2) out.step_ns = step_ns;
        uneven |= step_ns ^ out.step_ns;
      }
      out.last_ns = time.ns;
      if (out.resolution_ns == 0 || time.step_ns < out.resolution_ns)
        out.resolution_ns = time.step_ns;
    }
  }
  settle_all();
  if (uneven != 0) out.step_ns = 0;
  return out;
}
