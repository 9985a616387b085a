/* The loads of LANES replications side by side, as long as they take the usual course: what loads.h does one by one.
 *
 * In the usual course all replications call off and serve the same loads, so each step is one for all of them. A load is
 * served a few steps after its call-off, while others may still overtake it on the road. That none did so later, and that
 * no truck came back before one that was taken already, shows afterwards; a replication where one did, or a load was sent
 * back, is `off` the course and left to loads.h. Numbers are those of loads.h, by the same sums.
 */
#ifndef ABREAST_H
#define ABREAST_H

#include "front.h"

/* So many loads at most are on the road before the first of them is served. */
#define MOST_AHEAD 5
/* So many loads on the road, or trucks, may one overtake. */
#define OVERTAKEN 5
/* Lines before the first of those that are put in order, earlier than all. */
#define LINES_BEFORE (OVERTAKEN + 1)

/* Rows of lines; a line has one number for each lane. */
struct abreast {
    double *drawn; /* no lines: of each lane a row, of one stream */
    struct course *course; /* the usual one */
    /* by number of the load: what is drawn, and when it is batched */
    double *batching, *haul, *back, *speed, *factor, *temperature, *begun, *batched;
    /* by time, with LINES_BEFORE: loads on the road, which is the order of service, and trucks */
    double *road_reached, *truck_free;
    integer *road_number;
    /* by order of service; of all but `start` the first lines are what was before, of `place_free` one for each place */
    double *start, *place_free, *entered, *left;
    integer *repairs_until;
    /* one line each */
    double plant_free[LANES], pump_free[LANES], up_left[LANES], last_end[LANES];
    double longest_wait[LANES], longest_gap[LANES], oldest[LANES], paid[LANES], lowest_c[LANES], highest_c[LANES];
    integer stops[LANES], over_age[LANES], most_waiting[LANES], most_on_site[LANES], after_closing[LANES], off[LANES];
};

/* Breakdowns of those whose pump does not last for the minutes of `pumping`. */
static void break_down_abreast(struct run *runs, integer count, struct abreast *a, const double *pumping, double *unbroken,
                               double *lost) {
    integer lane;
    for (lane = 0; lane < count; lane++) {
        if (a->up_left[lane] < pumping[lane])
            lost[lane] = break_downs(runs + lane, a->stops + lane, a->up_left + lane, a->longest_gap + lane, unbroken + lane);
        if (lost[lane] != lost[lane])
            a->off[lane] = 1;
    }
}

static void set_lines(double *line, integer lines, double value) {
    integer i;
    for (i = 0; i < lines * LANES; i++)
        line[i] = value;
}

/* What stands before the first load. */
static void begin_abreast(const struct pour_model *m, struct abreast *a, integer places, integer trucks) {
    integer j, lane;
    for (j = 0; j < m->usual_loads; j++)
        a->course[j] = (struct course){m->usual_position[j + 1], m->usual_work[j], 0.0};
    set_lines(a->road_reached - LINES_BEFORE * LANES, LINES_BEFORE, -INFINITY);
    set_lines(a->truck_free - LINES_BEFORE * LANES, LINES_BEFORE, -INFINITY);
    memset(a->road_number - LINES_BEFORE * LANES, 0, LINES_BEFORE * LANES * sizeof(integer));
    set_lines(a->truck_free, trucks, m->first_batching_min);
    set_lines(a->place_free, places, -INFINITY);
    set_lines(a->entered, 1, -INFINITY);
    set_lines(a->left, 1, -INFINITY);
    for (lane = 0; lane < LANES; lane++) {
        a->plant_free[lane] = m->plants[2];
        a->pump_free[lane] = -INFINITY;
        a->last_end[lane] = a->lowest_c[lane] = INFINITY;
        a->longest_wait[lane] = a->oldest[lane] = a->highest_c[lane] = -INFINITY;
        a->longest_gap[lane] = a->paid[lane] = 0.0;
        a->stops[lane] = a->over_age[lane] = a->most_waiting[lane] = a->most_on_site[lane] = a->after_closing[lane] = 0;
        a->repairs_until[lane] = 0;
    }
}

#define AT_LEVELS "steps.h"
#include "levels.h"

static void (*const loads_abreast_at[])(struct run *, integer, struct abreast *) = {loads_abreast_at_0, loads_abreast_at_1,
                                                                                   loads_abreast_at_2};

/* A model in which the loads of all replications may be looked at side by side. */
static int may_go_abreast(const struct pour_model *m, const struct pour_draws *d) {
    return is_plain(m) && m->usual_loads > 0 && m->usual_loads <= d->loads_count && !m->balance_after_measuring;
}

/* Lines of one stream: what the rows hold, or what normal numbers mean by the law of each replication. */
static void draw_lines(struct run *runs, const integer *run_of, struct abreast *a, integer stream, const double *rows,
                       struct law law, integer level, double *line) {
    const integer loads = runs->model->usual_loads, width = runs->draws->loads_count;
    const double *from[LANES];
    double mean[LANES], deviation[LANES];
    integer i, lane;
    for (lane = 0; lane < LANES; lane++) {
        const struct run *r = runs + run_of[lane];
        const struct law own = law_of_day(r, stream == STREAM_SET ? law_of_set(r->model) : law, level);
        double *drawn = a->drawn + lane * (width + LANES);
        mean[lane] = own.mean;
        deviation[lane] = own.deviation;
        if (runs->draws->is_value)
            from[lane] = rows + r->row * width;
        else if (own.deviation == 0.0)
            from[lane] = memset(drawn, 0, (size_t)loads * sizeof *drawn);
        else
            from[lane] = normals(r, stream, rows, width, 0, loads, drawn);
    }
    if (runs->draws->is_value) {
        for (i = 0; i < loads; i++)
            for (lane = 0; lane < LANES; lane++)
                line[i * LANES + lane] = from[lane][i];
        return;
    }
    exponential_lines_at[runs->level](from, loads, mean, deviation, line);
    for (lane = 0; lane < LANES; lane++)
        for (i = 0; deviation[lane] == 0.0 && i < loads; i++)
            line[i * LANES + lane] = mean[lane];
}

