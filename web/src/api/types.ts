/** What the daemon says, shaped as it says it. Units are the ends of the names. */

export interface Span {
  port_address: string;
  first_slot: number;
  last_slot: number;
}

export interface PanelInfo {
  position: string;
  kind: string;
  /** Name of the kind of its pixels, if the daemon says it. */
  pixel_kind: string;
  x_mm: number;
  y_mm: number;
  width_mm: number;
  height_mm: number;
  turn_deg: number;
  first_pixel: number;
  pixels: number;
  segments: number[];
  switches: number;
  run: number;
  node: string | null;
  port: number | null;
  /** Its serial; empty if the file gives none. */
  serial: string;
  spans: Span[];
  /** Where its slots lie at the console. */
  source_spans: Span[];
  feed: string;
  supply: string;
  circuit: string;
  idle_a: number;
  full_a: number;
  limit_a: number | null;
  /** Whether the file describes its strip. */
  strip_known: boolean;
}

export interface Floor {
  name: string;
  revision: number;
  width_mm: number;
  height_mm: number;
  grid: { columns: number; rows: number; panel_mm: [number, number]; gap_mm: number; empty: string[] };
  watch_only: boolean;
  /** The built-in demo: console, nodes and light are made up. */
  simulated: boolean;
  /** Whether a book of repairs is kept. */
  book: boolean;
  cap: { margin: number; let_up_s: number };
  signal: { merge: string; lost_after_s: number; when_lost: string; fade_s: number | null; when_ended: string };
  delivery: { copies: number; late_ms: number };
  panels: PanelInfo[];
  runs: { node: string | null; port: number | null; start: string; slot: number; straddle: boolean; panels: string[] }[];
  nodes: { name: string; address: string }[];
  circuits: { name: string; volts: number; rated_a: number; limit_a: number }[];
  supplies: {
    name: string;
    circuit: string;
    volts: number;
    rated_a: number;
    limit_a: number;
    efficiency: number;
    power_factor: number;
  }[];
  feeds: { name: string; supply: string; fuse_a: number; limit_a: number; cable_known: boolean }[];
  universes: { port_address: string; slots: number }[];
  pixel_kinds: { name: string; slots: string; volts: number; idle_ma: number; full_ma: Record<string, number> }[];
}

/** What can be wrong with a simulated joint, segment, panel or node; `none` mends it. */
export type JointFault =
  | "supply_open"
  | "supply_resistive"
  | "data_open"
  | "data_frozen"
  | "colour_open"
  | "link_open"
  | "loose"
  | "weak"
  | "stuck"
  | "node_restarts"
  | "none";

export interface BrokenJoint {
  position: string;
  /** The joint before this segment, or the segment itself, counted from 1. */
  segment: number;
  fault: JointFault;
  colour: string | null;
  /** Whether it is so at this moment. */
  acts: boolean;
}

export interface SimulationState {
  broken: BrokenJoint[];
  possible: JointFault[];
}

export type SignalWord = "waiting" | "live" | "partial" | "lost";

interface SourceState {
  address: string;
  physical: number;
  age_s: number;
  ignored: boolean;
}

export interface UniverseState {
  port_address: string;
  fps: number;
  age_s: number | null;
  sources: SourceState[];
  slots: number;
  mapped: boolean;
  merging: boolean;
  synced: boolean;
  lost: boolean;
  arrival: ArrivalState;
}

/** What a universe's slots and frames have done lately. */
export interface ArrivalState {
  needs_slots: number;
  short_by_slots: number;
  /** Panels that get nothing, or not all, because frames are too short; the first 16. */
  cut_off: string[];
  cut_off_panels: number;
  odd_length: boolean;
  length_varies: boolean;
  moving_slots: number;
  still_lit_slots: number;
  stray_lit_slots: number;
  /** Of the last minute; nothing while the numbers can't tell. */
  missing_frames: number | null;
  overtaken_frames: number;
  contested_slots: number;
  source_changes: number;
  offset_slots: number | null;
}

interface NodePort {
  direction: string;
  port_address: string;
  active: boolean;
  short_circuit: boolean;
}

export interface NodeState {
  name: string;
  address: string;
  online: boolean;
  last_reply_s: number | null;
  short_name: string;
  long_name: string;
  firmware: string;
  report: string;
  ports: NodePort[];
  sends: string[];
  not_listed: string[];
  frames_out: number;
  /** Frames that the system refused to send to it. */
  send_errors: number;
  last_send_error_s: number | null;
}

export interface Stranger {
  address: string;
  short_name: string;
  last_reply_s: number;
}

/** What the whole floor takes from the mains, in volt-amperes. */
export interface FloorLoadState {
  asked_va: number;
  draw_va: number;
  reserved_va: number;
  silent_va: number;
  idle_va: number;
  /** The lower of the file's and the live one. */
  limit_va: number | null;
  rated_va: number | null;
  live_limit_va: number | null;
  scale: number;
  impossible: boolean;
}

