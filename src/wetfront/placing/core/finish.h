/* Finishing of the strips by crews, and evaporation while they are open, as in front.py. */
#ifndef FINISH_H
#define FINISH_H

#include "front.h"

/* To millionths of a minute, half to even; only the order of these numbers is used. */
static inline double rounded(double time) {
    const double shift = 0x1.8p52;
    double millionths = time * 1e6;
    return millionths < 0x1p51 ? (millionths + shift) - shift : millionths;
}

/* Strip numbers by readiness, equal ones by number. */
static void sort_strips(struct run *r, integer count) {
    const double *ready = r->strip_key;
    integer *order = r->strip_order, *spare = r->strip_spare, i, k, width;
    for (i = 0; i < count; i++)
        order[i] = i;
    if (count <= 256) {
        for (i = 1; i < count; i++) {
            double time = ready[i];
            for (k = i; k > 0 && ready[order[k - 1]] > time; k--)
                order[k] = order[k - 1];
            order[k] = i;
        }
        return;
    }
    for (width = 1; width < count; width *= 2) {
        integer *swap;
        for (i = 0; i < count; i += 2 * width) {
            integer middle = i + width < count ? i + width : count, end = i + 2 * width < count ? i + 2 * width : count;
            integer a = i, b = middle;
            for (k = i; k < end; k++)
                spare[k] = a < middle && (b >= end || ready[order[a]] <= ready[order[b]]) ? order[a++] : order[b++];
        }
        swap = order;
        order = spare;
        spare = swap;
    }
    r->strip_order = order;
    r->strip_spare = spare;
}

/* End of this work by the crew that can begin it first. Where none is ever away it does not matter which of those that are
 * free this is: they are kept by when they are free. */
INLINE double crew_ends(struct run *r, integer crews, int may_be_away, double ready, double work) {
    const struct pour_model *m = r->model;
    integer k, crew = 0;
    double begin = INFINITY, end, last;
    if (may_be_away) {
        for (k = 0; k < crews; k++) {
            const integer away = m->crew_away_from[k], until = m->crew_away_from[k + 1];
            double time = larger(ready, r->crew_free[k]);
            if (away < until)
                time = after_intervals(time, m->crew_away + 2 * away, until - away);
            crew = time < begin ? k : crew;
            begin = smaller(time, begin);
        }
        return r->crew_free[crew] = begin + work;
    }
    end = last = larger(ready, r->crew_free[0]) + work;
    for (k = 1; k < crews; k++) {
        const double free = r->crew_free[k];
        r->crew_free[k - 1] = smaller(free, last);
        last = larger(free, last);
    }
    r->crew_free[crews - 1] = last;
    return end;
}

/* When strips can be finished, by the times and factors of their last cells (and clocks, where these are known). What is
 * looked up in the tables is nearly always found at once, so that nothing branches: `*found` 0 where it was not, or where
 * a strip is ready beyond the table. */
INLINE void look_up_ready(struct run *r, int is_clocked, integer *found) {
    const struct pour_model *m = r->model;
    const double *restrict times = m->clock_times, *restrict total = m->clock_total, *restrict slope = m->clock_slope;
    const double *restrict when_slope = m->when_slope, *restrict placed = r->strip_placed, *restrict lead = r->strip_lead;
    const double *restrict factor = r->strip_factor, per_min = m->clock_per_min, when_per_min = m->when_per_min;
    const double ready_clock = m->ready_clock_min, first = total[0], last_part = (double)(m->when_parts - 1);
    const integer *restrict start = m->when_start, last = m->clock_points - 1, count = m->strips_count;
    double *restrict clock = r->strip_clock, *restrict ready = r->strip_ready;
    integer s, off = 0;
    for (s = 0; s < count; s++) {
        const integer near = (integer)smaller(larger(placed[s] * per_min, 0.0), (double)(last - 1));
        const integer j = near - ((near > 0) & (times[near] > placed[s])) + (times[near + 1] <= placed[s]);
        const double shown = slope[j] * (placed[s] - times[j]) + total[j];
        clock[s] = is_clocked ? clock[s] : shown;
    }
    for (s = 0; s < count; s++) {
        const double due = clock[s] + (ready_clock - lead[s]) / factor[s], spot = (due - first) * when_per_min;
        const integer near = start[(integer)smaller(larger(spot, 0.0), last_part)], beside = near < last ? near + 1 : last;
        const integer j = near + ((total[beside] <= due) & (beside > near)), next = j < last ? j + 1 : last;
        off |= (total[j] > due) | (total[next] <= due);
        ready[s] = larger(placed[s], when_slope[j] * (due - total[j]) + times[j]);
    }
    *found = !off;
}

AT_EACH_LEVEL(look_up_ready, (struct run *r, int is_clocked, integer *found), (r, is_clocked, found))

