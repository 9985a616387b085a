/* When each cell is placed and what its clock shows, and the rise in forms, as in front.py. */
#ifndef FRONT_H
#define FRONT_H

#include "loads.h"

/* The last point of the clock's table that is not after this time; the first where none is. Nearly always the quotient. */
INLINE integer clock_point(const struct pour_model *m, double time) {
    integer j = (integer)smaller(larger(time * m->clock_per_min, 0.0), (double)(m->clock_points - 1));
    while (j > 0 && m->clock_times[j] > time)
        j--;
    while (j < m->clock_points - 1 && m->clock_times[j + 1] <= time)
        j++;
    return j;
}

/* Equivalent age since midnight, by the arithmetic of numpy's interp; the time must lie in the table. */
INLINE double clock_after(const struct pour_model *m, integer point, double time) {
    return m->clock_slope[point] * (time - m->clock_times[point]) + m->clock_total[point];
}

INLINE double clock_at(const struct pour_model *m, double time) { return clock_after(m, clock_point(m, time), time); }

/* When that equivalent age is reached; it must not lie beyond the table. */
static double clock_when(const struct pour_model *m, double total) {
    double place = (total - m->clock_total[0]) * m->when_per_min;
    integer j, next;
    if (!(place >= 0.0))
        return m->clock_times[0];
    j = m->when_start[place < (double)m->when_parts ? (integer)place : m->when_parts - 1];
    /* Nearly always that point or the next: a branch would be taken at random. */
    next = j < m->clock_points - 1 ? j + 1 : j;
    j += (next > j) & (m->clock_total[next] <= total);
    while (j > 0 && m->clock_total[j] > total)
        j--;
    while (j < m->clock_points - 1 && m->clock_total[j + 1] <= total)
        j++;
    return m->when_slope[j] * (total - m->clock_total[j]) + m->clock_times[j];
}

static int outside_clock(struct run *r, double lowest, double highest) {
    const struct pour_model *m = r->model;
    if (lowest >= 0.0 && highest <= m->clock_times[m->clock_points - 1])
        return 0;
    r->failed_value = lowest < 0 ? lowest : highest;
    return 1;
}

/* Pumping time of load `load` until the end of `cell`, and when that is. */
static inline double placed_at(const struct run *r, integer load, integer cell, double work_to_end) {
    const struct pour_model *m = r->model;
    double offset = (work_to_end - r->course[load].work_from) / r->placed_loads[load].speed;
    double placed = r->placed_loads[load].start + offset + (m->moves_until[cell + 1] - r->course[load].moves_before);
    integer i;
    for (i = r->placed_loads[load].repairs_from; i < r->placed_loads[load + 1].repairs_from; i++)
        if (offset > r->repair_offset[i])
            placed += r->repair_min[i];
    return placed;
}

/* So many cells are gone through with each point of the table that lies between the first and the last of them. */
#define CELLS_AT_ONCE 64

/* Clocks of the cells `from` to `until` - 1 by their times. */
INLINE void clock_cells(struct run *r, integer from, integer until) {
    const struct pour_model *m = r->model;
    const double *restrict placed = r->placed;
    double *restrict clock = r->clock_at;
    integer cell, stop, i, j;
    for (cell = from; cell < until; cell = stop) {
        stop = until - cell < CELLS_AT_ONCE ? until : cell + CELLS_AT_ONCE;
        for (j = clock_point(m, placed[cell]);; j++) {
            const double begin = m->clock_times[j], at_begin = m->clock_total[j], slope = m->clock_slope[j];
            for (i = cell; i < stop; i++)
                clock[i] = placed[i] < begin ? clock[i] : slope * (placed[i] - begin) + at_begin;
            if (j == m->clock_points - 1 || m->clock_times[j + 1] > placed[stop - 1])
                break;
        }
    }
}

