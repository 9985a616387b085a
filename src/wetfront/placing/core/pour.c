/* The compiled core of the pour simulator.
 *
 * It does what loads.py, stream.py and front.py do, in the same order of arithmetic, and is held against them by the
 * tests; the rules stand there and in docs/placing-model.md, here only what makes it quick:
 * - queues are kept as rising rows instead of heaps, because new times nearly always go to the end;
 * - where all loads come full and are accepted (the usual course), which cell is in which load is known beforehand;
 * - pairs of touching cells are grouped by the loads that they lie in, and a group is looked at cell by cell only where
 *   the times of its two loads leave open whether it holds the least margin or a cold joint;
 * - the first look at the groups is taken for several replications at once.
 * C99 with vectors (bands.h); no state outside the arguments, so any number of threads may call it.
 */
#include "pour.h"
#include "chance.h"

#include <stdlib.h>

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

#define TEXT_D(name) "D:" #name " "
#define TEXT_I(name) "I:" #name " "
#define TEXT_F(name) "F:" #name " "
#define TEXT_L(name) "L:" #name " "
#define TEXT_S(name) "S:" #name " "

/* The hash of this file and its header when the library was built: a stale library is not used. */
#ifndef POUR_SOURCE
#define POUR_SOURCE "unknown"
#endif

const char *pour_source(void) { return POUR_SOURCE; }

int64_t pour_level(void) { return widest_level(); }

const char *pour_layout(int64_t structure) {
    switch (structure) {
    case 0: return POUR_MODEL(TEXT_D, TEXT_I, TEXT_F, TEXT_L, TEXT_S);
    case 1: return POUR_DRAWS(TEXT_D, TEXT_I, TEXT_F, TEXT_L, TEXT_S);
    case 2: return POUR_RESULT(TEXT_D, TEXT_I, TEXT_F, TEXT_L, TEXT_S);
    default: return "";
    }
}

void pour_hashed(uint64_t seed, uint64_t replication, uint64_t stream, int64_t count, char kind, int64_t level,
                 const double *quantile, double *out) {
    const uint64_t parent = split(split(split(seed, 0), replication), stream);
    integer i;
    for (i = 0; i < count; i++) {
        const double u = uniform(parent, (uint64_t)i);
        double z[LANES];
        if (kind == 'z')
            hashed_normals_at[level](parent, i, i + 1, quantile, z);
        out[i] = kind == 'u' ? u : kind == 'e' ? -log(u) : z[0];
    }
}

/* ---- one replication under way ---- */

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
    double until_m3, work_from, moves_before, start, end, speed, factor, lead_rate, begun, temperature;
    integer repairs_from;
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
    struct span *spans;
    double *lines;
    struct open_band *open;
    double *band_wait;
    int32_t *band_left;
    double *repair_offset, *repair_min;
    /* cells, strips, crews, edges */
    double *placed, *clock_at, *offset, *wait, *cell_begun, *strip_work, *strip_ready, *strip_key, *strip_since, *strip_clock, *strip_factor;
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
    if (m->members_count > 0) {
        r->met = *m;
        r->model = &r->met;
    }
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

/* The same of loads, part of whose deviation is the day's. */
static void of_loads(const struct run *r, integer stream, const double *rows, integer from, integer until, double mean,
                     double deviation, integer level, double *out) {
    const struct pour_model *m = r->model;
    if (deviation != 0.0 && m->day_deviation != 0.0) {
        mean += deviation * r->day[level];
        deviation *= m->load_deviation;
        if (deviation == 0.0)
            mean = exp(mean);
    }
    lognormals(r, stream, rows, r->draws->loads_count, from, until, mean, deviation, out);
}

