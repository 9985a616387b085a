/* One replication under way: what is kept of it, what it draws, and the stream of concrete through the pump.
 * Part of pour.c, as are loads.h, front.h, abreast.h, joints.h and finish.h: static functions, one after the other, built
 * as one. */
#ifndef RUN_H
#define RUN_H

#include "chance.h"

#define VOLUME_GUARD_M3 1e-9
/* Bounds on margins are trusted only beyond this: they come from other sums than the cells' own times. */
#define BOUND_GUARD_MIN 1e-6
#define SHARE_GUARD 1e-9
/* Places by which a new time in a row of rising times is moved without a branch. */
#define SHIFTED 3

enum { STREAM_BATCHING, STREAM_HAUL, STREAM_BACK, STREAM_SPEED, STREAM_SET, STREAM_TEMPERATURE, STREAM_CONSISTENCE,
       STREAM_UP, STREAM_REPAIR, STREAM_FINISHING, STREAM_WASTAGE, STREAM_DAY };
enum { DAY_BATCHING, DAY_HAUL, DAY_BACK, DAY_SPEED, DAY_SET, DAY_TEMPERATURE };
enum { SEEN_BATCHING, SEEN_BATCHED, SEEN_REACHED, SEEN_START, SEEN_END, SEEN_LEFT, SEEN_VOLUME, SEEN_USED, SEEN_REFUSED,
       SEEN_TEMPERATURE };
enum { ACCEPTED, TOO_OLD, WRONG_TEMPERATURE, WRONG_CONSISTENCE, NOT_NEEDED };

/* The clock of one load: at the start of its discharge, what it gains by pumping until the end, by how much the clock of a
 * cell within can differ from the straight line between the two; and where a breakdown or moves make it
 * `odd` (2, else 0), what it gains at once after which share of the work, with an infinite bend where that is not all. */
struct span {
    double start, gain, bend, odd, jump, jump_share;
};

/* Columns of `lines`, for the first look at all bands, each of LANES numbers, one for each replication that is looked at
 * together: with share s of a load's work done its clock shows no less than early + s gain and no more than late + s gain. */
enum { EARLY = 0, LATE = LANES, GAIN = 2 * LANES, FACTOR = 3 * LANES };

/* A band of pairs that bounds have not settled: its margins lie between these. */
struct open_band {
    double least, most;
    double enough; /* the least of them is not above */
    integer band;
};

/* A load from call-off to the pump; `start` is infinite until then. */
struct truck_load {
    double volume, begun, batched, arrival, start;
};

/* An accepted load: from the pump taking it to the last of it. */
struct placed_load {
    double start, end, speed, factor;
    integer repairs_from;
    double lead_rate, begun, temperature; /* where joints go by band only the last, and that where it counts */
};

/* Where its concrete stands in the stream: the same in all replications that take the usual course. */
struct course {
    double until_m3, work_from, moves_before;
};

/* A plant and its free trucks, by time from `head` to `tail`. */
struct fleet {
    double plant_free, *free;
    integer head, tail;
};

struct joints {
    double least, cold_area, least_specified, area_over;
};

/* What changes from load to load, and the figures of the loads. */
struct site {
    double usual_used; /* by the next load in the usual course; below 0 after its last one, not a number off it */
    double needed_m3, most_for_balance_m3, called_m3, pump_free, last_end, position_m3, work_done, up_left;
    integer called, sent, served, accepted, stops, cells_begun, breaks_taken, road_head, road_tail;
    double longest_wait, longest_gap, delivered, taken, oldest, paid, lowest_c, highest_c;
    integer over_age, most_waiting, most_on_site, after_closing;
};

