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
    /* by number of the load: what is drawn, and when it is batched */
    double *batching, *haul, *back, *speed, *factor, *temperature, *begun, *batched;
    /* by time: loads on the road, so by order of service, and trucks; there is a line before the first */
    double *road_reached, *truck_free;
    integer *road_number;
    /* by order of service; the first lines of the last four are what was before, of `place_free` one for each place */
    double *start, *place_free, *entered, *left;
    integer *repairs_until;
    struct course *course;
    /* figures */
    double plant_free[LANES], pump_free[LANES], up_left[LANES], last_end[LANES], longest_wait[LANES], longest_gap[LANES], oldest[LANES], paid[LANES];
    double lowest_c[LANES], highest_c[LANES];
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

/* Draws of replication `replication` into this lane. */
static void draw_abreast(struct run *r, integer replication, struct abreast *a, integer lane) {
    const integer loads = r->model->usual_loads;
    const double *from[] = {r->batching, r->haul, r->back, r->speed, r->temperature};
    double *to[] = {a->batching, a->haul, a->back, a->speed, a->temperature};
    integer i, k;
    fetch_draws(r, replication + LANES, loads);
    begin_draws(r, replication);
    a->off[lane] = r->scale != r->model->usual_scale;
    a->up_left[lane] = up_min(r, 0);
    draw_loads(r, loads);
    for (k = 0; k < loads; k++) {
        for (i = 0; i < 5; i++)
            to[i][k * LANES + lane] = from[i][k];
        a->factor[k * LANES + lane] = r->factor[k];
    }
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
    for (lane = 0; lane < LANES; lane++)
        draw_abreast(runs + (lane < count ? lane : count - 1), replication + (lane < count ? lane : count - 1), a, lane);
    loads_abreast_at[runs->level](runs, count, a);
    for (lane = 0; lane < count; lane++)
        if (!a->off[lane])
            take_lane(runs + lane, a, lane);
}

#endif
