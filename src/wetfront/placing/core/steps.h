/* Loads of LANES replications side by side, step by step: see abreast.h. Included by levels.h. */

/* Puts a line into rising lines that end before `time`. Where it belongs before one that has been `used`, or more than
 * OVERTAKEN lines before the end, that lane is off. */
LEVEL_TARGET INLINE void LEVEL(put_in_lines)(double *time, integer *number, int is_numbered, const double *new_time,
                                             integer new_number, const double *used, integer *off) {
    integer i, p;
    for (p = 0; p < PARTS; p++) {
        const lane_bits none = {0};
        lanes at = PART_OF(new_time, p);
        lane_bits number_at = none + new_number, is_off = PART_OF(used, p) > at;
        for (i = 0; i < OVERTAKEN; i++) {
            const lanes before = PART_OF(time - (i + 1) * LANES, p);
            const lane_bits is_later = before > at;
            PART(time - i * LANES, p) = CHOSEN(is_later, before, at);
            at = CHOSEN(is_later, at, before);
            if (is_numbered) {
                const lane_bits number_before = BITS(number - (i + 1) * LANES, p);
                BITS(number - i * LANES, p) = CHOSEN_BITS(is_later, number_before, number_at);
                number_at = CHOSEN_BITS(is_later, number_at, number_before);
            }
        }
        PART(time - i * LANES, p) = at;
        if (is_numbered)
            BITS(number - i * LANES, p) = number_at;
        BITS(off, p) |= is_off | (PART_OF(time - (i + 1) * LANES, p) > at);
    }
}

/* The k-th load, when so many have been served. */
LEVEL_TARGET INLINE void LEVEL(call_off)(const struct pour_model *m, struct abreast *a, integer k, integer served) {
    const lanes zero = {0.0}, due = zero + due_of(m, k, 1), closes = zero + m->plants[3];
    double *begun = a->begun + k * LANES, *batched = a->batched + k * LANES, reached[LANES];
    integer p;
    for (p = 0; p < PARTS; p++) {
        const lanes start = LARGER(LARGER(due, PART(a->plant_free, p)), PART(a->truck_free + k * LANES, p));
        const lanes ready = start + PART(a->batching + k * LANES, p);
        PART(begun, p) = start;
        PART(batched, p) = ready;
        PART(reached, p) = ready + PART(a->haul + k * LANES, p);
        PART(a->plant_free, p) = LARGER(ready, start);
        BITS(a->after_closing, p) -= start > closes;
    }
    LEVEL(put_in_lines)(a->road_reached + k * LANES, a->road_number + k * LANES, 1, reached, k,
                        a->road_reached + (served - 1) * LANES, a->off);
}