/* The same where each load follows the law of its plant. */
static void by_plant(const struct run *r, integer stream, const double *rows, integer from, integer until, integer law,
                     integer level, double *out) {
    const struct pour_model *m = r->model;
    integer i;
    if (m->plants_count == 1 || r->draws->is_value) {
        of_loads(r, stream, rows, from, until, m->plant_laws[law], m->plant_laws[law + 1], level, out);
        return;
    }
    for (i = from; i < until; i++) {
        const double *laws = m->plant_laws + plant_of(m, i) * POUR_LAW_COLUMNS + law;
        of_loads(r, stream, rows, i, i + 1, laws[0], laws[1], level, out);
    }
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
    integer i, from = r->loads_drawn, width = d->loads_count;
    by_plant(r, STREAM_BATCHING, d->batching, from, until, 0, DAY_BATCHING, r->batching);
    by_plant(r, STREAM_HAUL, d->haul, from, until, 2, DAY_HAUL, r->haul);
    by_plant(r, STREAM_BACK, d->back, from, until, 4, DAY_BACK, r->back);
    of_loads(r, STREAM_SPEED, d->speed, from, until, m->speed_m, m->speed_s, DAY_SPEED, r->speed);
    if (m->rate_is_held && !d->is_value)
        for (i = from; i < until; i++)
            r->speed[i] = smaller(r->speed[i], 1.0);
    of_loads(r, STREAM_SET, d->set, from, until, m->set_factor_sd == 0.0 ? 1.0 : 0.0, m->set_factor_sd, DAY_SET, r->factor);
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

/* ---- call-off ---- */

/* What is neither in the work nor under way, as it is known at this time; `missing` counts nothing sent back. */
static double missing_at(const struct run *r, double missing, integer sent, double now) {
    double back = 0.0;
    integer i;
    if (sent == 0)
        return missing;
    for (i = 0; i < sent; i++)
        if (r->sent_at[i] <= now)
            back += r->sent_m3[i];
    return missing + back;
}

/* First time from `earliest` on at which one more load is called off, where little or nothing is missing. */
static double when_needed(const struct run *r, double missing, double most_for_balance, integer sent, integer called,
                          double earliest) {
    double last_start = called > 0 ? r->loads[called - 1].start : -INFINITY, *moments = r->moments;
    integer i, k, count = 0;
    if (earliest == INFINITY || missing_at(r, missing, sent, earliest) > most_for_balance)
        return earliest;
    moments[count++] = earliest;
    for (i = 0; i < sent; i++)
        if (r->sent_at[i] > earliest)
            moments[count++] = r->sent_at[i];
    if (earliest < last_start && last_start < INFINITY)
        moments[count++] = last_start;
    for (i = 1; i < count; i++) {
        double moment = moments[i];
        for (k = i; k > 0 && moments[k - 1] > moment; k--)
            moments[k] = moments[k - 1];
        moments[k] = moment;
    }
    for (i = 0; i < count; i++) {
        double then = missing_at(r, missing, sent, moments[i]);
        int must_measure = then <= most_for_balance && last_start > moments[i];
        if (then > VOLUME_GUARD_M3 && !must_measure)
            return moments[i];
    }
    return INFINITY;
}

/* This time, or the end of the interval that it falls in. */
INLINE double after_intervals(double time, const double *intervals, integer count) {
    integer i;
    for (i = 0; i < count; i++)
        if (intervals[2 * i] <= time && time < intervals[2 * i + 1])
            time = intervals[2 * i + 1];
    return time;
}

INLINE double after_bans(const struct pour_model *m, double start, integer plant) {
    double on_the_way, expected, allowed;
    if (start == INFINITY)
        return start;
    on_the_way = m->plants[plant * POUR_PLANT_COLUMNS + 1];
    expected = start + on_the_way;
    allowed = after_intervals(expected, m->bans, m->bans_count);
    return allowed == expected ? start : allowed - on_the_way;
}

static double size_of_load(const struct pour_model *m, double missing) {
    double steps = ceil((missing - VOLUME_GUARD_M3) / m->call_off_step_m3) * m->call_off_step_m3;
    return smaller(m->load_m3, larger(steps, m->smallest_load_m3));
}

/* Puts a time and its number, where there are numbers, into a row of rising times that ends before `*time`; equal ones stay before it. `count` of
 * the row are still there, and SHIFTED before these can be read, but are not later. By how many places is chance: the first
 * few are settled without a branch. */
INLINE void put_in_row(double *time, integer *number, integer count, double new_time, integer new_number) {
    double at = INFINITY;
    integer number_at = new_number, i;
    for (i = 0; i < SHIFTED; i++) {
        const double before = time[-i - 1];
        const integer number_before = number ? number[-i - 1] : 0;
        time[-i] = larger(before, smaller(at, new_time));
        if (number)
            number[-i] = before > new_time ? number_before : at > new_time ? new_number : number_at;
        at = before;
        number_at = number_before;
    }
    if (!(at > new_time))
        return;
    for (; i < count && time[-i - 1] > new_time; i++) {
        time[-i] = time[-i - 1];
        if (number)
            number[-i] = number[-i - 1];
    }
    time[-i] = new_time;
    if (number)
        number[-i] = new_number;
}

/* Onto the road, in the order in which trucks reach the gate. */
INLINE void to_road(struct run *r, struct site *s, double reached, integer number) {
    const integer at = s->road_tail++;
    put_in_row(r->road_reached + at, r->road_number + at, at - s->road_head, reached, number);
}

INLINE void call_off(struct run *r, struct site *s, struct fleet *fleet, double start, int plain) {
    const struct pour_model *m = r->model;
    struct truck_load *load = r->loads + s->called;
    double reached;
    if (s->called >= r->loads_drawn)
        draw_loads(r, s->called + 1);
    fleet->free[fleet->head++] = -INFINITY;
    load->begun = start;
    load->batched = start + r->batching[s->called];
    reached = load->batched + r->haul[s->called];
    if (!plain && m->has_seen)
        reached = larger(reached, m->now_min);
    load->volume = !plain && m->has_step ? size_of_load(m, missing_at(r, s->needed_m3 - s->called_m3, s->sent, start)) : m->load_m3;
    load->arrival = plain ? reached : after_intervals(reached, m->bans, m->bans_count);
    load->start = INFINITY;
    to_road(r, s, reached, s->called++);
    fleet->plant_free = load->batched;
    s->called_m3 += load->volume;
}

/* ---- on site ---- */

/* When the pump takes a truck that is ready: in no weather stop, and after a break that is due by then. */
INLINE double pump_takes(const struct pour_model *m, struct site *s, double ready) {
    double taken = after_intervals(larger(ready, s->pump_free), m->weather_stops, m->weather_stops_count);
    while (s->breaks_taken < m->breaks_count && taken >= m->breaks[2 * s->breaks_taken]) {
        double begin = larger(m->breaks[2 * s->breaks_taken], s->pump_free);
        s->pump_free = begin + m->breaks[2 * s->breaks_taken + 1];
        s->breaks_taken++;
        taken = after_intervals(larger(ready, s->pump_free), m->weather_stops, m->weather_stops_count);
    }
    return taken;
}

/* Pumping time of a load by the gangs that are there meanwhile. */
static double pumping_by_gang(const struct pour_model *m, double start, double used, double work, double speed) {
    const double *hours = m->gang_hours;
    double capacity = INFINITY, at = start, left = 1.0;
    integer i;
    for (i = 0; i < m->gang_count && hours[2 * i] <= start; i++)
        capacity = hours[2 * i + 1];
    for (; i < m->gang_count; i++) {
        const double whole = larger(work, 60.0 * used / capacity) / speed;
        if (at + left * whole <= hours[2 * i])
            break;
        left -= (hours[2 * i] - at) / whole;
        at = hours[2 * i];
        capacity = hours[2 * i + 1];
    }
    return at - start + left * (larger(work, 60.0 * used / capacity) / speed);
}

/* Concrete temperature at this time; not a number outside the table of air temperatures. */
static double temperature_at(const struct pour_model *m, double fresh, double batched, double time) {
    double share = m->change_per_h * (time - batched) / 60.0, place = time / m->clock_step_min, part, air;
    integer before;
    if (!(place >= 0.0 && place <= (double)(m->air_points - 1)))
        return NAN;
    before = (integer)place;
    part = place - (double)before;
    air = before == m->air_points - 1 ? m->air_c[before] : m->air_c[before] * (1.0 - part) + m->air_c[before + 1] * part;
    return (fresh + share * air) / (1.0 + share);
}

/* When the pump took a load whose end has not been seen; not a number where it has not. */
static double started(const struct pour_model *m, integer number) {
    return number < m->seen_loads ? m->seen[number * POUR_SEEN_COLUMNS + SEEN_START] : NAN;
}

/* Temperature of a load at the pump, measured or by the rule; not a number outside the table of air temperatures. */
static double temperature_of(const struct run *r, integer number, double batched, double start) {
    const struct pour_model *m = r->model;
    if (number < m->seen_loads) {
        const double measured = m->seen[number * POUR_SEEN_COLUMNS + SEEN_TEMPERATURE];
        if (measured == measured)
            return measured;
    }
    return m->change_per_h != 0.0 ? temperature_at(m, r->temperature[number], batched, start) : r->temperature[number];
}

/* The next truck in order of arrival: place, pump, judgement, discharge, return. */
INLINE int serve(struct run *r, struct site *s, int plain) {
    const struct pour_model *m = r->model;
    const integer number = r->road_number[s->road_head++], plant = plain ? 0 : plant_of(m, number);
    struct truck_load *load = r->loads + number;
    struct placed_load *placed = r->placed_loads + s->accepted;
    struct fleet *fleet = r->fleets + plant;
    const double arrival = load->arrival, free = larger(arrival, r->place_free[s->served]);
    const double entered = plain ? free : larger(free, r->entered[s->served]);
    const double ready = entered + m->position_min, under_way = plain ? NAN : started(m, number);
    const double start = plain                      ? larger(ready, s->pump_free)
                         : under_way == under_way ? under_way
                                                  : pump_takes(m, s, m->has_seen ? larger(ready, m->now_min) : ready);
    const double used = smaller(load->volume, s->needed_m3 - s->position_m3);
    double temperature = r->temperature[number], end = start, position, work_to, work, moves, left, truck_free, wait;
    double expected;
    integer begun;
    int refused = ACCEPTED, is_usual = 0;
    load->start = start;
    if (!plain && (m->change_per_h != 0.0 || m->has_seen)) {
        temperature = temperature_of(r, number, load->batched, start);
        if (temperature != temperature) {
            r->failed_value = start;
            return POUR_OUTSIDE_AIR;
        }
    }
    /* Where the pump would stand after it, by the usual course or looked up. */
    if (used == s->usual_used) {
        is_usual = 1;
        position = m->usual_position[s->accepted + 1];
        work_to = m->usual_work[s->accepted + 1];
        begun = m->usual_begun[s->accepted + 1];
    } else {
        position = s->position_m3 + used;
        work_to = work_until(r, position);
        begun = cells_begun(r, position);
    }
    moves = !plain && m->has_moves ? m->moves_until[begun] - m->moves_until[s->cells_begun] : 0.0;
    work = work_to - s->work_done;
    expected = !plain && m->gang_count > 0 ? pumping_by_gang(m, start, used, work, 1.0) : work;
    if (used <= VOLUME_GUARD_M3)
        refused = NOT_NEEDED;
    else if (under_way == under_way)
        refused = ACCEPTED;
    else if ((m->judged_at_end ? start + (expected + moves) : start) - (m->age_from_loading ? load->begun : load->batched) > m->longest_age_min)
        refused = TOO_OLD;
    else if (!(m->lowest_c <= temperature && temperature <= m->highest_c))
        refused = WRONG_TEMPERATURE;
    else if (!plain && m->refusal_probability > 0.0 && consistence_of(r, number) < m->refusal_probability)
        refused = WRONG_CONSISTENCE;
    r->refused[refused]++;
    if (refused == ACCEPTED) {
        const int by_gang = !plain && m->gang_count > 0;
        const double drawn = r->speed[number];
        const double pumping = by_gang ? pumping_by_gang(m, start, used, work, drawn) : work / drawn;
        const double speed = by_gang ? work / pumping : drawn;
        double lost = 0.0, offset = 0.0, age;
        placed->until_m3 = position;
        placed->work_from = s->work_done;
        placed->moves_before = !plain && m->has_moves ? m->moves_until[s->cells_begun] : 0.0;
        placed->start = start;
        placed->speed = speed;
        placed->factor = r->factor[number];
        placed->lead_rate = 0.0;
        placed->begun = load->begun;
        placed->temperature = temperature;
        placed->repairs_from = s->stops;
        while (s->up_left < pumping - offset) {
            double duration;
            if (s->stops + 1 >= r->draws->stops_count)
                return POUR_STOPS_RUN_OUT;
            offset += s->up_left;
            duration = repair_of(r, s->stops);
            r->repair_offset[s->stops++] = offset;
            s->longest_gap = larger(s->longest_gap, duration);
            lost += duration;
            s->up_left = up_min(r, s->stops);
        }
        s->up_left -= pumping - offset;
        end = start + pumping + moves + lost;
        placed->end = end;
        placed[1].repairs_from = s->stops;
        s->longest_gap = larger(s->longest_gap, start - s->last_end);
        s->accepted++;
        s->usual_used = is_usual ? m->usual_used[s->accepted] : NAN;
        s->last_end = end;
        s->position_m3 = position;
        s->work_done = work_to;
        s->cells_begun = begun;
        s->taken += used;
        age = end - (m->age_from_loading ? load->begun : load->batched);
        s->oldest = larger(s->oldest, age);
        s->over_age += age > m->longest_age_min;
        s->lowest_c = smaller(s->lowest_c, temperature);
        s->highest_c = larger(s->highest_c, temperature);
    } else if (refused != NOT_NEEDED) {
        r->sent_at[s->sent] = start;
        r->sent_m3[s->sent++] = load->volume;
    }
    left = end + m->wash_min;
    truck_free = left + r->back[number];
    r->place_free[s->served + r->places] = end;
    s->pump_free = end;
    put_in_row(fleet->free + fleet->tail, NULL, fleet->tail - fleet->head, truck_free, 0);
    fleet->tail++;
    /* Figures; the times of entering and of leaving rise from load to load. */
    r->entered[++s->served] = entered;
    r->left[s->served] = left;
    while (r->entered[s->served - s->most_waiting] > arrival)
        s->most_waiting++;
    while (r->left[s->served - s->most_on_site] > arrival)
        s->most_on_site++;
    s->longest_wait = larger(s->longest_wait, start - arrival);
    s->delivered += load->volume;
    wait = left - arrival - m->waiting_free_min;
    s->paid += wait > 0.0 ? wait : 0.0;
    s->after_closing += load->begun > m->plants[plant * POUR_PLANT_COLUMNS + 3];
    return POUR_DONE;
}

static void begin(struct run *r, struct site *s, integer replication) {
    const struct pour_model *m = r->model;
    const struct pour_draws *d = r->draws;
    integer p, i, planned;
    r->row = replication - d->first;
    r->parent = split(split((uint64_t)d->seed, 0), (uint64_t)replication);
    r->scale = scale_of(r);
    r->loads_drawn = 0;
    memset(s, 0, sizeof *s);
    memset(r->refused, 0, sizeof r->refused);
    s->needed_m3 = m->lead_m3 + r->scale * m->net_m3;
    s->most_for_balance_m3 = m->balance_after_measuring ? m->load_m3 + VOLUME_GUARD_M3 : VOLUME_GUARD_M3;
    s->usual_used = m->usual_loads > 0 && r->scale == m->usual_scale ? m->usual_used[0] : NAN;
    s->pump_free = -INFINITY;
    s->road_head = s->road_tail = SHIFTED;
    for (i = 0; i < SHIFTED; i++) {
        r->road_reached[i] = -INFINITY;
        r->road_number[i] = 0;
    }
    r->entered[0] = r->left[0] = -INFINITY;
    s->last_end = INFINITY;
    s->longest_wait = s->oldest = s->highest_c = -INFINITY;
    s->lowest_c = INFINITY;
    for (p = 0; p < m->plants_count; p++) {
        const double *plant = m->plants + p * POUR_PLANT_COLUMNS;
        /* More trucks than loads make no difference: all begin at the same time. */
        integer trucks = (integer)smaller(plant[0], (double)d->loads_count);
        r->fleets[p].plant_free = plant[2];
        r->fleets[p].free = r->truck_free + p * r->fleet_size;
        r->fleets[p].head = SHIFTED;
        r->fleets[p].tail = SHIFTED + trucks;
        for (i = 0; i < SHIFTED; i++)
            r->fleets[p].free[i] = -INFINITY;
        for (; i < r->fleets[p].tail; i++)
            r->fleets[p].free[i] = m->first_batching_min;
    }
    r->places = m->places_count < d->loads_count ? m->places_count : d->loads_count;
    for (i = 0; i < r->places; i++)
        r->place_free[i] = -INFINITY;
    s->up_left = up_min(r, 0);
    draw_day(r);
    planned = s->needed_m3 < m->load_m3 * (double)d->loads_count ? (integer)ceil(s->needed_m3 / m->load_m3) : d->loads_count;
    draw_loads(r, planned < d->loads_count ? planned : d->loads_count);
}

/* A load whose discharge has been seen to its end. */
static void serve_seen(struct run *r, struct site *s, integer number) {
    const struct pour_model *m = r->model;
    const double *seen = m->seen + number * POUR_SEEN_COLUMNS;
    struct truck_load *load = r->loads + number;
    struct placed_load *placed = r->placed_loads + s->accepted;
    struct fleet *fleet = r->fleets + plant_of(m, number);
    const double used = seen[SEEN_REFUSED] == ACCEPTED ? seen[SEEN_USED] : 0.0, end = seen[SEEN_END];
    const double left = seen[SEEN_LEFT] == seen[SEEN_LEFT] ? seen[SEEN_LEFT] : end + m->wash_min;
    const double truck_free = left + r->back[number], temperature = temperature_of(r, number, load->batched, seen[SEEN_START]);
    load->start = seen[SEEN_START];
    r->refused[(integer)seen[SEEN_REFUSED]]++;
    if (seen[SEEN_REFUSED] == ACCEPTED) {
        s->position_m3 += used;
        memset(placed, 0, sizeof *placed);
        placed->until_m3 = s->position_m3;
        placed->start = load->start;
        placed->end = s->last_end = end;
        placed->speed = 1.0;
        placed->factor = r->factor[number];
        placed->begun = load->begun;
        placed->temperature = temperature;
        placed[1].repairs_from = 0;
        s->accepted++;
        s->taken += used;
        s->lowest_c = smaller(s->lowest_c, temperature);
        s->highest_c = larger(s->highest_c, temperature);
    }
    if (load->volume - used > VOLUME_GUARD_M3) {
        r->sent_at[s->sent] = load->start;
        r->sent_m3[s->sent++] = load->volume - used;
    }
    r->place_free[s->served + r->places] = end;
    s->pump_free = end;
    put_in_row(fleet->free + fleet->tail, NULL, fleet->tail - fleet->head, truck_free, 0);
    fleet->tail++;
    /* What is known counts in no figure of waiting. */
    s->served++;
    r->entered[s->served] = r->left[s->served] = -INFINITY;
    s->delivered += load->volume;
    s->after_closing += load->begun > m->plants[plant_of(m, number) * POUR_PLANT_COLUMNS + 3];
}

/* The loads that have been seen, as far as they have: those at their end are served, the others wait or pump. Gives the
 * latest begin of batching. */
static double take_over(struct run *r, struct site *s) {
    const struct pour_model *m = r->model;
    double last_start = -INFINITY, reached;
    integer i;
    if (m->seen_loads > r->loads_drawn)
        draw_loads(r, m->seen_loads);
    for (i = 0; i < m->seen_loads; i++) {
        const double *seen = m->seen + i * POUR_SEEN_COLUMNS;
        struct truck_load *load = r->loads + i;
        struct fleet *fleet = r->fleets + plant_of(m, i);
        load->begun = seen[SEEN_BATCHING];
        load->batched = seen[SEEN_BATCHED] == seen[SEEN_BATCHED] ? seen[SEEN_BATCHED] : load->begun + r->batching[i];
        reached = load->arrival = seen[SEEN_REACHED];
        if (reached != reached) {
            reached = larger(load->batched + r->haul[i], m->now_min);
            load->arrival = after_intervals(reached, m->bans, m->bans_count);
        }
        load->volume = seen[SEEN_VOLUME];
        load->start = INFINITY;
        fleet->plant_free = larger(fleet->plant_free, load->batched);
        last_start = larger(last_start, load->begun);
        s->called_m3 += load->volume;
        s->called++;
        if (seen[SEEN_END] != seen[SEEN_END])
            to_road(r, s, seen[SEEN_START] == seen[SEEN_START] ? -INFINITY : reached, i);
    }
    for (i = 0; i < m->seen_served; i++)
        serve_seen(r, s, m->seen_order[i]);
    /* Each load took the truck that had been free for longest: those that came back last are left. */
    for (i = 0; i < m->seen_loads; i++) {
        struct fleet *fleet = r->fleets + plant_of(m, i);
        if (fleet->head < fleet->tail)
            fleet->free[fleet->head++] = -INFINITY;
    }
    s->work_done = work_until(r, s->position_m3);
    return last_start;
}

/* Call off, serve and pump until nothing is missing and no truck is under way. A load is called off when all that are
 * on site by then have been served: one called off later cannot arrive before. Where a truck is free and enough is missing
 * whatever comes of these, it need not wait for that: its time is settled, and which truck it takes makes no difference. */
INLINE int loads_of(struct run *r, integer replication, int plain) {
    const struct pour_model *m = r->model;
    const integer most_loads = r->draws->loads_count;
    struct site site, *s = &site;
    integer turn = 0, plant = m->pattern[0];
    struct fleet *fleet = r->fleets + plant;
    double due, last_start = -INFINITY; /* the plant begins the next load not before this */
    begin(r, s, replication);
    if (!plain && m->has_seen) {
        last_start = take_over(r, s);
        turn = s->called % m->pattern_count;
        plant = m->pattern[turn];
        fleet = r->fleets + plant;
    }
    due = larger(due_of(m, s->called, plain), larger(fleet->plant_free, last_start));
    for (;;) {
        double start = INFINITY;
        int is_settled = 0;
        if (s->called < most_loads) {
            const double missing = s->needed_m3 - s->called_m3;
            const int is_missing = missing > s->most_for_balance_m3, has_truck = fleet->head < fleet->tail;
            start = has_truck ? larger(due, fleet->free[fleet->head]) : INFINITY;
            is_settled = is_missing && start == due && (plain || !m->has_step);
            if (!is_missing)
                start = when_needed(r, missing, s->most_for_balance_m3, s->sent, s->called, start);
            if (!plain)
                start = after_bans(m, start, plant);
        }
        if (!is_settled && s->road_head < s->road_tail &&
            !(r->loads[r->road_number[s->road_head]].arrival > start)) {
            int error = serve(r, s, plain);
            if (error)
                return error;
            continue;
        }
        if (!(start < INFINITY))
            break;
        call_off(r, s, fleet, start, plain);
        if (!plain && m->pattern_count > 1) {
            turn = turn + 1 == m->pattern_count ? 0 : turn + 1;
            plant = m->pattern[turn];
            fleet = r->fleets + plant;
        }
        due = larger(due_of(m, s->called, plain), larger(fleet->plant_free, start));
    }
    r->site = site;
    if (site.called == most_loads && missing_at(r, site.needed_m3 - site.called_m3, site.sent, INFINITY) > VOLUME_GUARD_M3) {
        r->failed_value = (double)(most_loads + 1);
        return POUR_LOADS_RUN_OUT;
    }
    return site.accepted > 0 ? POUR_DONE : POUR_NOTHING_PLACED;
}

/* Without the questions that a model with neither bans nor breaks nor moves nor two plants need not ask. */
static int run_loads(struct run *r, integer replication) {
    const struct pour_model *m = r->model;
    const int plain = m->plants_count == 1 && m->bans_count == 0 && m->breaks_count == 0 && m->weather_stops_count == 0 &&
                      m->due_count == 0 && m->gang_count == 0 && !m->has_seen && !m->has_step && !m->has_moves && m->change_per_h == 0.0 && !(m->refusal_probability > 0.0);
    return plain ? loads_of(r, replication, 1) : loads_of(r, replication, 0);
}

/* ---- the wet front ---- */

/* Equivalent age since midnight, by the arithmetic of numpy's interp; the time must lie in the table. */
static inline double clock_at(const struct pour_model *m, double time, integer guess) {
    integer j = guess;
    while (j > 0 && m->clock_times[j] > time)
        j--;
    while (j < m->clock_points - 1 && m->clock_times[j + 1] <= time)
        j++;
    return m->clock_slope[j] * (time - m->clock_times[j]) + m->clock_total[j];
}

static inline integer clock_guess(const struct pour_model *m, double time) {
    return (integer)smaller(larger(time * m->clock_per_min, 0.0), (double)(m->clock_points - 1));
}

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
    double offset = (work_to_end - r->placed_loads[load].work_from) / r->placed_loads[load].speed;
    double placed = r->placed_loads[load].start + offset + (m->moves_until[cell + 1] - r->placed_loads[load].moves_before);
    integer i;
    for (i = r->placed_loads[load].repairs_from; i < r->placed_loads[load + 1].repairs_from; i++)
        if (offset > r->repair_offset[i])
            placed += r->repair_min[i];
    return placed;
}