/* Times and clocks of the cells `from` to `until` - 1, which this load ends. */
INLINE void place_cells(struct run *r, integer load, integer from, integer until) {
    const struct pour_model *m = r->model;
    const struct placed_load *by = r->placed_loads + load;
    const double start = by->start, work_from = r->course[load].work_from, per_speed = 1.0 / by->speed;
    double *restrict into = r->placed, *restrict offset = r->offset;
    integer cell, i;
    if (from >= until)
        return;
    if (r->is_usual) {
        const double *restrict work = m->usual_work_to_end;
        for (cell = from; cell < until; cell++)
            offset[cell] = (work[cell] - work_from) * per_speed;
    } else {
        const double *restrict work = m->work_until + 1, lead = m->lead_min, scale = r->scale;
        for (cell = from; cell < until; cell++)
            offset[cell] = ((lead + scale * work[cell]) - work_from) * per_speed;
    }
    for (cell = from; cell < until; cell++)
        into[cell] = start + offset[cell];
    if (m->has_moves) {
        const double *restrict moves = m->moves_until + 1, before = r->course[load].moves_before;
        for (cell = from; cell < until; cell++)
            into[cell] += moves[cell] - before;
    }
    for (i = by->repairs_from; i < by[1].repairs_from; i++) {
        const double begun = r->repair_offset[i], lost = r->repair_min[i];
        for (cell = from; cell < until; cell++)
            into[cell] += offset[cell] > begun ? lost : 0.0;
    }
    clock_cells(r, from, until);
}

AT_EACH_LEVEL(place_cells, (struct run *r, integer load, integer from, integer until), (r, load, from, until))

/* Each load's own clock: factor on the expected one, and what it gains a minute between batching and placing. */
static void own_clocks(struct run *r) {
    const struct pour_model *m = r->model;
    integer load;
    if (!m->counts_age && !m->counts_temperature)
        return;
    for (load = 0; load < r->site.accepted; load++) {
        double own = r->placed_loads[load].factor, rate, place;
        rate = exp(-m->activation_k * (1.0 / (r->placed_loads[load].temperature + 273.15) - 1.0 / 293.15));
        if (m->counts_temperature) {
            place = r->placed_loads[load].start / m->clock_step_min;
            integer before = place > 0.0 ? (place < (double)(m->clock_points - 2) ? (integer)place : m->clock_points - 2) : 0;
            r->placed_loads[load].factor = own * rate / m->clock_rate[before];
        }
        if (m->counts_age)
            r->placed_loads[load].lead_rate = own * rate;
    }
}

/* The cells that have been seen: gives the first load that is still to be placed, and the first cells to end and to begin. */
static integer place_seen(struct run *r, integer *from, integer *begun) {
    const struct pour_model *m = r->model;
    integer cell, load = 0, next = 0, coming = 0, i;
    for (i = 0; i < m->seen_served; i++)
        coming += m->seen[m->seen_order[i] * POUR_SEEN_COLUMNS + SEEN_REFUSED] == ACCEPTED;
    for (cell = 0; cell < m->seen_full; cell++)
        r->placed[cell] = m->seen_placed[cell];
    for (cell = 0; cell < m->seen_owned; cell++)
        r->cell_load[cell] = m->seen_owner[cell];
    if (coming == r->site.accepted) {
        /* Nothing was left to bring: the last load filled what was open. */
        for (cell = m->seen_full; cell < m->cells_count; cell++)
            r->placed[cell] = r->placed_loads[coming - 1].end;
        for (cell = m->seen_owned; cell < m->cells_count; cell++)
            r->cell_load[cell] = (int32_t)(coming - 1);
        *from = *begun = m->cells_count;
    } else {
        *from = m->seen_full;
        *begun = m->seen_owned;
    }
    if (*from > 0)
        clock_cells(r, 0, *from);
    for (load = 0; load < coming; load++) {
        while (next < *begun && r->cell_load[next] <= load)
            next++;
        r->begun_until[load] = next;
    }
    return coming;
}