struct run {
    const struct pour_model *model;
    struct pour_model met; /* the same in the weather of one member */
    const struct pour_draws *draws;
    integer row;     /* in the streams */
    int error;
    integer level;   /* of the instructions; see chance.h */
    uint64_t parent; /* of the replication's streams */
    double scale, failed_value;
    double day[POUR_DAY_LEVELS]; /* what all loads of the day have in common, times its deviation */
    struct site site;
    integer loads_drawn, places, fleet_size, refused[5], is_usual, by_band;
    struct joints joints;
    /* by number of the load */
    double *batching, *haul, *back, *speed, *factor, *temperature;
    struct truck_load *loads;
    /* on the road, by time at the gate */
    double *road_reached;
    integer *road_number;
    struct fleet *fleets;
    double *truck_free, *place_free; /* the latter by order of arrival, later by the number of places */
    double *entered, *left; /* by order of arrival from 1 on; 0 is before all */
    double *scratch;
    double *sent_at, *sent_m3, *moments;
    struct placed_load *placed_loads; /* by order; one more to end the last one's repairs */
    const struct course *course;      /* of these: its own or the usual one */
    struct course *own_course;
    struct span *spans;
    double *lines;
    struct open_band *open;
    double *band_wait;
    int32_t *band_left;
    double *repair_offset, *repair_min;
    /* cells, strips, crews, edges */
    double *placed, *clock_at, *offset, *wait, *cell_begun, *strip_work, *strip_placed, *strip_ready, *strip_key, *strip_since, *strip_clock, *strip_factor;
    double *strip_lead, *crew_free, *set_margin, *specified_margin;
    integer *strip_order, *strip_spare;
    integer *begun_until; /* by placed load: the cell after the last that it begins */
    int32_t *cell_load;
};

/* The model in the weather that this replication meets; `r->met` is a copy of it, made once. */
static void meet_weather(struct run *r, const struct pour_model *m, integer replication) {
    integer member;
    const double *values;
    if (m->members_count == 0)
        return;
    member = (replication - m->members_first) % m->members_count;
    values = m->member_values + member * POUR_MEMBER_COLUMNS;
    r->met.clock_total = m->clock_total + member * m->clock_points;
    r->met.clock_slope = m->clock_slope + member * m->clock_points;
    r->met.clock_rate = m->clock_rate + member * (m->clock_points - 1);
    r->met.when_slope = m->when_slope + member * m->clock_points;
    r->met.air_c = m->air_c + member * m->air_points;
    r->met.evaporation = m->evaporation + member * m->evaporation_points;
    r->met.set_factor_sd = values[0];
    r->met.activation_k = values[1];
    r->met.ready_clock_min = values[2];
    r->met.latest_clock_min = values[3];
    r->met.clock_bend = values[4];
    r->met.clock_fastest = values[5];
}

/* All replications that follow are of this model. */
static void take_model(struct run *r, const struct pour_model *m) {
    r->model = m;
    r->places = m->places_count < r->draws->loads_count ? m->places_count : r->draws->loads_count;
    if (m->members_count > 0) {
        r->met = *m;
        r->model = &r->met;
    }
}

/* In the usual course the joints of this model are looked at by bands. */
static inline int goes_by_band(const struct pour_model *m) {
    return !m->counts_age && m->limits_count == 0 && m->panels_count == 0;
}

static inline integer plant_of(const struct pour_model *m, integer number) {
    return m->pattern_count == 1 ? m->pattern[0] : m->pattern[number % m->pattern_count];
}

static inline uint64_t stream_of(const struct run *r, integer stream) { return split(r->parent, (uint64_t)stream); }

/* Normal numbers `from` to `until` - 1 of a stream. */
static const double *normals(const struct run *r, integer stream, const double *rows, integer width, integer from,
                             integer until, double *out) {
    if (!r->draws->is_hashed)
        return rows + r->row * width + from;
    hashed_normals_at[r->level](stream_of(r, stream), from, until, r->draws->quantile, out + from);
    return out + from;
}

/* Begin to fetch the first numbers of a row that will be read some replications on; then the processor goes on by itself.
 * It may be no row any more: an address, and nothing is read. */
INLINE void fetch_row(const double *rows, integer row, integer width, integer count) {
    const uintptr_t begin = (uintptr_t)rows + (uintptr_t)(row * width) * sizeof(double);
    integer i;
    for (i = 0; i < count && i < 64; i += 8)
        __builtin_prefetch((const char *)(begin + (uintptr_t)i * sizeof(double)));
}

/* The same of all rows of a replication that the usual course reads. */
INLINE void fetch_draws(const struct run *r, integer replication, integer loads) {
    const struct pour_draws *d = r->draws;
    const integer row = replication - d->first;
    if (d->is_hashed)
        return;
    fetch_row(d->batching, row, d->loads_count, loads);
    fetch_row(d->haul, row, d->loads_count, loads);
    fetch_row(d->back, row, d->loads_count, loads);
    fetch_row(d->speed, row, d->loads_count, loads);
    fetch_row(d->set, row, d->loads_count, loads);
    fetch_row(d->up, row, d->stops_count, 1);
    fetch_row(d->repair, row, d->stops_count, 1);
    fetch_row(d->finishing, row, d->strips_count, r->model->strips_count);
}

