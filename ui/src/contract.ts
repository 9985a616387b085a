// Written by tools/app-contract from nouns/board.py and journal/kinds.py. Do not edit.

/** A local moment with offset, ISO 8601. */
export type Moment = string;

export const BOARD_SCHEMA = 2;

export type Phase = "plan" | "ready" | "pour" | "cure" | "prove";

export interface Moments {
  readonly early: Moment;
  readonly usual: Moment;
  readonly late: Moment;
}

export interface Band {
  readonly low: number;
  readonly usual: number;
  readonly high: number;
}

export interface Advice {
  readonly caution: string;
  readonly text: string;
  readonly spoken: string;
  readonly by: Moment | null;
  readonly reason: string;
  readonly else_text: string;
}

export interface CheckView {
  readonly item: string;
  readonly group: string;
  readonly title: string;
  readonly acceptance: string;
  readonly result: "pass" | "fail" | "open" | "action" | "not-applicable";
  readonly measured: string;
  readonly unit: string;
  readonly by: string;
  readonly at: Moment | null;
  readonly note: string;
  readonly photos: readonly (string)[];
  readonly hold_point: string;
}

export interface HoldView {
  readonly id: string;
  readonly title: string;
  readonly released_by_role: string;
  readonly state: "open" | "released" | "overridden";
  readonly by: string;
  readonly at: Moment | null;
  readonly why: string;
  readonly before_placing: boolean;
}

export interface LoadView {
  readonly number: number;
  readonly ticket_number: string;
  readonly state: "planned" | "on the road" | "waiting" | "discharging" | "placed" | "refused" | "held" | "left";
  readonly volume_m3: number;
  readonly arrives: Moments | null;
  readonly expected_by: "" | "forecast" | "plan";
  readonly arrived: Moment | null;
  readonly batched: Moment | null;
  readonly too_old_at: Moment | null;
  readonly verdict: string;
  readonly rules_say: "" | "accept" | "check-test" | "refuse";
  readonly lacks: readonly (string)[];
  readonly decision: string;
  readonly contested: boolean;
  readonly place: string;
  readonly sample: string;
  readonly cells: readonly (number)[];
  readonly water_left_l: number | null;
}

export interface LimitView {
  readonly quantity: "slump" | "flow" | "slump-flow" | "air" | "temperature" | "age";
  readonly low: number | null;
  readonly high: number | null;
  readonly unit: string;
  readonly whose: string;
}

export interface Figure {
  readonly phase: "plan" | "ready" | "pour" | "cure" | "prove";
  readonly title: string;
  readonly text: string;
  readonly at: Moment | null;
  readonly reason: string;
}

export interface CellView {
  readonly index: number;
  readonly element: string;
  readonly place: string;
  readonly outline_m: readonly (readonly [number, number])[];
  readonly layer: number;
  readonly volume_m3: number;
  readonly state: "open" | "placed";
  readonly ticket_number: string;
  readonly placed_at: Moment | null;
  readonly edge_open: boolean;
  readonly join_by_specification: Moment | null;
  readonly join_by_setting: Moments | null;
}

export interface EdgeView {
  readonly name: string;
  readonly cells: readonly (number)[];
  readonly waits_since: Moment;
  readonly join_by_specification: Moment | null;
  readonly join_by_setting: Moments | null;
  readonly joined_at: Moments | null;
  readonly closed: boolean;
  readonly waited_min: number | null;
  readonly chance_over_specification: number;
  readonly chance_of_cold_joint: number;
  readonly by_forecast: boolean;
  readonly text: string;
}

export interface FormView {
  readonly element: string;
  readonly rise_m_per_h: number;
  readonly permitted_rise_m_per_h: number | null;
  readonly pressure_kn_per_m2: number | null;
  readonly permitted_kn_per_m2: number;
  readonly method: string;
  readonly text: string;
}

export interface SawCutView {
  readonly joint: string;
  readonly method: "conventional" | "early-entry";
  readonly opens: Moments | null;
  readonly closes: Moment | null;
  readonly cut_at: Moment | null;
  readonly text: string;
}