/* Clocks of the cells `from` to `until` - 1 by their times: as many at once as lie between three points of the table. */
static void clock_cells(struct run *r, integer from, integer until) {
    const struct pour_model *m = r->model;
    const double *restrict placed = r->placed;
    double *restrict clock = r->clock_at;
    integer cell, stop, j = clock_guess(m, placed[from]);
    while (j > 0 && m->clock_times[j] > placed[from])
        j--;
    for (cell = from; cell < until; cell = stop) {
        double begin, bend, at_begin, at_bend, slope, after;
        while (j < m->clock_points - 1 && m->clock_times[j + 1] <= placed[cell])
            j++;
        begin = m->clock_times[j];
        at_begin = m->clock_total[j];
        slope = m->clock_slope[j];
        stop = until;
        if (j + 2 < m->clock_points)
            while (stop > cell + 1 && !(placed[stop - 1] < m->clock_times[j + 2]))
                stop -= (stop - cell) / 2;
        else
            stop = cell + 1;
        if (stop == cell + 1) {
            clock[cell] = slope * (placed[cell] - begin) + at_begin;
            continue;
        }
        bend = m->clock_times[j + 1];
        at_bend = m->clock_total[j + 1];
        after = m->clock_slope[j + 1];
        for (; cell < stop; cell++) {
            const double one = slope * (placed[cell] - begin) + at_begin, other = after * (placed[cell] - bend) + at_bend;
            clock[cell] = placed[cell] < bend ? one : other;
        }
    }
}

