/* How long edges wait: margins of all pairs of touching cells, by stretches or by bands, as in front.py. */
#ifndef JOINTS_H
#define JOINTS_H

#include "front.h"

static double specified_min(const struct pour_model *m, double temperature) {
    integer i = 0;
    while (i < m->limits_count - 1 && m->limits_up_to_c[i] < temperature)
        i++;
    return m->limits_min[i];
}

/* The longest of `count` numbers. */
static double longest_of(const double *numbers, integer count) {
    double one = -INFINITY, other = -INFINITY;
    integer i;
    for (i = 0; i + 1 < count; i += 2) {
        one = larger(numbers[i], one);
        other = larger(numbers[i + 1], other);
    }
    return i < count ? larger(larger(numbers[i], one), other) : larger(one, other);
}

/* Area of the pairs that wait longer than is allowed. */
static double area_beyond(const double *wait, const double *area, integer count, double allowed) {
    double sum = 0.0;
    integer i;
    for (i = 0; i < count; i++)
        if (allowed - wait[i] < 0)
            sum += area[i];
    return sum;
}

/* Pairs that step on by one cell each, their first cells begun by one load: `first` and `later` are the first of them.
 * Cells come later and later, so none waits longer than from the first to the last; only where that may matter each is
 * looked at. */
static void joints_in_load(struct run *r, integer load, integer first, integer later, integer count, integer edge,
                           const double *area, struct joints *out) {
    const struct pour_model *m = r->model;
    const struct placed_load *by = r->placed_loads + load;
    const double factor = by->factor, lead = by->lead_rate, begun = by->begun, limit = m->set_limit_min;
    const double *restrict begin = r->placed + first, *restrict end = r->placed + later;
    const double *restrict one = r->clock_at + first, *restrict other = r->clock_at + later;
    const integer last = count - 1;
    double *restrict wait = r->wait, margin, allowed;
    integer i;
    margin = limit - (lead * (begin[last] - begun) + factor * (other[last] - one[0]));
    if (!(margin > larger(r->set_margin[edge], 0.0))) {
        for (i = 0; i < count; i++)
            wait[i] = lead * (begin[i] - begun) + factor * (other[i] - one[i]);
        margin = limit - longest_of(wait, count);
        r->set_margin[edge] = smaller(r->set_margin[edge], margin);
        if (margin < 0)
            out->cold_area += area_beyond(wait, area, count, limit);
    }
    if (m->limits_count == 0)
        return;
    allowed = specified_min(m, by->temperature);
    margin = allowed - (end[last] - begin[0]);
    if (!(margin > larger(r->specified_margin[edge], 0.0))) {
        for (i = 0; i < count; i++)
            wait[i] = end[i] - begin[i];
        margin = allowed - longest_of(wait, count);
        r->specified_margin[edge] = smaller(r->specified_margin[edge], margin);
        if (margin < 0)
            out->area_over += area_beyond(wait, area, count, allowed);
    }
}

/* All joints of a pour that did not take the usual course, or whose concrete counts more than its clock. */
static void joints_by_stretch(struct run *r, struct joints *out) {
    const struct pour_model *m = r->model;
    integer s;
    for (s = 0; s < m->stretches_count; s++) {
        const int32_t *stretch = m->stretches + s * POUR_STRETCH_COLUMNS;
        const integer first = stretch[0], later = stretch[1], count = stretch[2];
        const double *area = m->sorted_area + stretch[3];
        integer from = 0;
        while (from < count) {
            const integer load = r->cell_load[first + from], until = r->begun_until[load] - first;
            const integer here = (until < count ? until : count) - from;
            joints_in_load(r, load, first + from, later + from, here, stretch[4], area + from, out);
            from += here;
        }
    }
}