export interface FinishView {
  readonly place: string;
  readonly bleed_ends: Moments | null;
  readonly opens: Moments;
  readonly closes: Moments;
  readonly saw_cuts: readonly (SawCutView)[];
  readonly by_forecast: boolean;
  readonly text: string;
}

export interface SurfaceNow {
  readonly evaporation_kg_per_m2_h: number | null;
  readonly action_kg_per_m2_h: number;
  readonly stop_kg_per_m2_h: number;
  readonly text: string;
}

export interface Learned {
  readonly name: string;
  readonly unit: string;
  readonly planned: Band;
  readonly now: Band;
  readonly seen_count: number;
}

export interface ForecastView {
  readonly members_count: number;
  readonly end_of_placing: Moments;
  readonly end_of_finishing: Moments | null;
  readonly remaining_m3: Band;
  readonly balance_load_m3: Band;
  readonly call_next_by: Moment | null;
  readonly next_arrival: Moments | null;
  readonly on_road_count: number;
  readonly waiting_count: number;
  readonly chance_of_cold_joint: number;
  readonly chance_over_specification: number;
  readonly chance_out_of_hours: number;
  readonly learned: readonly (Learned)[];
  readonly text: string;
}

export interface Option {
  readonly title: string;
  readonly needs: string;
  readonly end_of_placing: Moments;
  readonly chance_of_cold_joint: number;
  readonly chance_over_specification: number;
  readonly chance_out_of_hours: number;
  readonly oldest_load_min: Band;
  readonly trucks_waiting: Band;
  readonly cost_cu: Band;
  readonly text: string;
}

export interface Comparison {
  readonly question: string;
  readonly caution: string;
  readonly options: readonly (Option)[];
  readonly recommended: number;
  readonly reason: string;
}

export interface Question {
  readonly kind: "next truck late" | "pump down" | "rain" | "stop here";
  readonly minutes: number | null;
  readonly at: Moment | null;
}

export interface Board {
  readonly schema: number;
  readonly pour: string;
  readonly title: string;
  readonly project: string;
  readonly time_zone: string;
  readonly language: string;
  readonly invented: boolean;
  readonly phase: "plan" | "ready" | "pour" | "cure" | "prove";
  readonly made_at: Moment;
  readonly records_count: number;
  readonly last_told: Moment | null;
  readonly weather_issued: Moment | null;
  readonly plan_verdict: string;
  readonly plan_revision: string;
  readonly may_place: boolean;
  readonly blocked_by: readonly (string)[];
  readonly advice: Advice;
  readonly stopped_since: Moment | null;
  readonly checks: readonly (CheckView)[];
  readonly holds: readonly (HoldView)[];
  readonly loads: readonly (LoadView)[];
  readonly cells: readonly (CellView)[];
  readonly edges: readonly (EdgeView)[];
  readonly forms: readonly (FormView)[];
  readonly finishing: readonly (FinishView)[];
  readonly finishing_rests_on: readonly (string)[];
  readonly surface: SurfaceNow | null;
  readonly forecast: ForecastView | null;
  readonly look_at: readonly (string)[];
  readonly cautions: readonly (string)[];
  readonly lattice: string;
  readonly limits: readonly (LimitView)[];
  readonly may_wait_min: number | null;
  readonly figures: readonly (Figure)[];
}

/** Whether a field must be there, its length or range, its choices. */
export interface Field {
  readonly type: "text" | "number" | "whole" | "moment" | "choice" | "numbers";
  readonly needed: boolean;
  readonly least?: number;
  readonly above?: number;
  readonly most?: number;
  readonly choices?: readonly string[];
}

export interface Kind {
  readonly schema: number;
  readonly fields: Readonly<Record<string, Field>>;
}