/* Which load ends each cell and which begins it; times and clocks of all cells. */
static int place_all(struct run *r) {
    const struct pour_model *m = r->model;
    const integer count = m->cells_count, last = r->site.accepted - 1;
    const double *restrict until = m->net_until, lead = m->lead_m3, scale = r->scale;
    integer load = 0, from = 0, ended, begun = 0;
    if (m->has_seen)
        load = place_seen(r, &from, &begun);
    for (; load <= last; load++, from = ended) {
        const double reached = r->course[load].until_m3;
        integer begun_until = count;
        ended = count;
        if (load < last) {
            ended = begun_until = most(cell_near(m, (reached - lead) / scale), from);
            while (ended > from && reached < lead + scale * until[ended] - VOLUME_GUARD_M3)
                ended--;
            while (ended < count && !(reached < lead + scale * until[ended + 1] - VOLUME_GUARD_M3))
                ended++;
            while (begun_until > begun && reached <= lead + scale * until[begun_until - 1] + VOLUME_GUARD_M3)
                begun_until--;
            while (begun_until < count && !(reached <= lead + scale * until[begun_until] + VOLUME_GUARD_M3))
                begun_until++;
        }
        place_cells_at[r->level](r, load, from, ended);
        for (; begun < begun_until; begun++)
            r->cell_load[begun] = (int32_t)load;
        r->begun_until[load] = begun;
    }
    if (outside_clock(r, r->placed[0], r->placed[count - 1]))
        return POUR_OUTSIDE_CLOCK;
    return POUR_DONE;
}

static void begin_of_cells(struct run *r) {
    const struct pour_model *m = r->model;
    integer cell, load = 0, last = r->site.accepted - 1;
    double before = m->lead_min;
    for (cell = 0; cell < m->cells_count; cell++) {
        double to_end = m->lead_min + r->scale * m->work_until[cell + 1], begun;
        double until = m->lead_m3 + r->scale * m->net_until[cell + 1] - VOLUME_GUARD_M3;
        while (load < last && r->course[load].until_m3 < until)
            load++;
        begun = r->placed[cell] - (to_end - before) / r->placed_loads[load].speed;
        r->cell_begun[cell] = cell > 0 ? larger(begun, r->placed[cell - 1]) : begun;
        before = to_end;
    }
    for (cell = 0; cell < m->seen_owned; cell++)
        r->cell_begun[cell] = m->seen_begun[cell];
}

/* Highest rise in one panel: the level is a line of straight pieces between the cells' begins and ends. */
static double highest_rise(const struct run *r, integer panel) {
    const struct pour_model *m = r->model;
    const integer from = m->panel_from[panel], count = m->panel_from[panel + 1] - from;
    const int32_t *cell = m->panel_cell + from;
    const double *before = m->panel_before + from, *after = m->panel_after + from, window = m->rise_window_min;
    double highest = -INFINITY;
    integer i, k, side;
/* Corner `n` of the level: time and height. */
#define CORNER_MIN(n) ((n) % 2 ? r->placed[cell[(n) / 2]] : r->cell_begun[cell[(n) / 2]])
#define CORNER_M(n) ((n) % 2 ? after[(n) / 2] : before[(n) / 2])
    for (side = 0; side < 2; side++) {
        for (i = k = 0; i < count; i++) {
            double time = side ? r->placed[cell[i]] - window : r->cell_begun[cell[i]] + window, level;
            while (k < 2 * count - 1 && CORNER_MIN(k + 1) <= time)
                k++;
            if (k == 2 * count - 1 || time < CORNER_MIN(k)) {
                level = CORNER_M(k);
            } else {
                double slope = (CORNER_M(k + 1) - CORNER_M(k)) / (CORNER_MIN(k + 1) - CORNER_MIN(k));
                level = slope * (time - CORNER_MIN(k)) + CORNER_M(k);
            }
            highest = larger(highest, side ? after[i] - level : level - before[i]);
        }
    }
    return highest / (window / 60.0);
#undef CORNER_MIN
#undef CORNER_M
}

#endif