/* Temperatures from the plant. */
static void draw_temperatures(struct run *runs, const integer *run_of, struct abreast *a) {
    const struct pour_model *m = runs->model;
    const struct pour_draws *d = runs->draws;
    integer i, lane;
    if (!d->is_value && m->plant_sd_c == 0.0) {
        set_lines(a->temperature, m->usual_loads, m->plant_c);
        return;
    }
    for (lane = 0; lane < LANES; lane++) {
        const struct run *r = runs + run_of[lane];
        const double day = r->day[DAY_TEMPERATURE];
        const double *z = normals(r, STREAM_TEMPERATURE, d->temperature, d->loads_count, 0, m->usual_loads, a->drawn);
        for (i = 0; i < m->usual_loads; i++)
            a->temperature[i * LANES + lane] = d->is_value ? z[i] : m->plant_c + m->plant_sd_c * (day + m->load_deviation * z[i]);
    }
}

/* Draws of `count` replications from `replication` on; lanes beyond these do the last one again. */
static void draw_abreast(struct run *runs, integer replication, integer count, struct abreast *a) {
    const struct pour_model *m = runs->model;
    const struct pour_draws *d = runs->draws;
    const struct law speed = {m->speed_m, m->speed_s}, none = {0.0, 0.0};
    integer run_of[LANES], i, lane;
    for (lane = 0; lane < LANES; lane++) {
        struct run *r = runs + (run_of[lane] = lane < count ? lane : count - 1);
        begin_draws(r, replication + run_of[lane]);
        a->off[lane] = r->scale != m->usual_scale;
        a->up_left[lane] = up_min(r, 0);
    }
    draw_lines(runs, run_of, a, STREAM_BATCHING, d->batching, law_of_plant(m, 0, 0), DAY_BATCHING, a->batching);
    draw_lines(runs, run_of, a, STREAM_HAUL, d->haul, law_of_plant(m, 0, 2), DAY_HAUL, a->haul);
    draw_lines(runs, run_of, a, STREAM_BACK, d->back, law_of_plant(m, 0, 4), DAY_BACK, a->back);
    draw_lines(runs, run_of, a, STREAM_SPEED, d->speed, speed, DAY_SPEED, a->speed);
    draw_lines(runs, run_of, a, STREAM_SET, d->set, none, DAY_SET, a->factor);
    for (i = 0; m->rate_is_held && !d->is_value && i < m->usual_loads * LANES; i++)
        a->speed[i] = smaller(a->speed[i], 1.0);
    draw_temperatures(runs, run_of, a);
}

/* One lane as the run that loads.h would have left. */
static void take_lane(struct run *r, const struct abreast *a, integer lane) {
    const struct pour_model *m = r->model;
    const integer loads = m->usual_loads;
    struct site *s = &r->site;
    const int is_counted = m->counts_temperature || !goes_by_band(m);
    integer j;
    r->course = a->course;
    memset(s, 0, sizeof *s);
    memset(r->refused, 0, sizeof r->refused);
    r->refused[ACCEPTED] = s->called = s->served = s->accepted = loads;
    s->usual_used = m->usual_used[loads];
    s->taken = m->usual_position[loads];
    s->last_end = a->last_end[lane];
    s->longest_wait = a->longest_wait[lane];
    s->longest_gap = a->longest_gap[lane];
    s->oldest = a->oldest[lane];
    s->paid = a->paid[lane];
    s->lowest_c = a->lowest_c[lane];
    s->highest_c = a->highest_c[lane];
    s->stops = a->stops[lane];
    s->over_age = a->over_age[lane];
    s->most_waiting = a->most_waiting[lane];
    s->most_on_site = a->most_on_site[lane];
    s->after_closing = a->after_closing[lane];
    for (j = 0; j < loads; j++) {
        struct placed_load *placed = r->placed_loads + j;
        const integer at = j * LANES + lane, of_load = a->road_number[at] * LANES + lane;
        s->delivered += m->load_m3;
        placed->start = a->start[at];
        placed->end = a->place_free[at + r->places * LANES];
        placed->speed = a->speed[of_load];
        placed->factor = a->factor[of_load];
        placed->repairs_from = a->repairs_until[at];
        if (is_counted) {
            placed->lead_rate = 0.0;
            placed->begun = a->begun[of_load];
            placed->temperature = a->temperature[of_load];
        }
    }
    r->placed_loads[loads].repairs_from = s->stops;
}

/* `count` replications from `replication` on, but for those that are then off. */
static void run_abreast(struct run *runs, integer replication, integer count, struct abreast *a) {
    integer lane;
    draw_abreast(runs, replication, count, a);
    loads_abreast_at[runs->level](runs, count, a);
    for (lane = 0; lane < count; lane++)
        if (!a->off[lane])
            take_lane(runs + lane, a, lane);
}

#endif
