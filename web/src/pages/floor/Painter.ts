/** Keeps the three canvases of the plan; each is drawn again only when something on it changed. */
import type { LevelsMessage } from "../../api/decode";
import type { PanelInfo } from "../../api/types";
import { percent } from "../../lib/format";
import {
  dotSize,
  fit,
  hitTest,
  hold,
  type Offsets,
  pitchGroups,
  type PitchGroup,
  pixelOffsets,
  type Viewport,
  zoomAt,
} from "../../lib/geometry";
import { mixInto, screenValue } from "../../lib/light";
import { mixesOf } from "../../lib/pixels";
import { paint, type Stamp, stamp } from "../../lib/stamp";
import type { Layout } from "../../store";
import { drawBase } from "./drawBase";
import { drawMarks, type Marks } from "./drawMarks";

interface Layers {
  stage: HTMLElement;
  base: HTMLCanvasElement;
  pixels: HTMLCanvasElement;
  marks: HTMLCanvasElement;
}

/** Room for the letters and numbers of columns and rows, in CSS pixels. */
const MARGIN_PX = 26;
const LARGEST_PITCH_PX = 90;

export class Painter {
  readonly #groups: PitchGroup[];
  readonly #pitch_mm: number;
  #width = 0;
  #height = 0;
  #ratio = 1;
  #vp: Viewport = { scale: 1, tx: 0, ty: 0 };
  #home: Viewport = this.#vp;
  #image: ImageData | null = null;
  #words = new Uint32Array();
  #pad = 0;
  #dots: { offsets: Offsets; dot: Stamp }[] = [];
  /** Screen colours of all pixels: r, g, b, r, … */
  readonly #screen: Uint8Array;
  readonly #mixes: Uint8Array;
  #marks: Marks = { labels: true, selected: null, panels: [], silent: new Set(), starving: new Set() };
  #markKey = "";
  #dirty = { base: true, pixels: true, marks: true };
  #request: number | null = null;

  constructor(
    private readonly layers: Layers,
    private readonly layout: Layout,
  ) {
    this.#groups = pitchGroups(layout.xyMm, layout.floor.panels);
    this.#pitch_mm = Math.min(50, ...this.#groups.map((group) => group.pitch_mm));
    const pixels = layout.xyMm.length / 2;
    this.#mixes = mixesOf(layout.floor, pixels);
    this.#screen = new Uint8Array(pixels * 3).fill(screenValue(0));
    this.resize();
  }