export interface LoadState {
  name: string;
  parent: string | null;
  asked_a: number;
  draw_a: number;
  reserved_a: number;
  /** The part of `reserved_a` that stays reserved for nodes that no longer answer. */
  silent_a: number;
  idle_a: number;
  limit_a: number;
  rated_a: number;
  scale: number;
  /** What each of its panels may draw beyond idle, while only those that ask for most are dimmed. */
  level_a: number | null;
  /** What it may carry above its limit for a short time; null if the file allows none. */
  peak: { extra_a: number; most_a: number; left_as: number; full_as: number } | null;
  /** Watts that the mains give for `draw_a`. */
  mains_w: number;
  impossible: boolean;
}

export interface PanelState {
  position: string;
  asked_a: number;
  draw_a: number;
  limit_a: number | null;
  scale: number;
  impossible: boolean;
  segments_a: number[];
  /** Switches that are known to be pressed, counted from 1. */
  pressed: number[];
  /** Whether all of its switches are known: it has some, and their node says something. */
  switches_known: boolean;
}

/** A universe of switches. */
export interface InputState {
  port_address: string;
  node: string;
  age_s: number | null;
  lost: boolean;
  switches: number;
  /** Beyond the end of its last frame. */
  cut_off: number;
}

/** Somebody stepped on a switch, or off it. */
export interface PressState {
  number: number;
  position: string;
  switch: number;
  down: boolean;
  at_s: number;
}

export type Severity = "danger" | "warning" | "info";

/** An alarm that is raised. */
export interface AlarmState {
  code: string;
  severity: Severity;
  text: string;
  /** `circuit:NAME`, `supply:NAME` or `feed:NAME`. */
  element: string;
  since_s: number;
}

export interface Notice {
  code: string;
  severity: Severity;
  text: string;
}

/** A test pattern that is shown in place of the console's picture. */
export interface PatternState {
  kind: string;
  /** For people: `Panel C4 alone, white at 50 %`. */
  what: string;
  /** The first 16 panels that it lights now. */
  lit: string[];
  lit_panels: number;
  covered_panels: number;
  covers_all: boolean;
  /** From 0; null if it has no steps. */
  step: number | null;
  steps: number | null;
  held: boolean;
  ends_with_owner: boolean;
  /** More than zero while it is held back, lest many orders make the floor flash. */
  starts_in_s: number;
  since_s: number;
  ends_in_s: number;
}

/** What the one who asks may do. */
export interface Rights {
  may_control: boolean;
  passphrase_set: boolean;
  from_this_machine: boolean;
  /** This address is for guests, who may only look. */
  guest: boolean;
  /** The connection is encrypted. */
  encrypted: boolean;
}

/** The floor file, and what came of reading it again. */
export interface FileState {
  name: string;
  taken_s: number;
  /** Universes that the file left out, being made dark. */
  made_dark: string[];
  /** Why it was not taken when it was read last. */
  refusal: { at_s: number; count: number; faults: FileFault[] } | null;
}

export interface FileFault {
  file: string;
  line: number | null;
  column: number | null;
  code: string;
  message: string;
  help: string;
}

/** Whether a sensor can be believed. */
export type SensorWord = "waiting" | "good" | "silent" | "frozen" | "absurd" | "apart_above" | "apart_below";

export interface SensorState {
  name: string;
  /** Where it sits, such as `supply main`. */
  place: string;
  quantity: "current" | "voltage";
  state: SensorWord;
  /** Amperes or volts. */
  measured: number | null;
  computed: number | null;
  /** The same by its calibration, if it has one. */
  expected: number | null;
  difference_percent: number | null;
  tolerance_percent: number;
  age_s: number | null;
  live_limit_a: number | null;
  /** Whether more was measured than expected, and the cap goes by that. */
  stricter: boolean;
  calibration: { idle_a: number; gains: Record<string, number>; residual_a: number; above_a: number } | null;
}

export interface CalibrationState {
  running: boolean;
  /** Counted from 0. */
  step: number;
  steps: number;
  ends_in_s: number;
  ended: number;
  outcomes: { sensor: string; refused: string | null }[];
}

export type StandbyDuty = "listens" | "leads" | "stands_by" | "ended";

export interface StandbyState {
  role: "first" | "second";
  duty: StandbyDuty;
  since_s: number;
  taken: number;
  peer: string;
  peer_duty: StandbyDuty | null;
  peer_heard_s: number | null;
  same_file: boolean | null;
  peer_hears_picture: boolean | null;
  deaf: boolean;
}

export interface State {
  revision: number;
  file: FileState;
  uptime_s: number;
  /** Where Art-Net is listened to, `address:port`. */
  artnet: string;
  signal: SignalWord;
  frames_in: number;
  frames_out: number;
  frames_refused: Record<string, number>;
  datagrams: Record<string, number>;
  universes: UniverseState[];
  nodes: NodeState[];
  strangers: Stranger[];
  floor: FloorLoadState;
  circuits: LoadState[];
  supplies: LoadState[];
  feeds: LoadState[];
  panels: PanelState[];
  inputs: InputState[];
  /** Of the last second. */
  presses: PressState[];
  sensors: SensorState[];
  calibration: CalibrationState;
  pattern: PatternState | null;
  /** Counts up whenever a survey has something new: `/api/v1/survey` says what. */
  survey: number;
  /** Counts up whenever what is known of faults changes: `/api/v1/faults` says what. */
  health_version: number;
  /** The other litfloor that stands by, or for which this one does. */
  standby: StandbyState | null;
  alarms: AlarmState[];
  notices: Notice[];
}

