/* The compiled core of the pour simulator: what the caller hands over and gets back.
 *
 * Every field is 8 bytes wide (double, int64_t or pointer), and the library describes its own structures as text
 * (`pour_layout`): the caller lays them out from that, so that the two sides cannot drift apart.
 * The caller answers for the lengths of all arrays; the fields' meaning is that of model.py, stream.py, front.py.
 */
#ifndef POUR_H
#define POUR_H

#include <stdint.h>

/* D a double, I an integer, F doubles, L long integers, S short integers (int32). */
#define POUR_MODEL(D, I, F, L, S)                                                                                    \
    /* supply */                                                                                                     \
    I(plants_count) F(plants) I(pattern_count) L(pattern) D(load_m3) D(interval_min) D(first_batching_min)           \
    I(bans_count) F(bans) I(has_step) D(call_off_step_m3) D(smallest_load_m3) I(balance_after_measuring) I(due_count) F(due)             \
    /* site */                                                                                                       \
    I(places_count) D(position_min) D(wash_min) I(rate_is_held) I(breaks_count) F(breaks) I(weather_stops_count) F(weather_stops) I(gang_count) F(gang_hours) D(wastage) D(wastage_sd)   \
    D(waiting_free_min) D(rise_window_min) D(up_mean_min)                                                            \
    /* acceptance */                                                                                                 \
    D(longest_age_min) I(age_from_loading) I(judged_at_end) D(lowest_c) D(highest_c) D(refusal_probability)                              \
    /* concrete */                                                                                                   \
    I(clock_points) D(clock_step_min) D(clock_per_min) F(clock_times) F(clock_total) F(clock_slope) F(clock_rate) F(when_slope)       \
    L(when_start) I(when_parts) D(when_per_min) D(clock_bend) D(clock_fastest)                                  \
    D(set_limit_min) D(set_factor_sd) I(counts_age) I(counts_temperature) D(activation_k) D(plant_c) D(plant_sd_c)   \
    D(change_per_h) I(air_points) F(air_c) I(limits_count) F(limits_up_to_c) F(limits_min)                           \
    /* members of an ensemble of weather: replication r meets row (r - members_first) mod members_count of clock_total,  \
     * clock_slope, clock_rate, when_slope, air_c, evaporation and of the numbers in member_values; 0: all meet one weather */ \
    I(members_count) I(members_first) F(member_values)                                                               \
    /* square roots of the day's share of the variance of a load's figures and of the rest */                          \
    D(day_deviation) D(load_deviation)                                                                               \
    /* what has been seen: loads by arrival (a row of POUR_SEEN_COLUMNS each) and the order in which those at their end  \
     * were served; full cells with their moments, the loads that began them as numbers among the accepted ones, and     \
     * begins of the cells that were begun; has_seen 0: nothing */                                                     \
    I(has_seen) D(now_min) I(seen_loads) F(seen) I(seen_served) L(seen_order) I(seen_full) F(seen_placed)              \
    I(seen_owned) S(seen_owner) F(seen_begun)                                                                        \
    /* cells whose moments the caller wants to know */                                                               \
    I(watched_count) L(watched)                                                                                      \
    /* lognormal laws: logarithm's mean and standard deviation; standard deviation 0: the mean is the value itself */ \
    F(plant_laws) D(speed_m) D(speed_s) D(repair_m) D(repair_s) D(strip_m) D(strip_s)                                \
    /* cells; the columns net_until, work_until and moves_until begin with 0, one longer than the cells */           \
    I(cells_count) D(lead_m3) D(lead_min_per_m3) D(lead_min) D(net_m3) F(net_until) F(work_until) F(moves_until)     \
    F(min_per_m3) I(has_moves) L(cell_start) I(cell_parts) D(cell_per_m3)                                            \
    /* joints by edge and distance; a stretch of them steps on by one cell each */                                                 \
    I(edges_count) I(stretches_count) S(stretches) F(sorted_area)                              \
    /* panels: cells of panel p stand from panel_from[p] to panel_from[p + 1] */                                     \
    I(panels_count) L(panel_from) S(panel_cell) F(panel_before) F(panel_after)                                       \
    /* finishing */                                                                                                  \
    I(strips_count) F(strip_min) L(strip_first_cell) L(strip_last_cell) D(ready_clock_min) D(latest_clock_min) I(crews_count) F(crew_away) L(crew_away_from) F(strip_area) I(evaporation_points) F(evaporation) D(evaporation_action)            \
    /* the usual course, all loads full and accepted: its m-th load; 0 loads where wastage is drawn */               \
    I(usual_loads) D(usual_scale) F(usual_used) F(usual_position) F(usual_work) L(usual_begun) L(usual_last_from)    \
    S(usual_first_of) S(usual_last_of) \
    F(usual_work_to_end) I(bands_count) L(edge_bands) S(band_loads) S(band_lines) F(band_shares) F(band_reach) F(band_area) L(band_runs) I(runs_count) S(runs)

