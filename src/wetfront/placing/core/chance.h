/* Numbers for the simulator: exponential, hash, quantile; and loops written once and built for several widths of
 * instructions. A number does not depend on the width: each is worked out by itself, in the same order of arithmetic.
 */
#ifndef CHANCE_H
#define CHANCE_H

#include "pour.h"

#include <math.h>
#include <string.h>

/* Into their callers, whose state then lives in registers. */
#ifdef __GNUC__
#define INLINE static inline __attribute__((always_inline))
#else
#define INLINE static inline
#endif

typedef int64_t integer;

INLINE integer most(integer a, integer b) { return a > b ? a : b; }
INLINE double larger(double a, double b) { return a > b ? a : b; }
INLINE double smaller(double a, double b) { return a < b ? a : b; }

/* ---- levels of instructions: 0 what every processor of the platform has, 1 AVX2, 2 AVX-512 ---- */

#if defined(__GNUC__) && defined(__x86_64__)
#define HAS_LEVELS 1
#include <cpuid.h>
#define LEVEL_1 __attribute__((target("avx2")))
#define LEVEL_2 __attribute__((target("avx2,avx512f,avx512dq,avx512vl")))
#else
#define HAS_LEVELS 0
#define LEVEL_1
#define LEVEL_2
#endif

/* What this processor and its system allow. */
static integer widest_level(void) {
#if HAS_LEVELS
    const unsigned avx2 = 1u << 5, avx512 = 1u << 16 | 1u << 17 | 1u << 31;
    unsigned a, b, c, d, kept_low, kept_high;
    if (!__get_cpuid(1, &a, &b, &c, &d) || !(c & 1u << 27) || !(c & 1u << 28))
        return 0;
    __asm__ volatile("xgetbv" : "=a"(kept_low), "=d"(kept_high) : "c"(0));
    if ((kept_low & 6u) != 6u || !__get_cpuid_count(7, 0, &a, &b, &c, &d) || !(b & avx2))
        return 0;
    return (kept_low & 0xE0u) == 0xE0u && (b & avx512) == avx512 ? 2 : 1;
#else
    return 0;
#endif
}

static integer level_of(const struct pour_draws *draws) { return draws->level < 0 ? 0 : draws->level > 2 ? 2 : draws->level; }