export type LoadGroup = "circuits" | "supplies" | "feeds";
export const LOAD_GROUPS: readonly LoadGroup[] = ["circuits", "supplies", "feeds"];

type Rows = Partial<Record<LoadGroup, number[][]>>;

/** `GET /api/v1/history`: one row a second; every list is `[element][row]`. */
export interface HistoryReply {
  step_s: number;
  names: Record<LoadGroup, string[]>;
  uptime_s: number[];
  asked_a: Rows;
  draw_a: Rows;
}

export type ElementKind = "floor" | "circuit" | "supply" | "feed";

/** How the daemon's recording of the history goes. */
export interface RecordingState {
  in_file: boolean;
  trouble: string | null;
  lost_rows: number;
}

/** What one element drew in some time. */
export interface TotalState {
  seconds: number;
  peak_a: number;
  peak_asked_a: number;
  mean_a: number | null;
  amp_hours: number;
  kwh: number;
  capped_s: number;
  over_s: number;
}

type Values = (number | null)[];

/** `GET /api/v1/history` with a range: one value a bucket, null where nothing was recorded. */
export interface RangeReply {
  from_s: number;
  bucket_s: number;
  row_s: number;
  count: number;
  elements: {
    kind: ElementKind;
    name: string;
    asked_mean_a: Values;
    asked_max_a: Values;
    draw_min_a: Values;
    draw_mean_a: Values;
    draw_max_a: Values;
    limit_a: Values;
    scale_min: Values;
    mains_mean_w: Values;
    total: TotalState;
  }[];
  recording: RecordingState;
}

/** `GET /api/v1/energy`: totals since the daemon was started. */
export interface EnergyReply {
  since: string;
  until_s: number;
  elements: { kind: ElementKind; name: string; peak_at: string; total: TotalState }[];
  recording: RecordingState;
}

/** Colours that test patterns light in. */
export type LightColour = "white" | "red" | "green" | "blue" | "yellow" | "cyan" | "magenta";

/** A pixel that lights, in millimetres from the floor's upper left corner. */
export interface DrawnPixel {
  position: string;
  x_mm: number;
  y_mm: number;
  colour: LightColour;
}

/** What the floor may look like: everything that lights. */
export interface Drawing {
  lights: DrawnPixel[];
}

/** What is asked about the light of the stepping mode. */
export interface Question {
  number: number;
  /** `look`: which drawing; `tap`: which pixel; `colour`: in which colour. */
  ask: "look" | "tap" | "colour";
  text: string;
  drawings: Drawing[];
  near: string | null;
}

export interface Difference {
  what: string;
  text: string;
  positions: string[];
  run: number | null;
  evidence: string[];
}

/** Difference between plan and floor, as far as it is known. */
export interface Report {
  differences: Difference[];
  otherwise: string[];
  cautions: string[];
}

/** A walk across the floor. */
export interface Walk {
  /** Revision of the floor that it was begun on. */
  revision: number;
  /** The floor was replaced since. */
  outdated: boolean;
  question: Question | null;
  /** Whether the light of the question is shown now. */
  lit: boolean;
  colours: LightColour[];
  answers: number;
  progress: { done: number; panels: number; taps: number };
  report: Report;
}

export interface Stepping {
  walk: Walk | null;
}

/** What was tapped. */
export type StepAnswer =
  | { kind: "drawing"; drawing: number }
  | { kind: "panel"; position: string }
  | { kind: "nothing" }
  | { kind: "point"; position: string; x_mm: number; y_mm: number }
  | { kind: "colour"; colour: LightColour };

/** The corrected floor file, for review. */
export interface Corrected {
  name: string;
  text: string;
  diff: string;
}

/** Voltages computed from cables and strips, in the order of the floor's panels and feeds. */
export interface Voltages {
  revision: number;
  uptime_s: number;
  took_ms: number;
  /** Whether all were found; no figure is to be trusted if not. */
  found: boolean;
  off_mv: number;
  panels: {
    input_v: number[];
    lowest_v: number[];
    lowest_pixel: number[];
    /** Of the light; nothing if the panel is dark. */
    lost_percent: (number | null)[];
    draw_a: number[];
  };
  feeds: { name: string; draw_a: number; lowest_v: number; cables_w: number; strips_w: number }[];
  supplies_a: number[];
  circuits_a: number[];
  /** Worst first, the first 16. */
  starving: {
    position: string;
    feed: string;
    input_v: number;
    lowest_v: number;
    lowest_pixel: number;
    lost_percent: number;
  }[];
  starving_panels: number;
}