/* Clocks of the loads, their lines in this lane. Nothing is said of the line where moves or several breakdowns bend it. */
static void clock_spans(struct run *r, integer lane) {
    const struct pour_model *m = r->model;
    integer load;
    for (load = 0; load < r->site.accepted; load++) {
        const struct placed_load *placed = r->placed_loads + load;
        struct span *span = r->spans + load;
        double *line = r->lines + load * POUR_LINE_COLUMNS + lane;
        const double start = placed->start, end = placed->end;
        const integer first = clock_point(m, start), last = clock_point(m, end), points = last - first;
        const double at_start = clock_after(m, first, start), turn = fabs(m->clock_slope[last] - m->clock_slope[first]);
        double gain = clock_after(m, last, end) - at_start, pumping = end - start, bend;
        int is_bent = 0;
        span->jump = span->odd = 0.0;
        if (m->has_moves || placed[1].repairs_from - placed->repairs_from > 1) {
            is_bent = 1;
            span->odd = 2.0;
        } else if (placed[1].repairs_from != placed->repairs_from) {
            const double until = start + r->repair_offset[placed->repairs_from];
            const double lost = r->repair_min[placed->repairs_from], resumed = until + lost;
            pumping -= lost;
            span->odd = 2.0;
            span->jump = clock_at(m, resumed) - clock_at(m, until);
            span->jump_share = (until - start) / pumping;
            gain -= span->jump;
        }
        /* A change of slope puts a cell off the line by at most a quarter of it, times the time of pumping. */
        bend = is_bent ? INFINITY : (points > 1 ? (double)points * m->clock_bend : turn) * pumping * 0.25;
        span->start = at_start;
        span->gain = gain;
        span->bend = bend;
        line[EARLY] = at_start - bend;
        line[LATE] = at_start + span->jump + bend + BOUND_GUARD_MIN;
        line[GAIN] = gain;
        if (!(bend < INFINITY)) {
            line[EARLY] = at_start;
            line[LATE] = at_start + gain + span->jump + BOUND_GUARD_MIN;
            line[GAIN] = 0.0;
        }
        line[FACTOR] = placed->factor;
    }
}

/* Cells of one load from `from` to `until` - 1, and some more where that makes whole lines: nobody reads those. */
INLINE void place_lines(struct run *r, integer load, integer from, integer until) {
    const integer whole = from + (until - from + LANES - 1) / LANES * LANES, count = r->model->cells_count;
    place_cells(r, load, from, whole < count ? whole : count);
}

/* The longest of the times between `first` and `later`. */
INLINE double longest_between(const double *first, const double *later, integer count) {
    double longest[LANES], all = -INFINITY;
    integer i, lane;
    for (lane = 0; lane < LANES; lane++)
        longest[lane] = -INFINITY;
    for (i = 0; i + LANES <= count; i += LANES)
        for (lane = 0; lane < LANES; lane++)
            longest[lane] = larger(longest[lane], later[i + lane] - first[i + lane]);
    for (; i < count; i++)
        all = larger(all, later[i] - first[i]);
    for (lane = 0; lane < LANES; lane++)
        all = larger(all, longest[lane]);
    return all;
}

/* How long the pairs of one band wait at most, cell by cell, and the area of the cold ones. */
INLINE void longest_in_band(struct run *r, integer band, int count_cold, double *longest, double *cold_area) {
    const struct pour_model *m = r->model;
    const int32_t *loads = m->band_loads + band * POUR_LOAD_COLUMNS;
    const double limit = m->set_limit_min, factor = r->placed_loads[loads[0]].factor;
    integer run, i;
    for (run = m->band_runs[band]; run < m->band_runs[band + 1]; run++) {
        const int32_t *pairs = m->runs + run * POUR_RUN_COLUMNS;
        const double *first = r->clock_at + pairs[0], *later = r->clock_at + pairs[1];
        const integer first_end = pairs[0] + pairs[2], later_end = pairs[1] + pairs[2];
        const int overlap = loads[1] == loads[2] && pairs[1] <= first_end;
        place_lines(r, loads[1], pairs[0], overlap ? later_end : first_end);
        if (!overlap)
            place_lines(r, loads[2], pairs[1], later_end);
        *longest = larger(*longest, longest_between(first, later, pairs[2]));
        if (count_cold)
            for (i = 0; i < pairs[2]; i++)
                if (limit - factor * (later[i] - first[i]) < 0)
                    *cold_area += m->sorted_area[pairs[3] + i];
    }
}

AT_EACH_LEVEL(longest_in_band, (struct run *r, integer band, int count_cold, double *longest, double *cold_area),
              (r, band, count_cold, longest, cold_area))

/* The least margin of the pairs of one band and the area of the cold ones, cell by cell. */
static double band_exactly(struct run *r, integer band, int count_cold, double *cold_area) {
    const integer load = r->model->band_loads[band * POUR_LOAD_COLUMNS];
    double longest = -INFINITY;
    longest_in_band_at[r->level](r, band, count_cold, &longest, cold_area);
    return r->model->set_limit_min - r->placed_loads[load].factor * longest;
}

/* What an odd load can do to the waits of a band: at least, at most, and how far off the line its cells can be. */
struct odd {
    double less, more, slack;
};

static struct odd odd_load(const struct span *one, const struct span *other, const double *share) {
    const double bends = one->bend * share[4] + other->bend * share[5];
    struct odd found;
    found.more = share[3] < other->jump_share - SHARE_GUARD ? 0.0 : other->jump;
    found.more -= share[0] > one->jump_share + SHARE_GUARD ? one->jump : 0.0;
    found.less = share[2] > other->jump_share + SHARE_GUARD ? other->jump : 0.0;
    found.less -= share[1] < one->jump_share - SHARE_GUARD ? 0.0 : one->jump;
    found.slack = smaller(bends, one->gain + other->gain);
    return found;
}