/* The level of the day, as far as it has one of its own. */
static void draw_day(struct run *r) {
    const double share = r->model->day_deviation, *z;
    integer i;
    memset(r->day, 0, sizeof r->day);
    if (share == 0.0 || r->draws->is_value)
        return;
    z = normals(r, STREAM_DAY, r->draws->day, POUR_DAY_LEVELS, 0, POUR_DAY_LEVELS, r->scratch);
    for (i = 0; i < POUR_DAY_LEVELS; i++)
        r->day[i] = share * z[i];
}

/* Lognormal minutes or factors by one law. */
static void lognormals(const struct run *r, integer stream, const double *rows, integer width, integer from,
                       integer until, double mean, double deviation, double *out) {
    const double *z;
    integer i, count = until - from;
    if (r->draws->is_value) {
        memcpy(out + from, rows + r->row * width + from, (size_t)count * sizeof *out);
        return;
    }
    if (deviation == 0.0) {
        for (i = from; i < until; i++)
            out[i] = mean;
        return;
    }
    z = normals(r, stream, rows, width, from, until, r->scratch);
    exponentials_at[r->level](z, count, mean, deviation, out + from);
}

/* Logarithm's mean and standard deviation; without deviation the mean is the value itself. */
struct law {
    double mean, deviation;
};

/* Of loads, part of whose deviation is the day's. */
static struct law law_of_day(const struct run *r, struct law law, integer level) {
    const struct pour_model *m = r->model;
    if (law.deviation != 0.0 && m->day_deviation != 0.0) {
        law.mean += law.deviation * r->day[level];
        law.deviation *= m->load_deviation;
        if (law.deviation == 0.0)
            law.mean = exp(law.mean);
    }
    return law;
}

static struct law law_of_set(const struct pour_model *m) {
    const struct law law = {m->set_factor_sd == 0.0 ? 1.0 : 0.0, m->set_factor_sd};
    return law;
}

/* Lognormal minutes or factors of loads. */
static void of_loads(const struct run *r, integer stream, const double *rows, integer from, integer until, struct law law,
                     integer level, double *out) {
    law = law_of_day(r, law, level);
    lognormals(r, stream, rows, r->draws->loads_count, from, until, law.mean, law.deviation, out);
}

static struct law law_of_plant(const struct pour_model *m, integer plant, integer column) {
    const double *laws = m->plant_laws + plant * POUR_LAW_COLUMNS + column;
    const struct law law = {laws[0], laws[1]};
    return law;
}

/* The same where each load follows the law of its plant. */
static void by_plant(const struct run *r, integer stream, const double *rows, integer from, integer until, integer column,
                     integer level, double *out) {
    const struct pour_model *m = r->model;
    integer i;
    if (m->plants_count == 1 || r->draws->is_value) {
        of_loads(r, stream, rows, from, until, law_of_plant(m, 0, column), level, out);
        return;
    }
    for (i = from; i < until; i++)
        of_loads(r, stream, rows, i, i + 1, law_of_plant(m, plant_of(m, i), column), level, out);
}

/* Load `number` is batched not before this. */
INLINE double due_of(const struct pour_model *m, integer number, int plain) {
    if (plain || m->due_count == 0)
        return m->first_batching_min + (double)number * m->interval_min;
    if (number < m->due_count)
        return m->due[number];
    return m->due[m->due_count - 1] + (double)(number - m->due_count + 1) * m->interval_min;
}

/* Draw what chance holds for the loads up to here. */
static void draw_loads(struct run *r, integer until) {
    const struct pour_model *m = r->model;
    const struct pour_draws *d = r->draws;
    const struct law speed = {m->speed_m, m->speed_s};
    integer i, from = r->loads_drawn, width = d->loads_count;
    by_plant(r, STREAM_BATCHING, d->batching, from, until, 0, DAY_BATCHING, r->batching);
    by_plant(r, STREAM_HAUL, d->haul, from, until, 2, DAY_HAUL, r->haul);
    by_plant(r, STREAM_BACK, d->back, from, until, 4, DAY_BACK, r->back);
    of_loads(r, STREAM_SPEED, d->speed, from, until, speed, DAY_SPEED, r->speed);
    if (m->rate_is_held && !d->is_value)
        for (i = from; i < until; i++)
            r->speed[i] = smaller(r->speed[i], 1.0);
    of_loads(r, STREAM_SET, d->set, from, until, law_of_set(m), DAY_SET, r->factor);
    if (d->is_value) {
        memcpy(r->temperature + from, d->temperature + r->row * width + from, (size_t)(until - from) * sizeof(double));
    } else if (m->plant_sd_c == 0.0) {
        for (i = from; i < until; i++)
            r->temperature[i] = m->plant_c;
    } else {
        const double *z = normals(r, STREAM_TEMPERATURE, d->temperature, width, from, until, r->temperature);
        for (i = from; i < until; i++)
            r->temperature[i] = m->plant_c + m->plant_sd_c * (r->day[DAY_TEMPERATURE] + m->load_deviation * z[i - from]);
    }
    r->loads_drawn = until;
}