  stop(): void {
    if (this.#request !== null) cancelAnimationFrame(this.#request);
    this.#request = null;
  }

  resize(): void {
    const box = this.layers.stage;
    const ratio = Math.min(window.devicePixelRatio || 1, 3);
    const width = Math.round(box.clientWidth * ratio);
    const height = Math.round(box.clientHeight * ratio);
    if (width < 1 || height < 1 || (width === this.#width && height === this.#height)) return;
    const wasHome = this.#width === 0 || this.#vp.scale === this.#home.scale;
    this.#width = width;
    this.#height = height;
    this.#ratio = ratio;
    for (const canvas of [this.layers.base, this.layers.pixels, this.layers.marks]) {
      canvas.width = width;
      canvas.height = height;
    }
    this.#home = fit(this.layout.floor, width, height, MARGIN_PX * ratio);
    this.#move(wasHome ? this.#home : this.#vp);
  }

  fit(): void {
    this.#move(this.#home);
  }

  pan(dx: number, dy: number): void {
    if (!this.#zoomed()) return;
    const r = this.#ratio;
    this.#move({ scale: this.#vp.scale, tx: this.#vp.tx + dx * r, ty: this.#vp.ty + dy * r });
  }

  zoom(factor: number, x: number, y: number): void {
    const r = this.#ratio;
    const most = Math.max(this.#home.scale, (LARGEST_PITCH_PX * r) / this.#pitch_mm);
    const next = zoomAt(this.#vp, factor, x * r, y * r, this.#home.scale, most);
    this.#move(next.scale <= this.#home.scale ? this.#home : next);
  }

  panelAt(x: number, y: number): PanelInfo | undefined {
    const r = this.#ratio;
    const { scale, tx, ty } = this.#vp;
    return this.layout.floor.panels[hitTest(this.layout.floor.panels, (x * r - tx) / scale, (y * r - ty) / scale)];
  }

  /** Moves the plan so that a panel is in sight. */
  reveal(position: string): void {
    const panel = this.layout.floor.panels.find((p) => p.position === position);
    if (!panel || !this.#zoomed()) return;
    const { scale, tx, ty } = this.#vp;
    const x = (panel.x_mm + panel.width_mm / 2) * scale + tx;
    const y = (panel.y_mm + panel.height_mm / 2) * scale + ty;
    const inside = x > 0 && y > 0 && x < this.#width && y < this.#height;
    if (!inside) this.#move({ scale, tx: tx + this.#width / 2 - x, ty: ty + this.#height / 2 - y });
  }

  /** Shows a picture; nothing is a dark floor. */
  show(picture: LevelsMessage | null): void {
    if (picture) mixInto(this.#screen, picture.levels, picture.channels, this.#mixes);
    else this.#screen.fill(screenValue(0));
    this.#dirty.pixels = true;
    this.#later();
  }

  mark(marks: Marks): void {
    const key = `${marks.labels} ${marks.selected} ${marks.panels.map((p) => percent(p.scale) + (p.pressed.length > 0 ? " pressed" : "")).join()} ${[...marks.silent].join()} ${[...marks.starving].join()}`;
    if (key === this.#markKey) return;
    this.#markKey = key;
    this.#marks = marks;
    this.#dirty.marks = true;
    this.#later();
  }

  #zoomed(): boolean {
    return this.#vp.scale > this.#home.scale;
  }

  #move(vp: Viewport): void {
    this.#vp = vp === this.#home ? vp : hold(vp, this.layout.floor, this.#width, this.#height);
    const sizes = this.#groups.map((group) => dotSize(group.pitch_mm, vp.scale));
    this.#pad = Math.max(1, ...sizes);
    const stride = this.#width + 2 * this.#pad;
    const rows = this.#height + 2 * this.#pad;
    this.#dots = this.#groups.map(({ pixels }, i) => {
      const size = sizes[i] ?? 1;
      const { xyMm } = this.layout;
      return {
        dot: stamp(size, stride),
        offsets: pixelOffsets(xyMm, pixels, this.#vp, this.#width, this.#height, size, this.#pad),
      };
    });
    if (this.#image?.width !== stride || this.#image.height !== rows) {
      this.#image = new ImageData(stride, rows);
      this.#words = new Uint32Array(this.#image.data.buffer);
    } else {
      this.#words.fill(0);
    }
    const { stage } = this.layers;
    stage.dataset["zoomed"] = String(this.#zoomed());
    stage.dataset["viewport"] = `${this.#vp.scale} ${this.#vp.tx} ${this.#vp.ty}`;
    this.#dirty = { base: true, pixels: true, marks: true };
    this.#later();
  }

  #later(): void {
    this.#request ??= requestAnimationFrame(() => {
      this.#request = null;
      this.#draw();
    });
  }

  #draw(): void {
    if (!this.#image) return;
    const dirty = this.#dirty;
    this.#dirty = { base: false, pixels: false, marks: false };
    const where = { vp: this.#vp, width: this.#width, height: this.#height, ratio: this.#ratio };
    const styles = getComputedStyle(this.layers.stage);
    if (dirty.base) drawBase(this.layers.base, this.layout.floor, where, styles);
    if (dirty.pixels) {
      for (const { offsets, dot } of this.#dots) {
        paint(this.#words, this.#screen, offsets.pixel, offsets.at, dot);
      }
      this.layers.pixels.getContext("2d")?.putImageData(this.#image, -this.#pad, -this.#pad);
    }
    if (dirty.marks) drawMarks(this.layers.marks, this.layout.floor, where, this.#marks, styles);
  }
}