/* Streams of draws: rows from which replication `r` takes row r - `first`; a stream with no rows is hashed. `is_value`:
 * rows hold minutes and factors instead of normal numbers. `level`: instructions used, up to pour_level(). */
#define POUR_DRAWS(D, I, F, L, S)                                                                                    \
    I(seed) I(first) I(loads_count) I(stops_count) I(strips_count) I(is_hashed) I(is_value) I(level) F(quantile)              \
    F(batching) F(haul) F(back) F(speed) F(set) F(temperature) F(consistence) F(up) F(repair) F(finishing) F(wastage) F(day)

/* Columns of the result by replication; the last four have a row for each, one number a panel, edge or watched cell. */
#define POUR_RESULT(D, I, F, L, S)                                                                                   \
    F(end_of_pour_min) F(first_discharge_min) F(longest_wait_min) F(longest_gap_min)                       \
    F(least_set_margin_min) F(cold_joint_area_m2) F(least_specified_margin_min) F(area_over_specification_m2)        \
    F(waste_m3) F(delivered_m3) F(placed_m3) F(oldest_age_min) F(paid_waiting_min) F(lowest_placing_c)               \
    F(highest_placing_c) F(finishing_end_min) F(highest_evaporation_kg_per_m2_h) F(area_over_evaporation_m2) L(loads_count) L(refused_count) L(refused_age_count)                   \
    L(refused_temperature_count) L(refused_consistence_count) L(over_age_count) L(most_trucks_waiting)               \
    L(most_trucks_on_site) L(late_strips) L(stops_count) L(loads_after_closing)                                      \
    F(highest_rise_m_per_h) F(edge_set_margin_min) F(edge_specified_margin_min) F(watched_min)

#define POUR_FIELD_D(name) double name;
#define POUR_FIELD_I(name) int64_t name;
#define POUR_FIELD_F(name) const double *name;
#define POUR_FIELD_L(name) const int64_t *name;
#define POUR_FIELD_S(name) const int32_t *name;
#define POUR_OUT_F(name) double *name;
#define POUR_OUT_L(name) int64_t *name;

/* Columns of `plants`: trucks, expected batching + haul, opens, closes. Of `plant_laws`: mean and deviation of the
 * logarithm of batching, haul, return. */
#define POUR_PLANT_COLUMNS 4
#define POUR_LAW_COLUMNS 6
/* Columns of `member_values`: set_factor_sd, activation_k, ready_clock_min, latest_clock_min, clock_bend, clock_fastest. */
#define POUR_MEMBER_COLUMNS 6
/* Figures of a load of which a day has a level of its own, by column of the stream `day`. */
#define POUR_DAY_LEVELS 6
/* Columns of `seen`: begin and end of batching, at the gate, start and end of discharge, left, volume, used, refused,
 * temperature; not a number where it has not been seen. */