export const KINDS: Readonly<Record<string, Kind>> = {
  "added-on-site": {"schema": 1, "fields": {"ticket_number": {"needed": true, "least": 1, "most": 60, "type": "text"}, "substance": {"needed": true, "type": "choice", "choices": ["water", "admixture"]}, "amount_l": {"needed": true, "above": 0, "most": 1000, "type": "number"}, "product": {"needed": false, "least": 0, "most": 60, "type": "text"}, "asked_by": {"needed": false, "least": 0, "most": 60, "type": "text"}, "agreed_by": {"needed": false, "least": 0, "most": 60, "type": "text"}}},
  "called-off": {"schema": 1, "fields": {"order": {"needed": true, "type": "choice", "choices": ["send", "faster", "slower", "hold", "balance", "stop"]}, "volume_m3": {"needed": false, "above": 0, "most": 1000, "type": "number"}, "interval_min": {"needed": false, "above": 0, "most": 600, "type": "number"}, "note": {"needed": false, "least": 0, "most": 400, "type": "text"}}},
  "check-recorded": {"schema": 1, "fields": {"item": {"needed": true, "least": 1, "most": 60, "type": "text"}, "result": {"needed": true, "type": "choice", "choices": ["pass", "fail", "open", "action", "not-applicable"]}, "measured": {"needed": false, "least": 0, "most": 80, "type": "text"}, "note": {"needed": false, "least": 0, "most": 400, "type": "text"}}},
  "curing": {"schema": 1, "fields": {"place": {"needed": true, "least": 1, "most": 60, "type": "text"}, "step": {"needed": true, "type": "choice", "choices": ["started", "changed", "ended"]}, "method": {"needed": false, "least": 0, "most": 120, "type": "text"}}},
  "form-struck": {"schema": 1, "fields": {"place": {"needed": true, "least": 1, "most": 60, "type": "text"}, "permit": {"needed": false, "least": 0, "most": 120, "type": "text"}}},
  "hold-overridden": {"schema": 1, "fields": {"hold_point": {"needed": true, "least": 1, "most": 60, "type": "text"}, "why": {"needed": true, "least": 1, "most": 400, "type": "text"}}},
  "hold-released": {"schema": 1, "fields": {"hold_point": {"needed": true, "least": 1, "most": 60, "type": "text"}}},
  "load-arrived": {"schema": 1, "fields": {"ticket_number": {"needed": true, "least": 1, "most": 60, "type": "text"}, "volume_m3": {"needed": true, "above": 0, "most": 20, "type": "number"}, "plant": {"needed": false, "least": 0, "most": 60, "type": "text"}, "truck": {"needed": false, "least": 0, "most": 60, "type": "text"}, "mix": {"needed": false, "least": 0, "most": 60, "type": "text"}, "batched": {"needed": false, "type": "moment"}, "left_plant": {"needed": false, "type": "moment"}, "strength_class": {"needed": false, "least": 0, "most": 20, "type": "text"}, "consistence_class": {"needed": false, "least": 0, "most": 20, "type": "text"}, "remark": {"needed": false, "least": 0, "most": 400, "type": "text"}}},
  "load-decided": {"schema": 1, "fields": {"ticket_number": {"needed": true, "least": 1, "most": 60, "type": "text"}, "decision": {"needed": true, "type": "choice", "choices": ["accept", "check-test", "refuse"]}, "rules_said": {"needed": false, "least": 0, "most": 400, "type": "text"}, "why": {"needed": false, "least": 0, "most": 400, "type": "text"}}},
  "load-left": {"schema": 1, "fields": {"ticket_number": {"needed": true, "least": 1, "most": 60, "type": "text"}, "returned_m3": {"needed": false, "least": 0, "most": 20, "type": "number"}}},
  "load-placed": {"schema": 1, "fields": {"ticket_number": {"needed": true, "least": 1, "most": 60, "type": "text"}, "place": {"needed": true, "least": 1, "most": 60, "type": "text"}, "cells": {"needed": false, "type": "numbers"}, "lattice": {"needed": false, "least": 0, "most": 64, "type": "text"}, "placed_from": {"needed": false, "type": "moment"}, "placed_until": {"needed": false, "type": "moment"}, "volume_m3": {"needed": false, "above": 0, "most": 20, "type": "number"}}},
  "load-tested": {"schema": 1, "fields": {"ticket_number": {"needed": true, "least": 1, "most": 60, "type": "text"}, "test": {"needed": true, "type": "choice", "choices": ["slump", "flow", "slump-flow", "air", "temperature"]}, "value": {"needed": true, "least": -20, "most": 1000, "type": "number"}, "portion": {"needed": false, "type": "choice", "choices": ["first", "check"]}}},
  "noted": {"schema": 1, "fields": {"text": {"needed": true, "least": 1, "most": 2000, "type": "text"}, "about": {"needed": false, "least": 0, "most": 60, "type": "text"}}},
  "photo-taken": {"schema": 1, "fields": {"sha256": {"needed": true, "least": 64, "most": 64, "type": "text"}, "size_bytes": {"needed": true, "least": 1, "most": 10000000, "type": "whole"}, "media_type": {"needed": true, "type": "choice", "choices": ["image/jpeg", "image/png", "image/webp"]}, "caption": {"needed": false, "least": 0, "most": 400, "type": "text"}, "about": {"needed": false, "least": 0, "most": 60, "type": "text"}}},
  "placing-ended": {"schema": 1, "fields": {"at_joint": {"needed": false, "least": 0, "most": 60, "type": "text"}, "surveyed_m3": {"needed": false, "above": 0, "most": 20000, "type": "number"}}},
  "placing-restarted": {"schema": 1, "fields": {"note": {"needed": false, "least": 0, "most": 400, "type": "text"}}},
  "placing-stopped": {"schema": 1, "fields": {"cause": {"needed": true, "type": "choice", "choices": ["no concrete", "pump", "blockage", "form", "rain", "wind", "accident", "break", "order of the site", "other"]}, "note": {"needed": false, "least": 0, "most": 400, "type": "text"}}},
  "remaining-measured": {"schema": 1, "fields": {"volume_m3": {"needed": true, "least": 0, "most": 20000, "type": "number"}, "spread_m3": {"needed": true, "least": 0, "most": 1000, "type": "number"}}},
  "saw-cut": {"schema": 1, "fields": {"place": {"needed": true, "least": 1, "most": 60, "type": "text"}, "depth_mm": {"needed": false, "above": 0, "most": 1000, "type": "number"}}},
  "specimens-made": {"schema": 1, "fields": {"sample_id": {"needed": true, "least": 1, "most": 60, "type": "text"}, "ticket_number": {"needed": true, "least": 1, "most": 60, "type": "text"}, "count": {"needed": true, "least": 1, "most": 50, "type": "whole"}, "note": {"needed": false, "least": 0, "most": 400, "type": "text"}}},
  "surface-worked": {"schema": 1, "fields": {"place": {"needed": true, "least": 1, "most": 60, "type": "text"}, "step": {"needed": true, "type": "choice", "choices": ["levelled", "floated", "trowelled", "hand finished", "covered", "misted"]}, "until": {"needed": false, "type": "moment"}}},
  "temperature-read": {"schema": 1, "fields": {"sensor": {"needed": true, "least": 1, "most": 60, "type": "text"}, "value_c": {"needed": true, "least": -300, "most": 2000, "type": "number"}}},
  "weather-observed": {"schema": 1, "fields": {"air_c": {"needed": false, "least": -60, "most": 120, "type": "number"}, "humidity_percent": {"needed": false, "least": 0, "most": 100, "type": "number"}, "wind_m_per_s": {"needed": false, "least": 0, "most": 60, "type": "number"}, "rain_mm_per_h": {"needed": false, "least": 0, "most": 300, "type": "number"}, "concrete_surface_c": {"needed": false, "least": -60, "most": 120, "type": "number"}}},
  "withdrawn": {"schema": 1, "fields": {}},
};
