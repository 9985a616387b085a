/* The compiled core of the pour simulator.
 *
 * It does what loads.py, stream.py and front.py do, in the same order of arithmetic, and is held against them by the
 * tests; the rules stand there and in docs/placing-model.md, here only what makes it quick:
 * - queues are kept as rising rows instead of heaps, because new times nearly always go to the end;
 * - the loads of several replications are gone through side by side as long as all take the usual course;
 * - where all loads come full and are accepted (the usual course), which cell is in which load is known beforehand;
 * - pairs of touching cells are grouped by the loads that they lie in, and a group is looked at cell by cell only where
 *   the times of its two loads leave open whether it holds the least margin or a cold joint;
 * - the first look at the groups is taken for several replications at once.
 * By subject: run.h the state and its draws, loads.h from call-off to pump and abreast.h the same side by side, front.h cells
 * and clocks, joints.h edges, finish.h finishing and evaporation; here results, memory and what a caller sees, all built
 * as one. C99 with vectors (levels.h); no state outside the arguments, so any number of threads may call it.
 */
#include "pour.h"
#include "abreast.h"
#include "finish.h"
#include "joints.h"

#include <stdlib.h>

#define TEXT_D(name) "D:" #name " "
#define TEXT_I(name) "I:" #name " "
#define TEXT_F(name) "F:" #name " "
#define TEXT_L(name) "L:" #name " "
#define TEXT_S(name) "S:" #name " "

/* The hash of all these files when the library was built: a stale library is not used. */
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

/* ---- results ---- */

/* One replication from its loads up to its joints, those too where it is not looked at together with others. */
static int place(struct run *r) {
    const struct pour_model *m = r->model;
    integer i;
    int error;
    r->is_usual = r->site.usual_used < 0.0;
    r->by_band = r->is_usual && goes_by_band(m);
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
    for (i = 0; i < m->watched_count; i++) {
        const integer cell = m->watched[i];
        out->watched_min[row * m->watched_count + i] =
            r->by_band ? placed_at(r, m->usual_last_of[cell], cell, m->usual_work_to_end[cell]) : r->placed[cell];
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

/* One block for all rows of a run, each with room for LANES more; first measured with no block, then handed out. A row
 * begins where a line of the cache does, and so do lines of LANES numbers. */
#define LINE_BYTES 64
struct block {
    char *start;
    size_t used;
};

static void *row_of(struct block *block, integer count, size_t width) {
    char *row = block->start ? block->start + block->used : NULL;
    block->used += (((size_t)count + LANES) * width + LINE_BYTES - 1) & ~(size_t)(LINE_BYTES - 1);
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
    r->own_course = row_of(block, n->loads, sizeof(struct course));
    r->spans = row_of(block, n->loads, sizeof(struct span));
}

/* Rows that replications use one after the other. */
static void lay_out_shared(struct run *r, const struct sizes *n, struct block *block) {
    double **by_load[] = {&r->batching, &r->haul, &r->back, &r->speed, &r->factor, &r->temperature,
                          &r->road_reached, &r->entered, &r->left, &r->sent_at, &r->sent_m3};
    double **by_strip[] = {&r->strip_work, &r->strip_placed, &r->strip_ready, &r->strip_key, &r->strip_since, &r->strip_clock, &r->strip_factor, &r->strip_lead, &r->crew_free};
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

/* A row of lines, and some before its first. */
static void *lines_of(struct block *block, integer count) {
    double *row = row_of(block, (LINES_BEFORE + count) * LANES, sizeof(double));
    return row ? row + LINES_BEFORE * LANES : row;
}

/* What loads that are looked at side by side need. */
static void lay_out_abreast(struct abreast *a, integer loads, integer places, struct block *block) {
    double **by_load[] = {&a->batching, &a->haul, &a->back, &a->speed, &a->factor, &a->temperature, &a->begun,
                          &a->batched, &a->road_reached, &a->start, &a->entered, &a->left};
    size_t i;
    for (i = 0; i < sizeof by_load / sizeof *by_load; i++)
        *by_load[i] = lines_of(block, loads + 1);
    a->road_number = lines_of(block, loads);
    a->repairs_until = lines_of(block, loads + 1);
    a->place_free = lines_of(block, loads + places);
    a->drawn = row_of(block, LANES * (loads + LANES), sizeof(double));
    a->course = row_of(block, loads, sizeof(struct course));
    a->truck_free = lines_of(block, 2 * loads);
}

static void lay_out(struct run *runs, integer count, struct abreast *a, const struct sizes *n, struct block *block) {
    integer i;
    block->used = 0;
    lay_out_shared(runs, n, block);
    if (a)
        lay_out_abreast(a, n->loads, n->places, block);
    for (i = 0; i < count; i++) {
        runs[i] = runs[0];
        lay_out_kept(runs + i, n, block);
    }
}

/* Working memory for so many replications at once: a block to be freed, or NULL. */
static void *room_for(struct run *runs, integer count, struct abreast *a, const struct sizes *n) {
    struct block block = {NULL, 0};
    char *room;
    memset(runs, 0, (size_t)count * sizeof *runs);
    lay_out(runs, count, a, n, &block);
    room = malloc(block.used + LINE_BYTES);
    if (!room)
        return NULL;
    block.start = room + (LINE_BYTES - (uintptr_t)room % LINE_BYTES);
    lay_out(runs, count, a, n, &block);
    return room;
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
static struct run *replicate(struct run *runs, struct abreast *a, const struct pour_model *model, integer replication,
                             integer count, integer row, const struct pour_result *out) {
    struct run *together[LANES];
    const int abreast = may_go_abreast(model, runs->draws);
    integer i, waiting = 0;
    for (i = 0; i < count; i++)
        meet_weather(runs + i, model, replication + i);
    if (abreast)
        run_abreast(runs, replication, count, a);
    for (i = 0; i < count; i++) {
        struct run *r = runs + i;
        fetch_draws(r, replication + i + LANES, model->usual_loads);
        r->error = abreast && !a->off[i] ? POUR_DONE : run_loads(r, replication + i);
        if (!r->error)
            r->error = place(r);
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
    struct abreast abreast;
    void *room = room_for(runs, LANES, &abreast, &n);
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
            const struct run *failed = replicate(runs, &abreast, models + i, replication, count, replication - from, results + i);
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
    void *room = room_for(r, 1, NULL, &n);
    integer replication, i;
    if (!room)
        return POUR_NO_MEMORY;
    r->draws = draws;
    take_model(r, model);
    r->level = level_of(draws);
    for (replication = from; replication < until; replication++) {
        const integer row = replication - from;
        const double *by_load[] = {r->batching, r->haul, r->back, r->speed, r->factor, r->temperature};
        meet_weather(r, model, replication);
        begin_draws(r, replication);
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
        streams[STREAM_WASTAGE][row] = r->scale;
    }
    free(room);
    return POUR_DONE;
}
