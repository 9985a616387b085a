/* Includes the file AT_LEVELS once for each level of instructions, with vectors as wide as these: `lanes`, and `lane_bits`
 * for comparisons and whole numbers, of TOGETHER numbers each; LEVEL(name) for its names. Vectors are the extension of C
 * that gcc and clang share: + - * / and comparisons number by number. */

#ifndef LEVELS_H
#define LEVELS_H
#define VECTOR(numbers) __attribute__((vector_size(8 * numbers), aligned(8), may_alias))
typedef double two VECTOR(2);
typedef double four VECTOR(4);
typedef double eight VECTOR(8);
typedef int64_t two_bits VECTOR(2);
typedef int64_t four_bits VECTOR(4);
typedef int64_t eight_bits VECTOR(8);
/* A line of LANES numbers is so many vectors. */
#define PARTS (LANES / TOGETHER)
#define PART(numbers, part) (((lanes *)(numbers))[part])
#define PART_OF(numbers, part) (((const lanes *)(numbers))[part])
#define BITS(numbers, part) (((lane_bits *)(numbers))[part])
#define CHOSEN_BITS(is_first, a, b) (((is_first) & (a)) | (~(is_first) & (b)))
#define CHOSEN(is_first, a, b) ((lanes)CHOSEN_BITS(is_first, (lane_bits)(a), (lane_bits)(b)))
#define LARGER(a, b) CHOSEN((a) > (b), a, b)
#define SMALLER(a, b) CHOSEN((a) < (b), a, b)
#endif

#define TOGETHER 2
#define LEVEL(name) name##_at_0
#define LEVEL_TARGET
#define lanes two
#define lane_bits two_bits
#include AT_LEVELS
#undef TOGETHER
#undef LEVEL
#undef LEVEL_TARGET
#undef lanes
#undef lane_bits

#define TOGETHER 4
#define LEVEL(name) name##_at_1
#define LEVEL_TARGET LEVEL_1
#define lanes four
#define lane_bits four_bits
#include AT_LEVELS
#undef TOGETHER
#undef LEVEL
#undef LEVEL_TARGET
#undef lanes
#undef lane_bits

#define TOGETHER 8
#define LEVEL(name) name##_at_2
#define LEVEL_TARGET LEVEL_2
#define lanes eight
#define lane_bits eight_bits
#include AT_LEVELS
#undef TOGETHER
#undef LEVEL
#undef LEVEL_TARGET
#undef lanes
#undef lane_bits
#undef AT_LEVELS
