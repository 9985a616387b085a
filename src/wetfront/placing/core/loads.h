/* From the call-off of a load until the pump is done with it, as in loads.py. */
#ifndef LOADS_H
#define LOADS_H

#include "run.h"

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

/* Breakdowns during so many minutes of pumping: how long they last in all, not a number where the draws run out. Leaves the
 * minutes of pumping that come after the last of them. */
static double break_downs(struct run *r, integer *stops, double *up_left, double *longest_gap, double *pumping) {
    const double whole = *pumping;
    double lost = 0.0, offset = 0.0;
    while (*up_left < whole - offset) {
        double duration;
        if (*stops + 1 >= r->draws->stops_count)
            return NAN;
        offset += *up_left;
        duration = repair_of(r, *stops);
        r->repair_offset[(*stops)++] = offset;
        *longest_gap = larger(*longest_gap, duration);
        lost += duration;
        *up_left = up_min(r, *stops);
    }
    *pumping = whole - offset;
    return lost;
}

/* The next truck in order of arrival: place, pump, judgement, discharge, return. */
INLINE int serve(struct run *r, struct site *s, int plain) {
    const struct pour_model *m = r->model;
    const integer number = r->road_number[s->road_head++], plant = plain ? 0 : plant_of(m, number);
    struct truck_load *load = r->loads + number;
    struct placed_load *placed = r->placed_loads + s->accepted;
    struct course *course = r->own_course + s->accepted;
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
        double lost = 0.0, unbroken = pumping, age;
        course->until_m3 = position;
        course->work_from = s->work_done;
        course->moves_before = !plain && m->has_moves ? m->moves_until[s->cells_begun] : 0.0;
        placed->start = start;
        placed->speed = speed;
        placed->factor = r->factor[number];
        placed->lead_rate = 0.0;
        placed->begun = load->begun;
        placed->temperature = temperature;
        placed->repairs_from = s->stops;
        if (s->up_left < pumping)
            lost = break_downs(r, &s->stops, &s->up_left, &s->longest_gap, &unbroken);
        if (lost != lost)
            return POUR_STOPS_RUN_OUT;
        s->up_left -= unbroken;
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
    begin_draws(r, replication);
    r->course = r->own_course;
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
    for (i = 0; i < r->places; i++)
        r->place_free[i] = -INFINITY;
    s->up_left = up_min(r, 0);
    planned = s->needed_m3 < m->load_m3 * (double)d->loads_count ? (integer)ceil(s->needed_m3 / m->load_m3) : d->loads_count;
    draw_loads(r, planned < d->loads_count ? planned : d->loads_count);
}

/* A load whose discharge has been seen to its end. */
static void serve_seen(struct run *r, struct site *s, integer number) {
    const struct pour_model *m = r->model;
    const double *seen = m->seen + number * POUR_SEEN_COLUMNS;
    struct truck_load *load = r->loads + number;
    struct placed_load *placed = r->placed_loads + s->accepted;
    struct course *course = r->own_course + s->accepted;
    struct fleet *fleet = r->fleets + plant_of(m, number);
    const double used = seen[SEEN_REFUSED] == ACCEPTED ? seen[SEEN_USED] : 0.0, end = seen[SEEN_END];
    const double left = seen[SEEN_LEFT] == seen[SEEN_LEFT] ? seen[SEEN_LEFT] : end + m->wash_min;
    const double truck_free = left + r->back[number], temperature = temperature_of(r, number, load->batched, seen[SEEN_START]);
    load->start = seen[SEEN_START];
    r->refused[(integer)seen[SEEN_REFUSED]]++;
    if (seen[SEEN_REFUSED] == ACCEPTED) {
        s->position_m3 += used;
        memset(placed, 0, sizeof *placed);
        course->until_m3 = s->position_m3;
        course->work_from = course->moves_before = 0.0;
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

/* A model that need not be asked about bans, breaks, moves, a second plant and the like, load by load. */
static int is_plain(const struct pour_model *m) {
    return m->plants_count == 1 && m->bans_count == 0 && m->breaks_count == 0 && m->weather_stops_count == 0 &&
           m->due_count == 0 && m->gang_count == 0 && !m->has_seen && !m->has_step && !m->has_moves &&
           m->change_per_h == 0.0 && !(m->refusal_probability > 0.0);
}

static int run_loads(struct run *r, integer replication) {
    return is_plain(r->model) ? loads_of(r, replication, 1) : loads_of(r, replication, 0);
}

#endif