static double consistence_of(const struct run *r, integer number) {
    const struct pour_draws *d = r->draws;
    return d->is_hashed ? uniform(stream_of(r, STREAM_CONSISTENCE), (uint64_t)number)
                        : d->consistence[r->row * d->loads_count + number];
}

static double up_min(const struct run *r, integer stop) {
    const struct pour_draws *d = r->draws;
    if (d->is_value)
        return d->up[r->row * d->stops_count + stop];
    return r->model->up_mean_min *
           (d->is_hashed ? -log(uniform(stream_of(r, STREAM_UP), (uint64_t)stop)) : d->up[r->row * d->stops_count + stop]);
}

static double repair_of(const struct run *r, integer stop) {
    lognormals(r, STREAM_REPAIR, r->draws->repair, r->draws->stops_count, stop, stop + 1, r->model->repair_m,
               r->model->repair_s, r->repair_min);
    return r->repair_min[stop];
}

static void finishing_minutes(struct run *r, integer strips) {
    const struct pour_model *m = r->model;
    integer s;
    lognormals(r, STREAM_FINISHING, r->draws->finishing, r->draws->strips_count, 0, strips, m->strip_m, m->strip_s,
               r->strip_work);
    if (!r->draws->is_value)
        for (s = 0; s < strips; s++)
            r->strip_work[s] = m->strip_min[s] * r->strip_work[s];
}

static double scale_of(struct run *r) {
    const struct pour_model *m = r->model;
    const struct pour_draws *d = r->draws;
    double z;
    if (d->is_value)
        return d->wastage[r->row];
    if (m->wastage_sd == 0.0)
        return 1.0 + larger(m->wastage, 0.0);
    z = *normals(r, STREAM_WASTAGE, d->wastage, 1, 0, 1, r->moments);
    return 1.0 + larger(m->wastage + m->wastage_sd * z, 0.0);
}

/* All that follows is of this replication. */
static void begin_draws(struct run *r, integer replication) {
    const struct pour_draws *d = r->draws;
    r->row = replication - d->first;
    r->parent = split(split((uint64_t)d->seed, 0), (uint64_t)replication);
    r->scale = scale_of(r);
    r->loads_drawn = 0;
    draw_day(r);
}

/* ---- the stream of concrete ---- */

/* A cell near this net volume, to begin from. */
static inline integer cell_near(const struct pour_model *m, double net) {
    const integer part = !(net > 0.0) ? 0 : net < m->net_m3 ? (integer)(net * m->cell_per_m3) : m->cell_parts - 1;
    return m->cell_start[part < m->cell_parts ? part : m->cell_parts - 1];
}

static double work_until(const struct run *r, double position) {
    const struct pour_model *m = r->model;
    const double *until = m->net_until;
    double net;
    integer cell;
    if (position <= m->lead_m3)
        return position * m->lead_min_per_m3;
    net = (position - m->lead_m3) / r->scale;
    cell = cell_near(m, net);
    while (cell > 0 && until[cell] > net)
        cell--;
    while (cell < m->cells_count - 1 && until[cell + 1] <= net)
        cell++;
    return m->lead_min + r->scale * (m->work_until[cell] + (net - until[cell]) * m->min_per_m3[cell]);
}

/* Cells whose first concrete lies before this position. */
static integer cells_begun(const struct run *r, double position) {
    const struct pour_model *m = r->model;
    double net = (position - m->lead_m3) / r->scale - VOLUME_GUARD_M3;
    integer cell;
    if (!(net > 0.0))
        return 0;
    cell = cell_near(m, net);
    while (cell > 0 && m->net_until[cell - 1] >= net)
        cell--;
    while (cell < m->cells_count && m->net_until[cell] < net)
        cell++;
    return cell;
}

#endif