#define POUR_SEEN_COLUMNS 10
/* Columns of `gang_hours`: from when on, rate. Crew c is away in the intervals crew_away_from[c] to crew_away_from[c + 1] - 1. */
/* A band is all pairs of one edge whose first cells are begun by one load and ended by one load, whose later cells are
 * ended by one load, and that lie equally far apart; those of edge e stand from edge_bands[e] to edge_bands[e + 1] - 1.
 * Columns of `band_loads`: those three loads; of `band_lines` the same by first column of their line. Of `band_shares`: share of its load's work done at the end of the first and
 * the last of the first cells, then of the later cells, and by what to multiply the bend of the first and of the later
 * cells' load; that is infinite where the shares between do not lie on a straight line. Of `band_reach`: the first four of these
 * shares and 0, or none and all and infinity where they lie on no line. A band's runs stand from
 * band_runs[b] to band_runs[b + 1] - 1.
 * Columns of `runs`: first cell, later cell, pairs, place in `sorted_area`; a run's pairs step on by one cell each. */
#define POUR_LOAD_COLUMNS 3
#define POUR_SHARE_COLUMNS 6
#define POUR_REACH_COLUMNS 5
#define POUR_LINE_COLUMNS 32
#define POUR_RUN_COLUMNS 4
/* First cell, later cell, pairs, place in `sorted_area`, edge. */
#define POUR_STRETCH_COLUMNS 5
/* The quantile's table: octaves of the probability, parts of an octave, coefficients of a part by rising power. */
#define POUR_OCTAVES 53
#define POUR_OCTAVE_PARTS 32
#define POUR_COEFFICIENTS 8

struct pour_model { POUR_MODEL(POUR_FIELD_D, POUR_FIELD_I, POUR_FIELD_F, POUR_FIELD_L, POUR_FIELD_S) };
struct pour_draws { POUR_DRAWS(POUR_FIELD_D, POUR_FIELD_I, POUR_FIELD_F, POUR_FIELD_L, POUR_FIELD_S) };
struct pour_result { POUR_RESULT(POUR_FIELD_D, POUR_FIELD_I, POUR_OUT_F, POUR_OUT_L, POUR_FIELD_S) };

enum pour_error {
    POUR_DONE = 0,
    POUR_NO_MEMORY = 1,
    POUR_LOADS_RUN_OUT = 2,
    POUR_STOPS_RUN_OUT = 3,
    POUR_OUTSIDE_CLOCK = 4,
    POUR_OUTSIDE_AIR = 5,
    POUR_NOTHING_PLACED = 6,
    POUR_OUTSIDE_EVAPORATION = 7
};

struct pour_failure {
    int64_t code;
    int64_t model;
    int64_t replication;
    double value;
};

/* The hash of the source that this library was built from. */
const char *pour_source(void);

/* The widest instructions that this processor has: 0 the platform's plain ones, 1 AVX2, 2 AVX-512. No result depends on them. */
int64_t pour_level(void);

/* Text "D:name I:name ..." of structure 0 model, 1 draws, 2 result. */
const char *pour_layout(int64_t structure);

/* Replications `from` to `until` - 1 of each model; result row of replication r is r - `from`. The first failure ends it. */
int64_t pour_run(const struct pour_model *models, int64_t models_count, const struct pour_draws *draws, int64_t from,
                 int64_t until, const struct pour_result *results, struct pour_failure *failure);

/* Minutes and factors that these draws mean for the model, to be read as draws with `is_value`: by stream the rows of
 * replications `from` to `until` - 1; of wastage the ratio of gross to net volume. */
int64_t pour_values(const struct pour_model *model, const struct pour_draws *draws, int64_t from, int64_t until,
                    double *const *streams);

/* For the tests: `count` hashed numbers of one stream, as standard normal, exponential or uniform ones (kind z, e, u). */
void pour_hashed(uint64_t seed, uint64_t replication, uint64_t stream, int64_t count, char kind, int64_t level,
                 const double *quantile, double *out);

#endif
