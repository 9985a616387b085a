/* The first look at all bands of one edge, for LANES replications at once. Included by levels.h. */

/* So long can pairs of these bands wait at most in each of the replications; so long some pair of theirs does at least.
 * Nothing here branches on what chance brings. */
LEVEL_TARGET static void LEVEL(longest_waits)(const int32_t *at, const double *reach, integer count, const double *lines,
                                              double *wait, double *least) {
    lanes longest[PARTS], none = {0.0};
    integer b, p;
    for (p = 0; p < PARTS; p++)
        longest[p] = none - INFINITY;
    for (b = 0; b < count; b++, at += POUR_LOAD_COLUMNS, reach += POUR_REACH_COLUMNS, wait += LANES) {
        const double *factor = lines + at[0] + FACTOR, *one = lines + at[1], *other = lines + at[2];
        for (p = 0; p < PARTS; p++) {
            const lanes gained = PART_OF(one + GAIN, p), gain = PART_OF(other + GAIN, p), times = PART_OF(factor, p);
            const lanes at_first = reach[2] * gain - reach[0] * gained, at_last = reach[3] * gain - reach[1] * gained;
            const lanes grown = LARGER(at_first, at_last);
            const lanes at_least = times * (PART_OF(other + EARLY, p) - PART_OF(one + LATE, p) + grown - reach[4]);
            PART(wait, p) = times * (PART_OF(other + LATE, p) - PART_OF(one + EARLY, p) + grown);
            longest[p] = LARGER(longest[p], at_least);
        }
    }
    memcpy(least, longest, sizeof longest);
}

/* By replication the bands that do not wait less than needed: in `left` from replication times `count` on. */
LEVEL_TARGET static void LEVEL(waits_beyond)(const double *wait, integer count, const double *needed, int32_t *left,
                                             integer *kept) {
    integer b, i, p;
    for (i = 0; i < LANES; i++)
        kept[i] = 0;
    for (b = 0; b < count; b++, wait += LANES) {
        lane_bits is_less = PART_OF(wait, 0) < PART_OF(needed, 0);
        int64_t are_less = -1;
        for (p = 1; p < PARTS; p++)
            is_less &= PART_OF(wait, p) < PART_OF(needed, p);
        for (i = 0; i < TOGETHER; i++)
            are_less &= is_less[i];
        for (i = 0; !are_less && i < LANES; i++) {
            left[i * count + kept[i]] = (int32_t)b;
            kept[i] += !(wait[i] < needed[i]);
        }
    }
}