/* When each strip can be finished. */
static int strips_ready(struct run *r, int is_filled) {
    const struct pour_model *m = r->model;
    integer s, found;
    for (s = 0; s < m->strips_count; s++) {
        const integer cell = m->strip_last_cell[s], load = is_filled ? r->cell_load[cell] : m->usual_first_of[cell];
        const struct placed_load *by = r->placed_loads + load;
        const double placed = is_filled ? r->placed[cell]
                                        : placed_at(r, m->usual_last_of[cell], cell, m->usual_work_to_end[cell]);
        r->strip_placed[s] = placed;
        r->strip_clock[s] = is_filled ? r->clock_at[cell] : 0.0;
        r->strip_factor[s] = by->factor;
        r->strip_lead[s] = m->counts_age ? by->lead_rate * (placed - by->begun) : 0.0;
    }
    look_up_ready_at[r->level](r, is_filled, &found);
    for (s = 0; !found && s < m->strips_count; s++) {
        const double due = r->strip_clock[s] + (m->ready_clock_min - r->strip_lead[s]) / r->strip_factor[s];
        if (due > m->clock_total[m->clock_points - 1]) {
            r->failed_value = m->clock_times[m->clock_points - 1] + m->clock_step_min;
            return POUR_OUTSIDE_CLOCK;
        }
        r->strip_ready[s] = larger(r->strip_placed[s], clock_when(m, due));
    }
    for (s = 0; s < m->strips_count; s++)
        r->strip_key[s] = rounded(r->strip_ready[s]);
    return POUR_DONE;
}

static int finish(struct run *r, int is_filled, double *last_end, integer *late) {
    const struct pour_model *m = r->model;
    const integer crews = most(m->crews_count < m->strips_count ? m->crews_count : m->strips_count, 1);
    double highest_end = 0.0;
    integer s, i;
    int may_be_away, error;
    *late = 0;
    if (m->strips_count == 0)
        return POUR_DONE;
    may_be_away = m->crew_away_from[crews] > 0;
    finishing_minutes(r, m->strips_count);
    error = strips_ready(r, is_filled);
    if (error)
        return error;
    sort_strips(r, m->strips_count);
    for (i = 0; i < crews; i++)
        r->crew_free[i] = 0.0;
    for (i = 0; i < m->strips_count; i++) {
        const integer strip = r->strip_order[i];
        const double end = crew_ends(r, crews, may_be_away, r->strip_ready[strip], r->strip_work[strip]);
        r->strip_since[strip] = r->strip_ready[strip];
        r->strip_ready[strip] = end;
        highest_end = larger(highest_end, end);
    }
    if (outside_clock(r, 0.0, highest_end))
        return POUR_OUTSIDE_CLOCK;
    for (s = 0; s < m->strips_count; s++) {
        const double end = r->strip_ready[s], shown = larger(r->strip_lead[s], m->ready_clock_min);
        /* Since it was ready its clock has gone no faster than the table's fastest. */
        if (shown + r->strip_factor[s] * m->clock_fastest * (end - r->strip_since[s]) < m->latest_clock_min - BOUND_GUARD_MIN)
            continue;
        *late += r->strip_lead[s] + r->strip_factor[s] * (clock_at(m, end) - r->strip_clock[s]) >
                 m->latest_clock_min;
    }
    *last_end = highest_end;
    return POUR_DONE;
}

static double evaporation_at(const struct pour_model *m, double time) {
    const double *rate = m->evaporation, step = m->clock_step_min;
    double place = time * m->clock_per_min;
    integer last = m->evaporation_points - 1, j = place > 0.0 ? (place < (double)last ? (integer)place : last) : 0;
    while (j > 0 && (double)j * step > time)
        j--;
    while (j < last && (double)(j + 1) * step <= time)
        j++;
    if (j == last)
        return rate[j];
    return (rate[j + 1] - rate[j]) / ((double)(j + 1) * step - (double)j * step) * (time - (double)j * step) + rate[j];
}

/* Highest rate that open strips meet, and the area of those that need protection; finish() has left their ends. */
static int evaporate(struct run *r, int is_filled, double finished, double *highest, double *area) {
    const struct pour_model *m = r->model;
    const double end = (double)(m->evaporation_points - 1) * m->clock_step_min;
    integer s, j;
    if (m->evaporation_points == 0 || m->strips_count == 0)
        return POUR_DONE;
    if (finished > end) {
        r->failed_value = finished;
        return POUR_OUTSIDE_EVAPORATION;
    }
    for (s = 0; s < m->strips_count; s++) {
        integer cell = m->strip_first_cell[s], until;
        double closed = r->strip_ready[s], rate;
        double opened = is_filled ? r->placed[cell]
                                  : placed_at(r, m->usual_last_of[cell], cell, m->usual_work_to_end[cell]);
        rate = larger(evaporation_at(m, opened), evaporation_at(m, closed));
        if (closed >= opened) {
            until = (integer)floor(closed / m->clock_step_min);
            for (j = (integer)ceil(opened / m->clock_step_min); j <= until && j < m->evaporation_points; j++)
                rate = larger(rate, m->evaporation[j]);
        }
        *highest = larger(*highest, rate);
        if (rate >= m->evaporation_action)
            *area += m->strip_area[s];
    }
    return POUR_DONE;
}

#endif
