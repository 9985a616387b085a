/** A half-entered load: kept at each touch, so that whoever is called away finds it as it was left. */

export interface LoadDraft {
  ticket: string;
  volume: number | null;
  mix: string;
  truck: string;
  plant: string;
  batched: string;
  leftPlant: string;
  remark: string;
  slump: number | null;
  temperature: number | null;
  air: number | null;
  water: number | null;
  admixture: number | null;
  agreedBy: string;
  place: string;
  sample: string;
  specimens: number | null;
  returned: number | null;
}

export function emptyDraft(): LoadDraft {
  return {
    ticket: "",
    volume: null,
    mix: "",
    truck: "",
    plant: "",
    batched: "",
    leftPlant: "",
    remark: "",
    slump: null,
    temperature: null,
    air: null,
    water: null,
    admixture: null,
    agreedBy: "",
    place: "",
    sample: "",
    specimens: null,
    returned: null,
  };
}

export function draftKey(pour: string, ticket: string): string {
  return `load:${pour}:${ticket}`;
}