/* Bounds on the margins of one band, from the clocks of its loads. */
INLINE struct open_band bounds_of(const struct run *r, integer band) {
    const struct pour_model *m = r->model;
    const double *share = m->band_shares + band * POUR_SHARE_COLUMNS;
    const int32_t *loads = m->band_loads + band * POUR_LOAD_COLUMNS;
    const struct span *one = r->spans + loads[1], *other = r->spans + loads[2];
    const double limit = m->set_limit_min, factor = r->placed_loads[loads[0]].factor, apart = other->start - one->start;
    const double at_first = apart - share[0] * one->gain + share[2] * other->gain;
    const double at_last = apart - share[1] * one->gain + share[3] * other->gain;
    double slack = one->bend * share[4] + other->bend * share[5], more = 0.0, less = 0.0;
    struct open_band bounds;
    if (one->odd + other->odd + share[4] > 1.0) {
        const struct odd odd = odd_load(one, other, share);
        more = odd.more;
        less = odd.less;
        slack = odd.slack;
    }
    bounds.least = limit - factor * (larger(at_first, at_last) + (more + slack)) - BOUND_GUARD_MIN;
    bounds.enough = limit - factor * (larger(at_first, at_last) + (less - slack)) + BOUND_GUARD_MIN;
    bounds.most = limit - factor * (smaller(at_first, at_last) + (less - slack)) + BOUND_GUARD_MIN;
    bounds.band = band;
    return bounds;
}

/* longest_waits and waits_beyond at each level. */
#define AT_LEVELS "bands.h"
#include "levels.h"

static void (*const longest_waits_at[])(const int32_t *, const double *, integer, const double *, double *, double *) = {
    longest_waits_at_0, longest_waits_at_1, longest_waits_at_2};
static void (*const waits_beyond_at[])(const double *, integer, const double *, int32_t *, integer *) = {
    waits_beyond_at_0, waits_beyond_at_1, waits_beyond_at_2};

/* The least margin of one edge whose bands, from `from` on, are settled but for `kept` of them. */
static double least_of_edge(struct run *r, integer from, const int32_t *left, integer kept, double enough, struct joints *out) {
    const struct pour_model *m = r->model;
    struct open_band *end = r->open, *entry;
    const struct open_band *lowest = r->open;
    double least = INFINITY;
    integer b;
    for (b = 0; b < kept; b++) {
        *end = bounds_of(r, from + left[b]);
        enough = smaller(enough, end->enough);
        end += !(end->least > larger(enough, 0.0) + BOUND_GUARD_MIN);
    }
    for (entry = r->open; entry < end; entry++)
        lowest = entry->least < lowest->least ? entry : lowest;
    if (lowest < end)
        least = band_exactly(r, lowest->band, 0, &out->cold_area);
    for (entry = r->open; entry < end; entry++) {
        int count_cold = entry->least < 0.0;
        if (count_cold && entry->most < 0.0) {
            out->cold_area += m->band_area[entry->band];
            count_cold = 0;
        }
        if (count_cold || (!(entry->least > least) && entry != lowest))
            least = smaller(least, band_exactly(r, entry->band, count_cold, &out->cold_area));
    }
    return least;
}

/* Bands of pairs edge by edge for several replications at once: by bounds, then exactly what these leave open. */
static void joints_by_band(struct run **runs, integer count) {
    const struct run *any = runs[0];
    const struct pour_model *m = any->model;
    const double limit = m->set_limit_min;
    double least[LANES], needed[LANES];
    integer edge, i, kept[LANES];
    for (edge = 0; edge < m->edges_count; edge++) {
        const integer from = m->edge_bands[edge], bands = m->edge_bands[edge + 1] - from;
        if (bands == 0)
            continue;
        longest_waits_at[any->level](m->band_lines + from * POUR_LOAD_COLUMNS, m->band_reach + from * POUR_REACH_COLUMNS,
                                     bands, any->lines, any->band_wait, least);
        for (i = 0; i < LANES; i++)
            needed[i] = i < count ? smaller(least[i], limit) - 2.0 * BOUND_GUARD_MIN : INFINITY;
        waits_beyond_at[any->level](any->band_wait, bands, needed, any->band_left, kept);
        for (i = 0; i < count; i++)
            runs[i]->set_margin[edge] =
                least_of_edge(runs[i], from, any->band_left + i * bands, kept[i], limit - least[i] + BOUND_GUARD_MIN,
                              &runs[i]->joints);
    }
}

#endif