/* `name`_at[level] from the inline function `name`. */
#define AT_EACH_LEVEL(name, parameters, arguments)                                                                   \
    static void name##_at_0 parameters { name arguments; }                                                           \
    LEVEL_1 static void name##_at_1 parameters { name arguments; }                                                   \
    LEVEL_2 static void name##_at_2 parameters { name arguments; }                                                   \
    static void(*const name##_at[]) parameters = {name##_at_0, name##_at_1, name##_at_2};

/* So many numbers are worked out together. */
#define LANES 8

/* ---- exp, hash, quantile ---- */

INLINE uint64_t bits_of(double x) {
    uint64_t bits;
    memcpy(&bits, &x, sizeof bits);
    return bits;
}

INLINE double double_of(uint64_t bits) {
    double x;
    memcpy(&x, &bits, sizeof x);
    return x;
}

/* e^x to about 3e-16 for |x| below 700: 2^k times 1 + x + x^2 q(x) of what is left, at most ln 2 / 2; q meets its function
 * in nine Chebyshev points. No table, so that several are worked out at once. `*beyond` gets bits above 2047 where k is
 * no exponent. */
INLINE double small_exponential(double x, uint64_t *beyond) {
    const double shift = 0x1.8p52;
    const double shifted = x * 0x1.71547652b82fep+0 + shift, k = shifted - shift;
    const uint64_t power = bits_of(shifted) - 0x4338000000000000u;
    const double rest = (x - k * 0x1.62e42fee00000p-1) - k * 0x1.a39ef35793c76p-33, r2 = rest * rest, r4 = r2 * r2;
    const double series =
        ((1.0 + rest) + r2 * (0x1.0000000000000p-1 + rest * 0x1.5555555553b78p-3)) +
        r4 * (((0x1.5555555554cb7p-5 + rest * 0x1.1111111c478ebp-7) + r2 * (0x1.6c16c1738ff55p-10 + rest * 0x1.a019ada3609f3p-13)) + r4 * ((0x1.a019c9a5652d3p-16 + rest * 0x1.72c72ca338df0p-19) + r2 * 0x1.2880411bad1aap-22));
    *beyond |= power + 1023u;
    return series * double_of((power << 52) + 0x3FF0000000000000u);
}

/* out = e^(mean + deviation z), each number by itself whatever stands beside it. */
INLINE void exponentials(const double *restrict z, integer count, double mean, double deviation, double *restrict out) {
    uint64_t beyond[LANES] = {0}, all = 0;
    integer i, lane;
    for (i = 0; i + LANES <= count; i += LANES)
        for (lane = 0; lane < LANES; lane++)
            out[i + lane] = small_exponential(mean + deviation * z[i + lane], beyond + lane);
    if (i < count && count >= LANES) {
        /* The last ones overlap those before. */
        i = count - LANES;
        for (lane = 0; lane < LANES; lane++)
            out[i + lane] = small_exponential(mean + deviation * z[i + lane], beyond + lane);
    } else {
        for (; i < count; i++)
            out[i] = small_exponential(mean + deviation * z[i], beyond);
    }
    for (lane = 0; lane < LANES; lane++)
        all |= beyond[lane];
    if (all < 2048)
        return;
    for (i = 0; i < count; i++)
        if (!(fabs(mean + deviation * z[i]) < 690.0))
            out[i] = exp(mean + deviation * z[i]);
}

AT_EACH_LEVEL(exponentials, (const double *z, integer count, double mean, double deviation, double *out),
              (z, count, mean, deviation, out))

/* Lines of LANES numbers from as many rows, each row by its own law: the same numbers as row by row. */
INLINE void exponential_lines(const double *const *rows, integer count, const double *mean, const double *deviation,
                              double *restrict line) {
    uint64_t beyond[LANES] = {0};
    double z[LANES][LANES];
    integer begin, i, lane;
    for (begin = 0; begin < count; begin += LANES) {
        const integer lines = count - begin < LANES ? count - begin : LANES;
        for (i = 0; i < lines; i++)
            for (lane = 0; lane < LANES; lane++)
                z[i][lane] = rows[lane][begin + i];
        for (i = 0; i < lines; i++)
            for (lane = 0; lane < LANES; lane++)
                line[(begin + i) * LANES + lane] = small_exponential(mean[lane] + deviation[lane] * z[i][lane], beyond + lane);
    }
    for (lane = 0; lane < LANES; lane++)
        for (i = 0; beyond[lane] > 2047 && i < count; i++)
            if (!(fabs(mean[lane] + deviation[lane] * rows[lane][i]) < 690.0))
                line[i * LANES + lane] = exp(mean[lane] + deviation[lane] * rows[lane][i]);
}

AT_EACH_LEVEL(exponential_lines,
              (const double *const *rows, integer count, const double *mean, const double *deviation, double *line),
              (rows, count, mean, deviation, line))

/* Output `index` of the SplitMix64 generator with this state; see hashed.py for the source. */
INLINE uint64_t split(uint64_t parent, uint64_t index) {
    uint64_t state = parent + (index + 1) * 0x9E3779B97F4A7C15u;
    state = (state ^ (state >> 30)) * 0xBF58476D1CE4E5B9u;
    state = (state ^ (state >> 27)) * 0x94D049BB133111EBu;
    return state ^ (state >> 31);
}

INLINE double unit_of(uint64_t bits) {
    double u = ((double)(int64_t)(bits >> 11) + 0.5) * 0x1p-53;
    return smaller(u, 1.0 - 0x1p-53);
}

INLINE double uniform(uint64_t parent, uint64_t index) { return unit_of(split(parent, index)); }

/* Standard normal quantile of a hashed number from the table of polynomials: one row for each 32nd of an octave of
 * min(u, 1 - u). Halves are told apart by masks: a branch would be taken every second time. */
static inline double normal(uint64_t hash, const double *table) {
    const double u = unit_of(hash);
    const uint64_t upper = 0u - (hash >> 63), bits = (bits_of(u) & ~upper) | (bits_of(1.0 - u) & upper);
    const double *c = table + ((bits >> 47) - ((uint64_t)(1023 - 54) << 5)) * POUR_COEFFICIENTS;
    const double x = double_of(((bits << 5) & 0x000FFFFFFFFFFFFFu) | 0x4000000000000000u) - 3.0, x2 = x * x;
    const double z = (c[0] + c[1] * x) + x2 * ((c[2] + c[3] * x) + x2 * ((c[4] + c[5] * x) + x2 * c[6]));
    return double_of(bits_of(z) ^ (~upper & 0x8000000000000000u));
}

/* The quantile of a probability 1/2 + `offset` with |offset| up to 0.425: Wichura, AS 241; the numbers as in hashed.py. */
INLINE double middle_normal(double offset) {
    const double r = 0.180625 - offset * offset, r2 = r * r, r4 = r2 * r2;
    const double above =
        ((3.3871328727963666080e0 + 1.3314166789178437745e2 * r) +
         (1.9715909503065514427e3 + 1.3731693765509461125e4 * r) * r2) +
        ((4.5921953931549871457e4 + 6.7265770927008700853e4 * r) +
         (3.3430575583588128105e4 + 2.5090809287301226727e3 * r) * r2) * r4;
    const double below =
        ((1.0 + 4.2313330701600911252e1 * r) + (6.8718700749205790830e2 + 5.3941960214247511077e3 * r) * r2) +
        ((2.1213794301586595867e4 + 3.9307895800092710610e4 * r) +
         (2.8729085735721942674e4 + 5.2264952788528545610e3 * r) * r2) * r4;
    return offset * (above / below);
}

/* So many hashed numbers are made before those in the tails are mended. */
#define HASHED_AT_ONCE 64

/* Normal numbers `from` to `until` - 1 of a stream, the first to `*out`: all as if they lay in the middle, then by the table those that do
 * not, about 15 in 100. Writes up to LANES - 1 numbers more. */
INLINE void hashed_normals(uint64_t parent, integer from, integer until, const double *restrict table, double *restrict out) {
    uint64_t hashes[HASHED_AT_ONCE];
    double offset[HASHED_AT_ONCE];
    integer outer[HASHED_AT_ONCE], begin, i, lane;
    for (begin = from; begin < until; begin += HASHED_AT_ONCE) {
        const integer count = until - begin < HASHED_AT_ONCE ? until - begin : HASHED_AT_ONCE;
        double *restrict z = out + (begin - from);
        integer kept = 0;
        for (i = 0; i < count; i += LANES)
            for (lane = i; lane < i + LANES; lane++)
                hashes[lane] = split(parent, (uint64_t)(begin + lane));
        for (i = 0; i < count; i += LANES)
            for (lane = i; lane < i + LANES; lane++) {
                const uint64_t high = hashes[lane] >> 11;
                /* A whole number below 2^53, exactly, by its halves. */
                const double whole = (double_of(high >> 32 | 0x4530000000000000u) - 0x1.00000001p84) +
                                     double_of((high & 0xFFFFFFFFu) | 0x4330000000000000u);
                offset[lane] = (whole + 0.5) * 0x1p-53 - 0.5;
            }
        for (i = 0; i < count; i += LANES)
            for (lane = i; lane < i + LANES; lane++)
                z[lane] = middle_normal(offset[lane]);
        for (i = 0; i < count; i++) {
            outer[kept] = i;
            kept += fabs(offset[i]) > 0.425;
        }
        for (i = 0; i < kept; i++)
            z[outer[i]] = normal(hashes[outer[i]], table);
    }
}

AT_EACH_LEVEL(hashed_normals, (uint64_t parent, integer from, integer until, const double *table, double *out),
              (parent, from, until, table, out))

#endif