/* The j-th load to arrive, when so many trucks have been taken of all. */
LEVEL_TARGET INLINE void LEVEL(serve)(struct run *runs, integer count, struct abreast *a, integer j, integer trucks,
                                      integer taken) {
    const struct pour_model *m = runs->model;
    const double work = m->usual_work[j + 1] - m->usual_work[j], *aged_from = m->age_from_loading ? a->begun : a->batched;
    const lanes zero = {0.0}, judged_work = zero + (m->judged_at_end ? work : 0.0), longest_age = zero + m->longest_age_min;
    const lanes lowest = zero + m->lowest_c, highest = zero + m->highest_c;
    const double *arrivals = a->road_reached + j * LANES;
    const integer *number = a->road_number + j * LANES;
    double *starts = a->start + j * LANES, *ends = a->place_free + (j + runs->places) * LANES;
    double *entered = a->entered + (j + 1) * LANES, *left = a->left + (j + 1) * LANES;
    double speed[LANES], back[LANES], since[LANES], temperature[LANES], pumping[LANES], unbroken[LANES], lost[LANES];
    double free[LANES];
    integer i, lane, p, is_broken = 0;
    lane_bits broken = {0};
    for (lane = 0; lane < LANES; lane++) {
        const integer load = number[lane] * LANES + lane;
        speed[lane] = a->speed[load];
        back[lane] = a->back[load];
        since[lane] = aged_from[load];
        temperature[lane] = a->temperature[load];
    }
    for (p = 0; p < PARTS; p++) {
        const lanes place = LARGER(PART(arrivals, p), PART(a->place_free + j * LANES, p));
        const lanes enters = LARGER(place, PART(entered - LANES, p)), degrees = PART(temperature, p);
        const lanes start = LARGER(enters + m->position_min, PART(a->pump_free, p)), minutes = work / PART(speed, p);
        PART(entered, p) = enters;
        PART(starts, p) = start;
        PART(pumping, p) = PART(unbroken, p) = minutes;
        PART(lost, p) = zero;
        broken |= PART(a->up_left, p) < minutes;
        BITS(a->off, p) |= (start + judged_work - PART(since, p) > longest_age) | ~((lowest <= degrees) & (degrees <= highest));
        PART(a->lowest_c, p) = SMALLER(PART(a->lowest_c, p), degrees);
        PART(a->highest_c, p) = LARGER(PART(a->highest_c, p), degrees);
    }
    for (i = 0; i < TOGETHER; i++)
        is_broken |= broken[i];
    if (is_broken)
        break_down_abreast(runs, count, a, pumping, unbroken, lost);
    for (p = 0; p < PARTS; p++) {
        const lanes arrival = PART(arrivals, p), start = PART(starts, p), end = start + PART(pumping, p) + PART(lost, p);
        const lanes leaves = end + m->wash_min, age = end - PART(since, p), waits = start - arrival;
        const lanes at_cost = leaves - arrival - m->waiting_free_min, gap = start - PART(a->last_end, p);
        PART(ends, p) = PART(a->last_end, p) = PART(a->pump_free, p) = end;
        PART(left, p) = leaves;
        PART(free, p) = leaves + PART(back, p);
        PART(a->up_left, p) -= PART(unbroken, p);
        PART(a->longest_gap, p) = LARGER(PART(a->longest_gap, p), gap);
        PART(a->longest_wait, p) = LARGER(PART(a->longest_wait, p), waits);
        PART(a->oldest, p) = LARGER(PART(a->oldest, p), age);
        PART(a->paid, p) += LARGER(at_cost, zero);
        BITS(a->over_age, p) -= age > longest_age;
    }
    for (lane = 0; lane < LANES; lane++) {
        /* Trucks come one by one: at most one more waits than ever before. */
        a->most_waiting[lane] += a->entered[(j + 1 - a->most_waiting[lane]) * LANES + lane] > arrivals[lane];
        a->most_on_site[lane] += a->left[(j + 1 - a->most_on_site[lane]) * LANES + lane] > arrivals[lane];
        a->repairs_until[(j + 1) * LANES + lane] = a->stops[lane];
    }
    LEVEL(put_in_lines)(a->truck_free + (trucks + j) * LANES, NULL, 0, free, 0, a->truck_free + (taken - 1) * LANES, a->off);
}

/* All loads of `count` replications whose draws stand in `a`. */
LEVEL_TARGET static void LEVEL(loads_abreast)(struct run *runs, integer count, struct abreast *a) {
    const struct pour_model *m = runs->model;
    const integer loads = m->usual_loads, trucks = (integer)smaller(m->plants[0], (double)runs->draws->loads_count);
    /* The fewer trucks, the sooner a load is called off for one that comes back. */
    const integer ahead = trucks / 2 < MOST_AHEAD ? trucks / 2 : MOST_AHEAD;
    integer k;
    begin_abreast(m, a, runs->places, trucks);
    for (k = 0; k < loads + ahead; k++) {
        if (k < loads)
            LEVEL(call_off)(m, a, k, k < ahead ? 0 : k - ahead);
        if (k >= ahead)
            LEVEL(serve)(runs, count, a, k - ahead, trucks, k < loads ? k + 1 : loads);
    }
}