/* Times and clocks of the cells `from` to `until` - 1, which this load ends. */
static void place_cells(struct run *r, integer load, integer from, integer until) {
    const struct pour_model *m = r->model;
    const struct placed_load *by = r->placed_loads + load;
    const double start = by->start, work_from = by->work_from, per_speed = 1.0 / by->speed;
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
        const double *restrict moves = m->moves_until + 1, before = by->moves_before;
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
        const double reached = r->placed_loads[load].until_m3;
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
        place_cells(r, load, from, ended);
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
        while (load < last && r->placed_loads[load].until_m3 < until)
            load++;
        begun = r->placed[cell] - (to_end - before) / r->placed_loads[load].speed;
        r->cell_begun[cell] = cell > 0 ? larger(begun, r->placed[cell - 1]) : begun;
        before = to_end;
    }
    for (cell = 0; cell < m->seen_owned; cell++)
        r->cell_begun[cell] = m->seen_begun[cell];
}

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
    integer load, j = clock_guess(m, r->placed_loads[0].start);
    while (j > 0 && m->clock_times[j] > r->placed_loads[0].start)
        j--;
    for (load = 0; load < r->site.accepted; load++) {
        const struct placed_load *placed = r->placed_loads + load;
        struct span *span = r->spans + load;
        double *line = r->lines + load * POUR_LINE_COLUMNS + lane;
        const double start = placed->start, end = placed->end;
        double at_start, gain, pumping, bend = 0.0;
        integer before;
        while (j < m->clock_points - 1 && m->clock_times[j + 1] <= start)
            j++;
        at_start = m->clock_slope[j] * (start - m->clock_times[j]) + m->clock_total[j];
        before = j;
        while (j < m->clock_points - 1 && m->clock_times[j + 1] <= end)
            j++;
        gain = m->clock_slope[j] * (end - m->clock_times[j]) + m->clock_total[j] - at_start;
        span->jump = span->odd = 0.0;
        pumping = end - start;
        if (m->has_moves || placed[1].repairs_from - placed->repairs_from > 1) {
            bend = INFINITY;
            span->odd = 2.0;
        } else if (placed[1].repairs_from != placed->repairs_from) {
            const double until = start + r->repair_offset[placed->repairs_from];
            const double lost = r->repair_min[placed->repairs_from], resumed = until + lost;
            pumping -= lost;
            span->odd = 2.0;
            span->jump =
                clock_at(m, resumed, clock_guess(m, resumed)) - clock_at(m, until, clock_guess(m, until));
            span->jump_share = (until - start) / pumping;
            gain -= span->jump;
        }
        /* A change of slope puts a cell off the line by at most a quarter of it, times the time of pumping. */
        if (j - before == 1)
            bend += fabs(m->clock_slope[j] - m->clock_slope[before]) * pumping * 0.25;
        else if (j > before)
            bend += (double)(j - before) * m->clock_bend * pumping * 0.25;
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

/* The least margin of the pairs of one band and the area of the cold ones, cell by cell. */
static double band_exactly(struct run *r, integer band, int count_cold, double *cold_area) {
    const struct pour_model *m = r->model;
    const int32_t *loads = m->band_loads + band * POUR_LOAD_COLUMNS;
    const double limit = m->set_limit_min, factor = r->placed_loads[loads[0]].factor;
    double longest = -INFINITY;
    integer run, i;
    for (run = m->band_runs[band]; run < m->band_runs[band + 1]; run++) {
        const int32_t *pairs = m->runs + run * POUR_RUN_COLUMNS;
        const double *first = r->clock_at + pairs[0], *later = r->clock_at + pairs[1];
        const integer first_end = pairs[0] + pairs[2], later_end = pairs[1] + pairs[2];
        const int overlap = loads[1] == loads[2] && pairs[1] <= first_end;
        place_cells(r, loads[1], pairs[0], overlap ? later_end : first_end);
        if (!overlap)
            place_cells(r, loads[2], pairs[1], later_end);
        for (i = 0; i < pairs[2]; i++)
            longest = larger(longest, later[i] - first[i]);
        if (count_cold)
            for (i = 0; i < pairs[2]; i++)
                if (limit - factor * (later[i] - first[i]) < 0)
                    *cold_area += m->sorted_area[pairs[3] + i];
    }
    return limit - factor * longest;
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
#define CHOSEN(is_first, a, b) ((lanes)(((is_first) & (lane_bits)(a)) | (~(is_first) & (lane_bits)(b))))
#define VECTOR(numbers) __attribute__((vector_size(8 * numbers), aligned(8), may_alias))

typedef double two VECTOR(2);
typedef double four VECTOR(4);
typedef double eight VECTOR(8);
typedef int64_t two_bits VECTOR(2);
typedef int64_t four_bits VECTOR(4);
typedef int64_t eight_bits VECTOR(8);

#define TOGETHER 2
#define LEVEL(name) name##_at_0
#define LEVEL_TARGET
#define lanes two
#define lane_bits two_bits
#include "bands.h"
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
#include "bands.h"
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
#include "bands.h"

static void (*const longest_waits_at[])(const int32_t *, const double *, integer, const double *, double *, double *) = {
    longest_waits_at_0, longest_waits_at_1, longest_waits_at_2};
static void (*const waits_beyond_at[])(const double *, integer, const double *, int32_t *, integer *) = {
    waits_beyond_at_0, waits_beyond_at_1, waits_beyond_at_2};

/* What a band that waits longest leaves to the others of its edge: their margin is of no interest above this. */
static double enough_by(struct run *r, integer band) {
    /* Of a breakdown within a band bounds say little. */
    return r->spans[r->model->band_loads[band * POUR_LOAD_COLUMNS + 1]].odd > 0.0 ? band_exactly(r, band, 0, NULL)
                                                                                 : bounds_of(r, band).enough;
}

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
    double longest_at[LANES], enough[LANES], needed[LANES];
    integer edge, i, kept[LANES];
    for (edge = 0; edge < m->edges_count; edge++) {
        const integer from = m->edge_bands[edge], bands = m->edge_bands[edge + 1] - from;
        if (bands == 0)
            continue;
        longest_waits_at[any->level](m->band_lines + from * POUR_LOAD_COLUMNS, m->band_reach + from * POUR_REACH_COLUMNS,
                                     bands, any->lines, any->band_wait, longest_at);
        for (i = 0; i < LANES; i++)
            needed[i] = INFINITY;
        for (i = 0; i < count; i++) {
            enough[i] = enough_by(runs[i], from + (integer)longest_at[i]);
            needed[i] = runs[i]->model->set_limit_min - larger(enough[i], 0.0) - BOUND_GUARD_MIN;
        }
        waits_beyond_at[any->level](any->band_wait, bands, needed, any->band_left, kept);
        for (i = 0; i < count; i++)
            runs[i]->set_margin[edge] =
                least_of_edge(runs[i], from, any->band_left + i * bands, kept[i], enough[i], &runs[i]->joints);
    }
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

/* ---- finishing ---- */

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

static int finish(struct run *r, int is_filled, double *last_end, integer *late) {
    const struct pour_model *m = r->model;
    const double table_end = m->clock_total[m->clock_points - 1];
    const integer crews = most(m->crews_count < m->strips_count ? m->crews_count : m->strips_count, 1);
    double highest_end = 0.0;
    integer s, i;
    int may_be_away;
    *late = 0;
    if (m->strips_count == 0)
        return POUR_DONE;
    may_be_away = m->crew_away_from[crews] > 0;
    finishing_minutes(r, m->strips_count);
    for (s = 0; s < m->strips_count; s++) {
        integer cell = m->strip_last_cell[s], load;
        double time, at, due, factor, lead;
        if (is_filled) {
            load = r->cell_load[cell];
            time = r->placed[cell];
            at = r->clock_at[cell];
        } else {
            load = m->usual_first_of[cell];
            time = placed_at(r, m->usual_last_of[cell], cell, m->usual_work_to_end[cell]);
            at = clock_at(m, time, clock_guess(m, time));
        }
        factor = r->placed_loads[load].factor;
        lead = r->placed_loads[load].lead_rate * (time - r->placed_loads[load].begun);
        due = at + (m->ready_clock_min - lead) / factor;
        if (due > table_end) {
            r->failed_value = m->clock_times[m->clock_points - 1] + m->clock_step_min;
            return POUR_OUTSIDE_CLOCK;
        }
        r->strip_ready[s] = larger(time, clock_when(m, due));
        r->strip_key[s] = rounded(r->strip_ready[s]);
        r->strip_clock[s] = at;
        r->strip_factor[s] = factor;
        r->strip_lead[s] = lead;
    }
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
        *late += r->strip_lead[s] + r->strip_factor[s] * (clock_at(m, end, clock_guess(m, end)) - r->strip_clock[s]) >
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

/* ---- results ---- */

/* One replication up to its joints, those too where it is not looked at together with others. */
static int place(struct run *r, integer replication) {
    const struct pour_model *m = r->model;
    integer i;
    int error = run_loads(r, replication);
    if (error)
        return error;
    r->is_usual = r->site.usual_used < 0.0;
    r->by_band = r->is_usual && !m->counts_age && m->limits_count == 0 && m->panels_count == 0;
    r->joints.least = r->joints.least_specified = INFINITY;
    r->joints.cold_area = r->joints.area_over = 0.0;
    own_clocks(r);
    for (i = 0; i < m->edges_count; i++)
        r->set_margin[i] = r->specified_margin[i] = INFINITY;
    if (r->by_band) {
        const integer last = m->cells_count - 1;
        return outside_clock(r, placed_at(r, m->usual_last_of[0], 0, m->usual_work_to_end[0]),
                             placed_at(r, m->usual_last_of[last], last, m->usual_work_to_end[last]))
                   ? POUR_OUTSIDE_CLOCK
                   : POUR_DONE;
    }
    error = place_all(r);
    if (!error)
        joints_by_stretch(r, &r->joints);
    return error;
}

/* What follows the joints, and the results. */
static int conclude(struct run *r, integer row, const struct pour_result *out) {
    const struct pour_model *m = r->model;
    struct joints joints = r->joints;
    integer i, late;
    const int has_load = r->site.longest_wait > -INFINITY, has_accepted = r->site.oldest > -INFINITY;
    double finished = r->site.last_end, evaporation = 0.0, area_open = 0.0;
    int error;
    if (m->panels_count > 0)
        begin_of_cells(r);
    for (i = 0; i < m->panels_count; i++)
        out->highest_rise_m_per_h[row * m->panels_count + i] = highest_rise(r, i);
    error = finish(r, !r->by_band, &finished, &late);
    if (!error)
        error = evaporate(r, !r->by_band, finished, &evaporation, &area_open);
    if (error)
        return error;
    for (i = 0; i < m->edges_count; i++) {
        out->edge_set_margin_min[row * m->edges_count + i] = r->set_margin[i];
        out->edge_specified_margin_min[row * m->edges_count + i] = r->specified_margin[i];
        joints.least = smaller(joints.least, r->set_margin[i]);
        joints.least_specified = smaller(joints.least_specified, r->specified_margin[i]);
    }
    out->end_of_pour_min[row] = r->site.last_end;
    out->first_discharge_min[row] = r->placed_loads[0].start;
    out->longest_wait_min[row] = has_load ? r->site.longest_wait : 0.0;
    out->longest_gap_min[row] = r->site.longest_gap;
    out->least_set_margin_min[row] = joints.least;
    out->cold_joint_area_m2[row] = joints.cold_area;
    out->least_specified_margin_min[row] = joints.least_specified;
    out->area_over_specification_m2[row] = joints.area_over;
    out->waste_m3[row] = r->site.delivered - r->site.taken;
    out->delivered_m3[row] = r->site.delivered;
    out->placed_m3[row] = r->site.taken - m->lead_m3;
    out->oldest_age_min[row] = has_accepted ? r->site.oldest : 0.0;
    out->paid_waiting_min[row] = r->site.paid;
    out->lowest_placing_c[row] = r->site.lowest_c;
    out->highest_placing_c[row] = r->site.highest_c;
    out->finishing_end_min[row] = finished;
    out->highest_evaporation_kg_per_m2_h[row] = evaporation;
    out->area_over_evaporation_m2[row] = area_open;
    out->loads_count[row] = r->site.served;
    out->refused_count[row] = r->site.served - r->refused[ACCEPTED];
    out->refused_age_count[row] = r->refused[TOO_OLD];
    out->refused_temperature_count[row] = r->refused[WRONG_TEMPERATURE];
    out->refused_consistence_count[row] = r->refused[WRONG_CONSISTENCE];
    out->over_age_count[row] = r->site.over_age;
    out->most_trucks_waiting[row] = r->site.most_waiting;
    out->most_trucks_on_site[row] = r->site.most_on_site;
    out->late_strips[row] = late;
    out->stops_count[row] = r->site.stops;
    out->loads_after_closing[row] = r->site.after_closing;
    return POUR_DONE;
}

/* ---- working memory ---- */

/* One block for all rows of a run, each with room for LANES more; first measured with no block, then handed out. */
struct block {
    char *start;
    size_t used;
};

static void *row_of(struct block *block, integer count, size_t width) {
    char *row = block->start ? block->start + block->used : NULL;
    block->used += (((size_t)count + LANES) * width + 15) & ~(size_t)15;
    return row;
}

struct sizes {
    integer loads, stops, plants, places, cells, strips, edges, bands;
};

#define EACH(list, count, width)                                                                                     \
    for (i = 0; i < sizeof list / sizeof *list; i++)                                                                 \
        *list[i] = row_of(block, count, width)

/* Rows that a replication needs from its loads to its results. */
static void lay_out_kept(struct run *r, const struct sizes *n, struct block *block) {
    double **by_edge[] = {&r->set_margin, &r->specified_margin}, **by_stop[] = {&r->repair_offset, &r->repair_min};
    size_t i;
    EACH(by_edge, n->edges, sizeof(double));
    EACH(by_stop, n->stops, sizeof(double));
    r->placed_loads = row_of(block, n->loads + 1, sizeof(struct placed_load));
    r->spans = row_of(block, n->loads, sizeof(struct span));
}

/* Rows that replications use one after the other. */
static void lay_out_shared(struct run *r, const struct sizes *n, struct block *block) {
    double **by_load[] = {&r->batching, &r->haul, &r->back, &r->speed, &r->factor, &r->temperature,
                          &r->road_reached, &r->entered, &r->left, &r->sent_at, &r->sent_m3};
    double **by_strip[] = {&r->strip_work, &r->strip_ready, &r->strip_key, &r->strip_since, &r->strip_clock, &r->strip_factor, &r->strip_lead, &r->crew_free};
    double **by_cell[] = {&r->placed, &r->clock_at, &r->offset, &r->wait, &r->cell_begun};
    size_t i;
    EACH(by_load, n->loads, sizeof(double));
    EACH(by_strip, n->strips, sizeof(double));
    EACH(by_cell, n->cells, sizeof(double));
    r->lines = row_of(block, n->loads, POUR_LINE_COLUMNS * sizeof(double));
    r->open = row_of(block, n->bands, sizeof(struct open_band));
    r->band_wait = row_of(block, n->bands, LANES * sizeof(double));
    r->band_left = row_of(block, n->bands, LANES * sizeof(int32_t));
    r->moments = row_of(block, n->loads + 2, sizeof(double));
    r->scratch = row_of(block, n->loads + n->stops + n->strips, sizeof(double));
    r->fleet_size = 2 * n->loads + SHIFTED;
    r->truck_free = row_of(block, n->plants * r->fleet_size, sizeof(double));
    r->fleets = row_of(block, n->plants, sizeof(struct fleet));
    r->loads = row_of(block, n->loads, sizeof(struct truck_load));
    r->road_number = row_of(block, n->loads, sizeof(integer));
    r->place_free = row_of(block, n->places + n->loads, sizeof(double));
    r->begun_until = row_of(block, n->loads, sizeof(integer));
    r->strip_order = row_of(block, n->strips, sizeof(integer));
    r->strip_spare = row_of(block, n->strips, sizeof(integer));
    r->cell_load = row_of(block, n->cells, sizeof(int32_t));
}
#undef EACH

static void lay_out(struct run *runs, integer count, const struct sizes *n, struct block *block) {
    integer i;
    block->used = 0;
    lay_out_shared(runs, n, block);
    for (i = 0; i < count; i++) {
        runs[i] = runs[0];
        lay_out_kept(runs + i, n, block);
    }
}

/* Working memory for so many replications at once: a block to be freed, or NULL. */
static void *room_for(struct run *runs, integer count, const struct sizes *n) {
    struct block block = {NULL, 0};
    memset(runs, 0, (size_t)count * sizeof *runs);
    lay_out(runs, count, n, &block);
    block.start = malloc(block.used);
    if (!block.start)
        return NULL;
    lay_out(runs, count, n, &block);
    return block.start;
}

static struct sizes sizes_for(const struct pour_model *models, integer models_count, const struct pour_draws *draws) {
    struct sizes n = {draws->loads_count, draws->stops_count, 0, 0, 0, 0, 0, 0};
    integer i;
    for (i = 0; i < models_count; i++) {
        n.plants = most(n.plants, models[i].plants_count);
        n.places = most(n.places, models[i].places_count < n.loads ? models[i].places_count : n.loads);
        n.cells = most(n.cells, models[i].cells_count);
        n.strips = most(n.strips, models[i].strips_count);
        n.edges = most(n.edges, models[i].edges_count);
        n.bands = most(n.bands, models[i].bands_count);
    }
    return n;
}

/* `count` replications of a model, from `replication` on, into the rows from `row` on; the joints of those that took the
 * usual course are looked at together. Returns the first that failed, or NULL. */
static struct run *replicate(struct run *runs, const struct pour_model *model, integer replication, integer count, integer row,
                             const struct pour_result *out) {
    struct run *together[LANES];
    integer i, waiting = 0;
    for (i = 0; i < count; i++) {
        struct run *r = runs + i;
        meet_weather(r, model, replication + i);
        r->error = place(r, replication + i);
        if (r->error)
            continue;
        if (r->by_band) {
            clock_spans(r, waiting);
            together[waiting++] = r;
        } else {
            r->error = conclude(r, row + i, out);
        }
    }
    if (waiting > 0)
        joints_by_band(together, waiting);
    for (i = 0; i < waiting; i++)
        together[i]->error = conclude(together[i], row + (together[i] - runs), out);
    for (i = 0; i < count; i++)
        if (runs[i].error)
            return runs + i;
    return NULL;
}

int64_t pour_run(const struct pour_model *models, int64_t models_count, const struct pour_draws *draws, int64_t from,
                 int64_t until, const struct pour_result *results, struct pour_failure *failure) {
    const struct sizes n = sizes_for(models, models_count, draws);
    struct run runs[LANES];
    void *room = room_for(runs, LANES, &n);
    integer i, k, replication;
    memset(failure, 0, sizeof *failure);
    if (!room)
        return failure->code = POUR_NO_MEMORY;
    memset(runs[0].lines, 0, (size_t)n.loads * POUR_LINE_COLUMNS * sizeof(double));
    for (k = 0; k < LANES; k++) {
        runs[k].draws = draws;
        runs[k].level = level_of(draws);
    }
    for (i = 0; i < models_count && !failure->code; i++) {
        for (k = 0; k < LANES; k++)
            take_model(runs + k, models + i);
        for (replication = from; replication < until && !failure->code; replication += LANES) {
            const integer count = until - replication < LANES ? until - replication : LANES;
            const struct run *failed = replicate(runs, models + i, replication, count, replication - from, results + i);
            if (failed) {
                failure->code = failed->error;
                failure->model = i;
                failure->replication = replication + (failed - runs);
                failure->value = failed->failed_value;
            }
        }
    }
    free(room);
    return failure->code;
}

int64_t pour_values(const struct pour_model *model, const struct pour_draws *draws, int64_t from, int64_t until,
                    double *const *streams) {
    const integer loads = draws->loads_count, stops = draws->stops_count, strips = draws->strips_count;
    const struct sizes n = {loads, stops, 0, 0, 0, strips, 0, 0};
    struct run run, *r = &run;
    void *room = room_for(r, 1, &n);
    integer replication, i;
    if (!room)
        return POUR_NO_MEMORY;
    take_model(r, model);
    r->draws = draws;
    r->level = level_of(draws);
    for (replication = from; replication < until; replication++) {
        const integer row = replication - from;
        const double *by_load[] = {r->batching, r->haul, r->back, r->speed, r->factor, r->temperature};
        meet_weather(r, model, replication);
        r->row = replication - draws->first;
        r->parent = split(split((uint64_t)draws->seed, 0), (uint64_t)replication);
        r->loads_drawn = 0;
        draw_day(r);
        draw_loads(r, loads);
        for (i = 0; i < 6; i++)
            memcpy(streams[i] + row * loads, by_load[i], (size_t)loads * sizeof(double));
        for (i = 0; i < loads; i++)
            streams[STREAM_CONSISTENCE][row * loads + i] = consistence_of(r, i);
        for (i = 0; i < stops; i++) {
            streams[STREAM_UP][row * stops + i] = up_min(r, i);
            streams[STREAM_REPAIR][row * stops + i] = repair_of(r, i);
        }
        finishing_minutes(r, model->strips_count);
        memcpy(streams[STREAM_FINISHING] + row * strips, r->strip_work, (size_t)model->strips_count * sizeof(double));
        streams[STREAM_WASTAGE][row] = scale_of(r);
    }
    free(room);
    return POUR_DONE;
}
